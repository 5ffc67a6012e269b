"""The stream as lines of text, for when there is no terminal to draw on."""

from functools import singledispatch

from benchmate.screen import outcome
from benchmate.screen.snapshot import BenchState, said_of
from benchmate.screen.words import CUE_WORDS
from benchmate.stream import (
    Aligned,
    Cleared,
    Done,
    Event,
    Fault,
    Logged,
    Peak,
    Reading,
    Rest,
    Target,
    Verdict,
)
from benchmate.wording import printable


class Teller:
    """Turns events into lines; of readings only the changes of cue or phase are worth one."""

    def __init__(self) -> None:
        self._last: tuple[str, str] | None = None

    def tell(self, event: Event) -> str | None:
        """Give the event as one line of text; None when it says nothing new."""
        if isinstance(event, Reading):
            now = (event.phase, event.cue)
            if now == self._last:
                return None
            self._last = now
            return _reading(event)
        return _told(event)


def summary(state: BenchState) -> str:
    """Give the job's end: a line a bend, the totals, the ids logged."""
    lines = [outcome.HEAD, *(row for row, _ in outcome.rows(state))]
    lines += outcome.totals(state)
    lines += [f"  bend {seen.bend}: {seen.id}" for seen in state.bends if seen.id is not None]
    return "\n".join(lines)


def _reading(reading: Reading) -> str:
    if reading.arm is None:
        return f"  {reading.phase}: no angle; wait"
    to_go = "" if reading.to_go is None else f", {reading.to_go:.1f} to go"
    return f"  {reading.phase}: arm {reading.arm:.1f}{to_go}: {CUE_WORDS[reading.cue]}"


@singledispatch
def _told(_event: object) -> str | None:
    """Give the line of one kind of event; a kind without one says nothing."""
    return None


@_told.register
def _(event: Target) -> str:
    told = (
        f"bend {event.bend} of {event.bends}, hit {event.hit}: {event.bend_angle:.1f} degrees, "
        f"stop at {event.stop_angle:.1f} (sd {event.sd:.2f})"
    )
    return f"{told}. {printable(event.advice)}" if event.advice else told


@_told.register
def _(event: Peak) -> str:
    return f"  peak {event.arm:.1f}"


@_told.register
def _(event: Rest) -> str:
    return f"  rest {event.arm:.1f}, springback {event.springback:.1f}"


@_told.register
def _(event: Verdict) -> str:
    stop = "" if event.stop_angle is None else f" to {event.stop_angle:.1f}"
    found = (
        f"bend angle {event.bend_angle:.1f} (sd {event.sd:.2f}) {printable(event.advice)}".rstrip()
    )
    return f"  {said_of(event.say)}{stop}: {found}"


@_told.register
def _(event: Logged) -> str:
    return f"  bend {event.bend} logged as {printable(event.id)}"


@_told.register
def _(event: Fault) -> str:
    return f"  fault ({event.what}): {printable(event.detail)}"


@_told.register
def _(event: Cleared) -> str:
    return f"  {event.what} fault over"


@_told.register
def _(event: Aligned) -> str:
    return f"aligned: residual {event.residual_deg:.2f} degrees, leverage {event.leverage:.2f}"


@_told.register
def _(_event: Done) -> str:
    return "done"
