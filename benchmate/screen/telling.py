"""What there is to tell, in whole sentences: in its rows, and aside where they are too few."""

import re
import textwrap
from functools import lru_cache
from typing import NamedTuple

from benchmate.screen.amounts import turn_words
from benchmate.screen.ink import Ink, Line
from benchmate.screen.snapshot import BenchState
from benchmate.screen.words import arm_doubt_words, told
from benchmate.stream import Say
from benchmate.units import show_on_tape

TIMES_A_SECOND = 6
"""Changes of a flashing lamp: three flashes a second."""
FAULT = "FAULT"
MORE = " ... (?)"
"""After a sentence that goes on: the help page, behind that key, tells all of it."""
_SENTENCE_END = re.compile(r"(?<=[.!?]) ")
_VERDICT_INKS: dict[Say, Ink] = {"accept": "good", "again": "act", "over": "bad", "measure": "act"}


class Said(NamedTuple):
    """The line that matters most: its ink, the rows that fit, and the sentences that don't."""

    ink: Ink
    rows: tuple[str, ...]
    rest: str
    fault: bool


def said(state: BenchState, width: int, height: int, *, narrow: bool = False) -> Said:
    """Share what is to be told out over so many rows and the rest.

    With ``narrow``, where the bend's mark and turn stand nowhere else, they come first while the
    tube is being put in.
    """
    fault = state.link in {"again", "lost"} or bool(state.faults)
    text = f"{FAULT} {told(state)}" if fault else told(state)
    if narrow and not fault and state.phase == "zeroing" and state.verdict is None:
        text = f"{place_words(state)} {text}".strip()
    elif not narrow:
        # On a narrow terminal what is to be done needs the room.
        text = f"{text} {arm_doubt_words(state)}".strip()
    rows, rest = _shared(text, max(width - 2, 8), height)
    return Said(_ink(state, fault=fault), rows, rest, fault)


@lru_cache(maxsize=8)
def _shared(text: str, room: int, height: int) -> tuple[tuple[str, ...], str]:
    """Give the rows and the rest; the same sentences are drawn 30 times a second."""
    sentences = _SENTENCE_END.split(text)
    for count in range(len(sentences), 0, -1):
        rows = tuple(textwrap.wrap(" ".join(sentences[:count]), room)) or ("",)
        if len(rows) <= height:
            return rows, " ".join(sentences[count:])
    words = textwrap.wrap(text, room)
    return tuple(words[:height]), " ".join(words[height:])


def told_lines(
    state: BenchState,
    now: float,
    width: int,
    height: int,
    *,
    rest_elsewhere: bool = False,
    narrow: bool = False,
) -> list[Line]:
    """Give the rows under the numbers; a rest that stands nowhere else is told by dots."""
    what = said(state, width, height, narrow=narrow)
    rows = list(what.rows)
    if what.rest and not rest_elsewhere:
        rows = textwrap.wrap(" ".join((*rows, what.rest)), max(width - 2, 8))[:height]
        rows[-1:] = [rows[-1][: max(width - 1 - len(MORE), 0)] + MORE] if rows else []
    lines: list[Line] = [((" " + row, what.ink),) for row in rows[:height]]
    if what.fault and lines:
        flash: Ink = "attend" if int(now * TIMES_A_SECOND) % 2 else "mark"
        lines[0] = ((" ", "plain"), (FAULT, flash), (rows[0][len(FAULT) :], what.ink))
    return lines


def place_words(state: BenchState) -> str:
    """Give mark and turn of the bend in a sentence; "" for one that belongs to no part."""
    target = state.target
    if target is None or target.mark is None:
        return ""
    mark = f"Mark {show_on_tape(target.mark, state.unit)}"
    return f"{mark}, {turn_words(target.turn or 0.0)}."


def rest_lines(what: Said, width: int, height: int) -> list[Line]:
    """Give the sentences that didn't fit, for the side panel."""
    rows = textwrap.wrap(what.rest, max(width - 1, 8))
    if len(rows) > height > 0:
        rows = [*rows[: height - 1], MORE.strip()]
    return [((row, what.ink),) for row in rows]


def _ink(state: BenchState, *, fault: bool) -> Ink:
    if fault or state.notice or (state.reading is not None and state.reading.advice):
        return "attend"
    return _VERDICT_INKS[state.verdict.say] if state.verdict is not None else "plain"
