"""The steps of a session that can be taken back, one at a time."""

from collections.abc import Sequence
from typing import NamedTuple

from benchmate.bench.course import Course
from benchmate.bench.motion.trace import Recorder
from benchmate.bench.motion.tracker import Mark, NewBend, SameHit, Stood, Track
from benchmate.bench.piece import Model, Piece


class Step(NamedTuple):
    """How all stood before a step."""

    what: str
    """The step in a word or two: "zero", "hit 2", "measured 89.5", "next"."""
    piece: Piece
    model: Model
    before: tuple[tuple[Model, Piece], ...]
    course: Course
    zero: float
    trace: Recorder

    def mark(self, track: Track) -> Mark:
        """Give the mark that brings the tracker to where the step left from."""
        hits = self.piece.hits
        rest = hits[-1].rest if hits else None
        if self.piece.verdict is not None:
            stands = track.arm + track.zero - self.zero
            return Stood(self.zero, stands if rest is None else rest)
        if self.what.startswith("hit"):
            return SameHit(rest or 0.0, first=not hits)
        return NewBend()


def is_zero_of(index: int, steps: Sequence[Step]) -> bool:
    """Say whether the last step was this bend's zero: taking it again is no step more."""
    return bool(steps) and (steps[-1].what, steps[-1].piece.index) == ("zero", index)
