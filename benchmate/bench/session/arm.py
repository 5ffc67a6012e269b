"""The arm at the bender: tracker and cue kept in step, and what its trace is to keep. Pure."""

from typing import NamedTuple, TypeAlias

import msgspec
from msgspec.structs import replace

from benchmate.bench.motion.cue import Guide, Wanted, advise, afresh
from benchmate.bench.motion.tracker import (
    LIFT_DEG,
    Happening,
    Mark,
    NewBend,
    Track,
    follow,
    mark,
)
from benchmate.sensing.sample import ArmEstimate

PRESSED_S = 10.0
"""So long an arm that moved unseen may stand past the stop before it is taken for released."""


class SegmentBegun(NamedTuple):
    """The trace of this bend goes on in a segment that starts from this state."""

    bend: int
    track: Track
    guide: Guide
    wanted: Wanted
    anew: bool
    """What the bend's trace held before is forgotten."""


class ReadingSeen(NamedTuple):
    """A reading, and the state that it was followed from."""

    reading: ArmEstimate
    track: Track
    guide: Guide
    wanted: Wanted


class MarkSet(NamedTuple):
    """The tracker was told something between two readings."""

    what: Mark


TraceNote: TypeAlias = SegmentBegun | ReadingSeen | MarkSet


class ArmMotion(msgspec.Struct, frozen=True):
    """What is known of the arm in the bend at hand."""

    track: Track
    guide: Guide = Guide()
    pumped_unseen: bool = False
    """It went up in this hit while nobody saw it."""

    @property
    def past_its_stop(self) -> bool:
        """Say whether the tube is under load and the cue is to stop, or was passed."""
        return self.track.phase == "holding" and self.guide.cue in ("stop", "over", "release")

    @property
    def may_be_released(self) -> bool:
        """Say whether the person may have let the pressure off without its being seen."""
        return self.past_its_stop or (
            self.track.phase in ("bending", "holding") and self.pumped_unseen
        )

    @property
    def stands_as_released(self) -> bool:
        """Say whether an arm that was pumped unseen stands as only a released one goes on to."""
        return self.past_its_stop and self.pumped_unseen and self.track.standstill.lasts(PRESSED_S)


def followed(
    arm: ArmMotion, reading: ArmEstimate, wanted: Wanted
) -> tuple[ArmMotion, Happening | None, tuple[TraceNote, ...]]:
    """Take one good reading, on the trace's grid; give what happened, if anything did."""
    before = arm.track
    track, happening = follow(before, reading)
    guide = advise(
        arm.guide,
        phase=track.phase,
        latched=track.latched is not None,
        t=reading.t,
        arm=track.arm,
        rate=reading.rate_dps,
        wanted=wanted,
    )
    unseen = track.in_hit and (
        arm.pumped_unseen or (before.found and track.arm > before.highest + LIFT_DEG)
    )
    note = ReadingSeen(reading, before, arm.guide, wanted)
    return ArmMotion(track, guide, unseen), happening, (note,)


def marked(arm: ArmMotion, what: Mark) -> tuple[ArmMotion, tuple[TraceNote, ...]]:
    """Tell the tracker what the arm itself doesn't show."""
    return replace(arm, track=mark(arm.track, what)), (MarkSet(what),)


def guided_anew(
    arm: ArmMotion, bend: int, wanted: Wanted
) -> tuple[ArmMotion, tuple[TraceNote, ...]]:
    """Guide a hit from its beginning."""
    arm = replace(arm, guide=afresh(arm.guide))
    return arm, (SegmentBegun(bend, arm.track, arm.guide, wanted, anew=False),)


def moved(
    arm: ArmMotion, what: Mark, bend: int, wanted: Wanted, *, anew: bool
) -> tuple[ArmMotion, tuple[TraceNote, ...]]:
    """Be where the mark says, in the trace of that bend; each bend keeps its own."""
    arm = replace(arm, track=mark(arm.track, what), guide=afresh(arm.guide))
    return arm, (SegmentBegun(bend, arm.track, arm.guide, wanted, anew=anew),)


def left(arm: ArmMotion) -> ArmMotion:
    """Be done with the bend at hand."""
    return replace(arm, track=mark(arm.track, NewBend()))
