"""What the screen shows of a bend of the job and of its hits, from what the stream has told."""

from typing import NamedTuple

import msgspec
from msgspec.structs import replace

from benchmate.stream import Verdict


class ShownHit(NamedTuple):
    """One press and release of the bend in work."""

    peak: float
    rest: float | None = None
    springback: float | None = None
    sure: bool = True
    """False when a fault may have hidden a higher peak."""


class ShownBend(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of one bend of the job. Whether it is good is what its verdict says."""

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
    marked: float | None = None
    """Where a person found its mark, and the turn that was made; None: as asked for."""
    turned: float | None = None
    hits: tuple[ShownHit, ...] = ()
    """All its hits; the last of them may have been taken back."""

    def placed(self, *, marked: float | None = None, turned: float | None = None) -> "ShownBend":
        """Give it with the mark, the turn or both as a person found them."""
        return replace(
            self,
            marked=self.marked if marked is None else marked,
            turned=self.turned if turned is None else turned,
        )

    @property
    def verdict(self) -> Verdict | None:
        """What stands about it; None before its first hit has come to rest."""
        return self.verdicts[-1] if self.verdicts else None

    @property
    def unmeasured(self) -> bool:
        """Whether its angle is only expected: it asks to be measured."""
        return self.verdict is not None and self.verdict.say == "measure"

    @property
    def good(self) -> bool:
        """Whether its verdict accepts it."""
        return self.verdict is not None and self.verdict.say == "accept"
