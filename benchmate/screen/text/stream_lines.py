"""The stream as lines of text, for when there is no terminal to draw on."""

import textwrap
from functools import singledispatch

from benchmate.screen.state.bench_state import SAID, BenchState
from benchmate.screen.text import outcome
from benchmate.screen.words.alignment import figures, good_to
from benchmate.screen.words.amounts import give_or_take, shown_deg, turn_seen_words
from benchmate.screen.words.cues import CAUTIONS, CUE_WORDS, PHASE_WORDS
from benchmate.screen.words.sentences import DETAIL, seat_words, tube_words
from benchmate.stream import (
    Aligned,
    Cleared,
    Done,
    Event,
    Fault,
    Logged,
    Peak,
    Phase,
    Reading,
    Rest,
    Target,
    Verdict,
)
from benchmate.units import LengthUnit, show_on_tape
from benchmate.wording import printable

COLUMNS = 78
"""Of the cautions: for a terminal of 80, and for paper."""
_UNDER_WAY: tuple[Phase, ...] = ("ready", "bending", "holding")
"""Within these only a change of cue is news: the arm stands still at each stroke's end."""
_TOLD: tuple[Phase, ...] = ("releasing", "resting", "logged")
"""Peak, rest, verdict and logged have told these."""


class Teller:
    """Turns events into text; of readings only what changes the person's doing is worth a line."""

    def __init__(self, unit: LengthUnit = "mm") -> None:
        """Tell lengths in that unit."""
        self._unit = unit
        self._last: tuple[str, str] | None = None
        self._advice = ""
        self._cautioned = False
        self._target: Target | None = None

    def tell(self, event: Event) -> str | None:
        """Give the event as a line of text, or a few; None when it says nothing new.

        The cautions come once, with the first target.
        """
        match event:
            case Reading():
                return self._reading(event)
            case Target():
                self._target = event
                cautions = [] if self._cautioned else caution_rows()
                self._cautioned = True
                return "\n".join([*cautions, *_target(event, self._unit)])
            case _:
                return _told(event)

    def _reading(self, reading: Reading) -> str | None:
        said = (self._advised(reading.advice), self._doing(reading))
        return "\n".join(filter(None, said)) or None

    def _advised(self, advice: str) -> str | None:
        before, self._advice = self._advice, advice
        return f"  {printable(advice, DETAIL)}" if advice and advice != before else None

    def _doing(self, reading: Reading) -> str | None:
        doing = "under way" if reading.phase in _UNDER_WAY else reading.phase
        now = ("no angle" if reading.arm is None else doing, reading.cue)
        if now == self._last:
            return None
        self._last = now
        if reading.arm is None:
            return f"  {reading.phase}: no angle; wait"
        if reading.phase == "zeroing":
            return f"  zeroing: {seat_words(self._target) or PHASE_WORDS['zeroing']}"
        if reading.phase in _TOLD:
            return None
        to_go = "" if reading.to_go is None else f", {shown_deg(reading.to_go)} to go"
        return f"  {reading.phase}: arm {shown_deg(reading.arm)}{to_go}: {CUE_WORDS[reading.cue]}"


def caution_rows() -> list[str]:
    """Give the cautions as they stand before the first bend."""
    return textwrap.wrap(" ".join(CAUTIONS[:3]), COLUMNS)


def summary(state: BenchState) -> str:
    """Give the job's end: a line a bend, then the totals."""
    rows = (row for row, _ in outcome.rows(state))
    return "\n".join([outcome.HEAD, *rows, *outcome.totals(state)])


def _target(target: Target, unit: LengthUnit) -> list[str]:
    lines = [f"  {printable(target.undone, DETAIL)}"] if target.undone else []
    further = target.bend == 1 and target.tube + target.scrapped > 1
    if target.bend == 1 and target.hit == 1 and (tube := tube_words(target)):
        lines.append(f"{tube[0].lower()}{tube[1:-1]}")
    lines.append(
        f"bend {target.bend} of {target.bends}, hit {target.hit}: {_wanted(target)},"
        f" stop at {shown_deg(target.stop_angle)}, {give_or_take(target.sd)}"
    )
    if target.hit == 1 and target.mark is not None:
        turn = f", {turn_seen_words(target.turn)}" if target.turn is not None else ""
        lines.append(f"  mark {show_on_tape(target.mark, unit)}{turn}")
    if target.hit == 1:
        why = "since the last tube" if further else "worked out again"
        lines += [f"  {why}: {printable(change, DETAIL)}" for change in target.changed]
    return [*lines, f"  {printable(target.advice, DETAIL)}"] if target.advice else lines


def _wanted(target: Target) -> str:
    wanted, drawn = shown_deg(target.bend_angle), target.drawn_angle
    if drawn is None or shown_deg(drawn) == wanted:
        return f"{wanted} degrees"
    return f"{wanted} degrees (drawn {shown_deg(drawn)})"


@singledispatch
def _told(_event: object) -> str | None:
    """Give the line of one kind of event; a kind without one says nothing."""
    return None


@_told.register
def _(event: Peak) -> str:
    doubt = "" if event.sure else " or more: a fault hid the arm"
    return f"  peak {shown_deg(event.arm)}{doubt}"


@_told.register
def _(event: Rest) -> str:
    return f"  rest {shown_deg(event.arm)}, springback {shown_deg(event.springback)}"


@_told.register
def _(event: Verdict) -> str:
    stop = "" if event.stop_angle is None else f" to {shown_deg(event.stop_angle)}"
    advice = f". {printable(event.advice, DETAIL)}" if event.advice else ""
    found = f"bend angle {shown_deg(event.bend_angle)}, {give_or_take(event.sd)}{advice}"
    taken = f"  {printable(event.taken, DETAIL)}\n" if event.taken else ""
    return f"{taken}  {SAID[event.say]}{stop}: {found}"


@_told.register
def _(event: Logged) -> str:
    return f"  bend {event.bend} logged"


@_told.register
def _(event: Fault) -> str:
    return f"  fault ({event.what}): {printable(event.detail, DETAIL)}"


@_told.register
def _(event: Cleared) -> str:
    return f"  {event.what} fault over"


@_told.register
def _(event: Aligned) -> str:
    good = f"{good}, " if (good := good_to(event)) else ""
    warnings = [f"  {printable(warning, DETAIL)}" for warning in event.warnings]
    return "\n".join([f"aligned: {good}{figures(event)}", *warnings])


@_told.register
def _(_event: Done) -> str:
    return "done"
