"""A chip as a person names it on the command line."""

import argparse
from typing import NamedTuple, get_args

from benchmate.shop.parts import ChipKind

HIGHEST_ADDRESS = 0x77


class Named(NamedTuple):
    """A chip, and its address where it isn't the usual one."""

    chip: ChipKind
    address: int | None

    def __str__(self) -> str:
        """Give it as it is written there."""
        return self.chip if self.address is None else f"{self.chip}@0x{self.address:02x}"


def named_chip(text: str) -> Named:
    """Read CHIP or CHIP@ADDRESS; ArgumentTypeError says what would be right."""
    word, at, address = text.partition("@")
    for chip in get_args(ChipKind):
        if word.lower() == chip:
            return Named(chip, _address(address) if at else None)
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
