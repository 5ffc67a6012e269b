"""What a person measured, or took back, said as the screen asks for it: with units and what was."""

import re

from benchmate.errors import Refusal
from benchmate.screen.state.shown_bend import ShownBend
from benchmate.screen.words.amounts import shown_deg, turn_words
from benchmate.stream import Command, read_command
from benchmate.units import LengthUnit, show_length

_TAKEN_BACK = re.compile(r"Taken back: ([^;]+);(.*)", re.DOTALL)
_STEPS = {"next": "the last Enter", "again": "press again", "skip": "the skip"}


def entry_words(taken: str, seen: ShownBend | None, unit: LengthUnit) -> str:
    """Say what was taken down and what it takes the place of; ``taken`` is a command, as written.

    What is no command is said as it stands.
    """
    command = _command(taken)
    match command:
        case Command("measured", (angle,)):
            return f"Measured {shown_deg(angle)}\u00b0."
        case Command("marked", (mark,)):
            before = None if seen is None else seen.mark if seen.marked is None else seen.marked
            was = "" if before is None else f" (was {show_length(before, unit)})"
            return f"Mark taken as {show_length(mark, unit)}{was}."
        case Command("turned", (turn,)):
            before = None if seen is None else seen.turn if seen.turned is None else seen.turned
            was = "" if before is None else f" (was {_turn(before)})"
            return f"Turn taken as {_turn(turn)}{was}."
        case _:
            return taken


def with_entry(seen: ShownBend, taken: str) -> ShownBend:
    """Give what is known of the bend with a mark or turn that was taken down."""
    match _command(taken):
        case Command("marked", (mark,)):
            return seen.placed(marked=mark)
        case Command("turned", (turn,)):
            return seen.placed(turned=turn)
        case _:
            return seen


def undone_words(undone: str, unit: LengthUnit) -> str:
    """Say what was taken back, in the words of the screen where the bench names a command."""
    found = _TAKEN_BACK.fullmatch(undone)
    if found is None:
        return undone
    return f"Taken back: {_step(found[1], unit)};{found[2]}"


def _step(step: str, unit: LengthUnit) -> str:
    match _command(step):
        case Command("measured", (angle,)):
            return f"measured {shown_deg(angle)}\u00b0"
        case Command("marked", (mark,)):
            return f"mark {show_length(mark, unit)}"
        case Command("turned", (turn,)):
            return f"turn {_turn(turn)}"
        case _:
            return _STEPS.get(step, step)


def _turn(turn_deg: float) -> str:
    return turn_words(turn_deg).removeprefix("turn ")


def _command(line: str) -> Command | None:
    try:
        return read_command(line)
    except Refusal:
        return None
