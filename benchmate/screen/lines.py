"""The stream as lines of text, for when there is no terminal to draw on."""

from functools import singledispatch

from benchmate.screen import outcome
from benchmate.screen.snapshot import BenchState, said_of
from benchmate.screen.words import CUE_WORDS, DETAIL, PHASE_WORDS
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
from benchmate.units import LengthUnit, show_length
from benchmate.wording import printable

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

    def tell(self, event: Event) -> str | None:
        """Give the event as a line of text, or a few; None when it says nothing new."""
        match event:
            case Reading():
                return self._reading(event)
            case Target():
                return "\n".join(_target(event, self._unit))
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
            return f"  zeroing: {PHASE_WORDS['zeroing']}"
        if reading.phase in _TOLD:
            return None
        to_go = "" if reading.to_go is None else f", {reading.to_go:.1f} to go"
        return f"  {reading.phase}: arm {reading.arm:.1f}{to_go}: {CUE_WORDS[reading.cue]}"


def summary(state: BenchState) -> str:
    """Give the job's end: a line a bend, the totals, the ids logged."""
    lines = [outcome.HEAD, *(row for row, _ in outcome.rows(state))]
    lines += outcome.totals(state)
    lines += [f"  bend {seen.bend}: {seen.id}" for seen in state.bends if seen.id is not None]
    return "\n".join(lines)


def _target(target: Target, unit: LengthUnit) -> list[str]:
    lines = [
        f"bend {target.bend} of {target.bends}, hit {target.hit}: {target.bend_angle:.1f} degrees, "
        f"stop at {target.stop_angle:.1f} (sd {target.sd:.2f})"
    ]
    if target.hit == 1 and target.mark is not None:
        turn = "" if target.turn is None else f", turn {target.turn:.1f} degrees"
        lines.append(f"  mark {show_length(target.mark, unit)}{turn}")
    if target.hit == 1:
        lines += [f"  planned anew: {printable(change, DETAIL)}" for change in target.changed]
    return [*lines, f"  {printable(target.advice, DETAIL)}"] if target.advice else lines


@singledispatch
def _told(_event: object) -> str | None:
    """Give the line of one kind of event; a kind without one says nothing."""
    return None


@_told.register
def _(event: Peak) -> str:
    return f"  peak {event.arm:.1f}"


@_told.register
def _(event: Rest) -> str:
    return f"  rest {event.arm:.1f}, springback {event.springback:.1f}"


@_told.register
def _(event: Verdict) -> str:
    stop = "" if event.stop_angle is None else f" to {event.stop_angle:.1f}"
    advice = printable(event.advice, DETAIL)
    found = f"bend angle {event.bend_angle:.1f} (sd {event.sd:.2f}) {advice}".rstrip()
    return f"  {said_of(event.say)}{stop}: {found}"


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
    return f"aligned: residual {event.residual_deg:.2f} degrees, leverage {event.leverage:.2f}"


@_told.register
def _(_event: Done) -> str:
    return "done"
