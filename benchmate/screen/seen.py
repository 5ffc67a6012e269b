"""What is known of a bend of the job and of its hits, from what the stream has told."""

from typing import NamedTuple

import msgspec

from benchmate.stream import Verdict


class HitSeen(NamedTuple):
    """One press and release of the bend in work."""

    peak: float
    rest: float | None = None
    springback: float | None = None
    sure: bool = True
    """False when a fault may have hidden a higher peak."""


class BendSeen(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of one bend of the job."""

    bend: int
    wanted: float
    tolerance: float
    stop_sd: float
    """Standard deviation that came with its first stop angle."""
    verdicts: tuple[Verdict, ...] = ()
    """The last word on each hit, in order."""
    id: str | None = None
    """Set once its row is durable."""
    fault: str = ""
    """What hid the arm while it was bent; such a bend teaches nothing."""
    fault_hit: int = 0
    """The last hit in which that was."""
    mark: float | None = None
    """Where its mark was to be [mm], and the turn before it [deg]."""
    turn: float | None = None
    drawn: float | None = None
    """The drawing's bend angle, where planning anew made another of it."""
    hits: tuple[HitSeen, ...] = ()
    """All its hits; the last of them may have been taken back."""

    @property
    def right(self) -> float:
        """Give the bend angle that the tolerance is counted from, as the bench does.

        That is the drawing's, unless planning anew moved it by more than half the tolerance.
        """
        if self.drawn is None or abs(self.wanted - self.drawn) > self.tolerance / 2.0 + 1e-9:
            return self.wanted
        return self.drawn

    @property
    def verdict(self) -> Verdict | None:
        """What stands about it; None before its first hit has come to rest."""
        return self.verdicts[-1] if self.verdicts else None

    @property
    def unread(self) -> bool:
        """Whether its angle is a guess: it asks to be measured."""
        return self.verdict is not None and self.verdict.say == "measure"

    @property
    def in_tolerance(self) -> bool:
        """Whether the bend angle now in the tube is within tolerance, as far as it is known."""
        return (
            self.verdict is not None
            and not self.unread
            and abs(self.verdict.bend_angle - self.right) <= self.tolerance + 1e-9
        )
