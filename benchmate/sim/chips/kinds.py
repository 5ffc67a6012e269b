"""The chips by their names."""

from typing import NamedTuple, Protocol

from benchmate.shop.parts import ChipKind
from benchmate.sim.chips.adxl345 import Adxl345
from benchmate.sim.chips.adxl355 import Adxl355
from benchmate.sim.chips.as5600 import As5600
from benchmate.sim.chips.chip import Chip, Feel
from benchmate.sim.chips.lsm6dso import Lsm6dso


class _Make(Protocol):
    def __call__(self, feel: Feel, t: float, seed: int) -> Chip: ...


class ChipModel(NamedTuple):
    """How to make a chip, powered up before the time t [s], and where it answers by itself."""

    make: _Make
    usual_address: int


KINDS: dict[ChipKind, ChipModel] = {
    "lsm6dso": ChipModel(Lsm6dso, 0x6A),
    "lsm6dsox": ChipModel(Lsm6dso, 0x6A),
    "adxl345": ChipModel(Adxl345, 0x53),
    "adxl355": ChipModel(Adxl355, 0x1D),
    "as5600": ChipModel(As5600, 0x36),
}
