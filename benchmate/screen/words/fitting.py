"""What there is to tell, in whole sentences: in its rows, and aside where they are too few."""

import re
import textwrap
from functools import lru_cache
from typing import NamedTuple

from benchmate.screen.state.bench_state import BenchState
from benchmate.screen.words.ink import Ink, Line
from benchmate.screen.words.sentences import arm_words, brief, place_words, told
from benchmate.stream import Say

MORE = " ... (?)"
"""After a sentence that goes on: the help page, behind that key, tells all of it."""
_SENTENCE_END = re.compile(r"(?<=[.!?]) ")
_VERDICT_INKS: dict[Say, Ink] = {"accept": "good", "again": "act", "over": "bad", "measure": "act"}


class Told(NamedTuple):
    """What is to be said: its ink, the rows that fit, and the sentences that don't."""

    ink: Ink
    rows: tuple[str, ...]
    rest: str


def fitted(state: BenchState, width: int, height: int, *, aside: bool) -> Told:
    """Share what is to be told out over so many rows and the rest.

    With a panel ``aside`` whole sentences go there; without one the rows end in dots, and the
    bend's mark and turn, which stand nowhere else then, come first while the tube is put in.
    """
    text = told(state)
    if not aside and state.phase == "zeroing" and state.verdict is None and state.link == "up":
        text = f"{place_words(state)} {text}".strip()
    elif aside:
        text = f"{text} {arm_words(state)}".strip()
    rows, rest = _shared(text, max(width - 2, 8), height)
    if rest and not aside:
        rows, rest = _cut(brief(state) or text, max(width - 2, 8), height), ""
    return Told(_ink(state), rows, rest)


def told_lines(what: Told) -> list[Line]:
    """Give the rows as lines."""
    return [((f" {row}", what.ink),) for row in what.rows]


def rest_lines(what: Told, width: int, height: int) -> list[Line]:
    """Give the sentences that didn't fit, for the side."""
    rows = textwrap.wrap(what.rest, max(width - 1, 8), break_on_hyphens=False)
    if len(rows) > height > 0:
        rows = [*rows[: height - 1], MORE.strip()]
    return [((row, what.ink),) for row in rows]


@lru_cache(maxsize=8)
def _shared(text: str, room: int, height: int) -> tuple[tuple[str, ...], str]:
    """Give the rows and the rest; the same sentences are drawn 30 times a second."""
    sentences = _SENTENCE_END.split(text)
    for count in range(len(sentences), 0, -1):
        rows = tuple(textwrap.wrap(" ".join(sentences[:count]), room, break_on_hyphens=False))
        if len(rows) <= height:
            return rows, " ".join(sentences[count:])
    return (), text


def _cut(text: str, room: int, height: int) -> tuple[str, ...]:
    """Give what fits of it, at a word's end, with a sign that there is more."""
    rows = textwrap.wrap(text, room, break_on_hyphens=False)
    if len(rows) <= height:
        return tuple(rows)
    kept = rows[:height]
    while kept and len(kept[-1]) + len(MORE) > room and " " in kept[-1]:
        kept[-1] = kept[-1].rpartition(" ")[0]
    return (*kept[:-1], kept[-1] + MORE) if kept else ()


def _ink(state: BenchState) -> Ink:
    if state.link in {"again", "lost"} or state.faults or state.notice or state.unzeroed_deg:
        return "attend"
    if state.reading is not None and state.reading.advice:
        return "attend"
    return _VERDICT_INKS[state.verdict.say] if state.verdict is not None else "plain"
