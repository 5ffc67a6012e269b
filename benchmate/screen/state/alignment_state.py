"""All that the align screen shows, as one frozen value folded from what happened."""

from typing import Literal

import msgspec
from msgspec.structs import replace

from benchmate.screen.client import Ended, Happening, Started
from benchmate.screen.state.bench_state import STALE_AFTER_S
from benchmate.stream import Aligned, Cleared, Fault, Reading

Stage = Literal["before", "moving", "working", "over"]


class AlignmentState(msgspec.Struct, frozen=True, kw_only=True):
    """The alignment as the stream and the person's keys have told it."""

    turn: bool = False
    """A turn of the box, to calibrate the chip, instead of a swing of the arm."""
    against: str = ""
    """The accelerometer that an encoder's turn is held against, where it is."""
    rehearsal: bool = False
    stage: Stage = "before"
    reading: Reading | None = None
    fresh_at: float | None = None
    swept: tuple[float, float] | None = None
    """Least and largest arm angle since begin."""
    fault: Fault | None = None
    aligned: Aligned | None = None
    ended: Ended | None = None
    up: bool = False

    def arm(self, now: float) -> float | None:
        """Give the arm angle, None when there is none to be shown."""
        if self.reading is None or self.fresh_at is None or now - self.fresh_at > STALE_AFTER_S:
            return None
        return self.reading.arm


def alignment_after(state: AlignmentState, happening: Happening, now: float) -> AlignmentState:
    """Fold one thing that happened into the state; ``now`` is the screen's clock [s]."""
    match happening:
        case Reading():
            new = _with_reading(state, happening, now)
        case Started():
            new = replace(state, up=True, ended=None)
        case Ended():
            new = replace(state, up=False, ended=happening, stage="over")
        case Aligned():
            new = replace(state, aligned=happening, stage="over")
        case Fault():
            new = replace(state, fault=happening)
        case Cleared():
            new = replace(state, fault=None)
        case _:
            new = state
    return new


def next_word(state: AlignmentState) -> str:
    """Give the command that Enter sends now: begin, end, or "" for none."""
    if not state.up:
        return ""
    return {"before": "begin", "moving": "end", "working": "", "over": ""}[state.stage]


def sent(state: AlignmentState, word: str) -> AlignmentState:
    """Go on after a command was sent."""
    if word == "begin":
        return replace(state, stage="moving", swept=None, fault=None)
    return replace(state, stage="working") if word == "end" else state


def _with_reading(state: AlignmentState, reading: Reading, now: float) -> AlignmentState:
    if state.reading is not None and reading.t == state.reading.t:
        return state
    swept = state.swept
    if reading.arm is not None and state.stage == "moving":
        low, high = swept or (reading.arm, reading.arm)
        swept = (min(low, reading.arm), max(high, reading.arm))
    return replace(state, reading=reading, fresh_at=now, swept=swept)
