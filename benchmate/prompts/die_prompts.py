"""Ask at the terminal for what was found on a die."""

import argparse
from collections.abc import Callable

from benchmate.shop.parts import Die
from benchmate.shop.tooling_tables import groove_problem
from benchmate.units import LengthUnit, length_mm

STATIONS = ("at the start of bend", "in the middle of the arc", "at the end of the arc")


def ask_inspection(
    args: argparse.Namespace, die: Die, unit: LengthUnit, ask: Callable[[str], str] = input
) -> None:
    """Fill in what an inspection found; an empty answer leaves a question out."""
    args.groove = [
        reading
        for station in STATIONS
        if (reading := _groove(ask, f"groove's width {station} [{unit}]: ", die, unit))
    ]
    count = sum(each.count for each in die.bolts)
    if count:
        moved = _number(ask, f"bolts tightened anew: how many of {count} had let go? ", count)
        args.torqued, args.moved = moved is not None, moved
    cracks = ask("cracks, and where ('none' where you looked and saw none): ").strip()
    args.cracks = cracks or None
    args.photo = ask("name of a photo's file: ").strip() or None
    args.note = ask("a line to keep with it: ").strip()


def _groove(ask: Callable[[str], str], question: str, die: Die, unit: LengthUnit) -> str:
    while answer := ask(question).strip():
        try:
            problem = groove_problem(length_mm(answer, unit), die.for_od_mm)
        except ValueError as error:
            problem = str(error)
        if problem is None:
            return answer
        ask(f"  {problem}; press Enter and measure again ")
    return ""


def _number(ask: Callable[[str], str], question: str, most: int) -> int | None:
    while answer := ask(question).strip():
        if answer.isdecimal() and int(answer) <= most:
            return int(answer)
        ask(f"  write a number from 0 to {most}; press Enter ")
    return None
