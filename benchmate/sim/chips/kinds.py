"""The chips by their names."""

from benchmate.shop.parts import ChipKind
from benchmate.sim.chips.chip import Chip, Feel
from benchmate.sim.chips.lsm6dso import Lsm6dso

_CHIPS = {
    "lsm6dso": (Lsm6dso, 0x6A),
    "lsm6dsox": (Lsm6dso, 0x6A),
}


def make_chip(kind: ChipKind, feel: Feel, t: float, seed: int) -> Chip:
    """Make the chip, powered up a second before the time t [s], its flaws drawn by the seed."""
    return _CHIPS[kind][0](feel, t, seed)


def usual_address(kind: ChipKind) -> int:
    """Give the address at which the chip answers when no pin says otherwise."""
    return _CHIPS[kind][1]
