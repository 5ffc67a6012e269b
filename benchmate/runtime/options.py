"""Values of options as people write them, for ``argparse``'s ``type``."""

import argparse
from typing import NamedTuple, get_args

from benchmate.shop.parts import ChipKind
from benchmate.units import angle_deg

HIGHEST_ADDRESS = 0x77


class ChipOption(NamedTuple):
    """A chip, and its address where it isn't the usual one."""

    chip: ChipKind
    address: int | None

    def __str__(self) -> str:
        """Give it as it is written there."""
        return self.chip if self.address is None else f"{self.chip}@0x{self.address:02x}"


def chip_option(text: str) -> ChipOption:
    """Read CHIP or CHIP@ADDRESS; ArgumentTypeError says what would be right."""
    word, at, address = text.partition("@")
    for chip in get_args(ChipKind):
        if word.lower() == chip:
            return ChipOption(chip, _address(address) if at else None)
    chips = ", ".join(get_args(ChipKind))
    raise argparse.ArgumentTypeError(f"{word!r} is no chip: write one of {chips}, as in adxl355")


def _address(text: str) -> int:
    try:
        address = int(text, 0)
    except ValueError:
        address = -1
    if not 0x08 <= address <= HIGHEST_ADDRESS:
        raise argparse.ArgumentTypeError(
            f"{text!r} is no address of a chip: write it after @, as in lsm6dso@0x6b"
        )
    return address


def degrees(written: str) -> float:
    """Read "90", "90 deg" or "90deg"; what is no angle is told with what would be right."""
    try:
        return angle_deg(written)
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from error
