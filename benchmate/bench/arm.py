"""The arm at the bender: tracker, guide and trace, kept in step with each other."""

from benchmate.bench.motion.cue import Guide, Wanted, advise, afresh
from benchmate.bench.motion.trace import Recorder
from benchmate.bench.motion.tracker import (
    LIFT_DEG,
    Happening,
    Mark,
    NewBend,
    Released,
    Track,
    follow,
    mark,
)
from benchmate.sensing.sample import ArmEstimate

PRESSED_S = 10.0
"""So long an arm that moved unseen may stand past the stop before it is taken for released."""


class Arm:
    """What is known of the arm in the bend at hand, and what its trace keeps of it."""

    def __init__(self, track: Track, wanted: Wanted) -> None:
        """Begin in this state, for a hit that wants that."""
        self.track = track
        self.guide = Guide()
        self.trace = Recorder()
        self.pumped_unseen = False
        """It went up in this hit while nobody saw it."""
        self.begin(wanted, anew=True)

    def follow(self, reading: ArmEstimate, wanted: Wanted) -> Happening | None:
        """Take one good reading, on the trace's grid; give what happened, if anything did."""
        self.trace.add(reading, self.track, self.guide, wanted)
        before = self.track
        self.track, happening = follow(before, reading)
        self.guide = advise(
            self.guide,
            phase=self.track.phase,
            latched=self.track.latched is not None,
            t=reading.t,
            arm=self.track.arm,
            rate=reading.rate_dps,
            wanted=wanted,
        )
        if before.found and self.track.arm > before.highest + LIFT_DEG:
            self.pumped_unseen = True
        elif not self.track.in_hit:
            self.pumped_unseen = False
        return happening

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

    def mark(self, what: Mark) -> None:
        """Tell the tracker what the arm itself doesn't show."""
        self.trace.mark(what)
        self.track = mark(self.track, what)

    def release(self) -> None:
        """Take in that the pressure is off."""
        self.mark(Released())

    def begin(self, wanted: Wanted, *, anew: bool) -> None:
        """Begin a segment of the trace here; ``anew`` forgets all before."""
        self.trace.begin(self.track, self.guide, wanted, anew=anew)

    def next_hit(self, wanted: Wanted) -> None:
        """Guide a hit from its beginning."""
        self.guide = afresh(self.guide)
        self.begin(wanted, anew=False)

    def next_bend(self, wanted: Wanted) -> None:
        """Begin a bend. The one before keeps its own trace: it may be gone back to."""
        self.go_to(NewBend(), Recorder(), wanted, anew=True)

    def leave(self) -> None:
        """Be done with the bend at hand."""
        self.track = mark(self.track, NewBend())

    def go_to(self, what: Mark, trace: Recorder, wanted: Wanted, *, anew: bool) -> None:
        """Be where the mark says, in that trace."""
        self.track, self.guide, self.trace = mark(self.track, what), afresh(self.guide), trace
        self.begin(wanted, anew=anew)
