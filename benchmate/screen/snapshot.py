"""All that the bend screen shows, as one frozen value folded from what happened.

``after(state, happening, now)`` is the only way on. Nothing here decides anything about the bend:
the bench process does, and these are its words kept in order.
"""

from typing import Literal, NamedTuple

import msgspec
from msgspec.structs import replace

from benchmate.screen.client import Ended, Happening, Started
from benchmate.stream import (
    Cleared,
    Cue,
    Done,
    Fault,
    Logged,
    Peak,
    Phase,
    Reading,
    Rest,
    Say,
    Target,
    Verdict,
)
from benchmate.units import LengthUnit

STALE_AFTER_S = 0.3
"""Older than this a reading is drawn as dashes: loss must read as loss."""
NEAR_DEG = 3.0
FINE_STEP_DEG = 0.1
COARSE_STEP_DEG = 0.5
STICK = 0.65
"""A shown number moves when the true one is off by more than this part of a step; above one half,
so that noise on the edge between two numbers doesn't make them flicker."""
TRACE_POINTS = 400
TRACE_GAP_S = 0.5
"""Longest silence that the trace shows as itself."""

Link = Literal["starting", "up", "again", "lost", "leaving"]


class Shown(NamedTuple):
    """The arm angle as the digits show it, and in which steps."""

    arm: float
    step: float


class HitSeen(NamedTuple):
    """One press and release of the bend in work."""

    peak: float
    rest: float | None = None
    springback: float | None = None


class BendSeen(msgspec.Struct, frozen=True, kw_only=True):
    """What is known of one bend of the job."""

    bend: int
    wanted: float
    tolerance: float
    stop_sd: float
    """Standard deviation that came with its first stop angle."""
    verdict: Verdict | None = None
    id: str | None = None
    """Set once its row is durable."""
    mark: float | None = None
    """Where its mark was to be [mm], and the turn before it [deg]."""
    turn: float | None = None

    @property
    def in_tolerance(self) -> bool:
        """Whether the bend angle now in the tube is within tolerance, as far as it is known."""
        return (
            self.verdict is not None
            and abs(self.verdict.bend_angle - self.wanted) <= self.tolerance + 1e-9
        )


class Trace(NamedTuple):
    """The bend so far: time under way [s] and arm angle, thinned so that it stays bounded."""

    points: tuple[tuple[float, float], ...] = ()
    step_s: float = 0.0
    """Least time between two kept points; doubles each time that the trace is full."""
    at_s: float = 0.0
    last_t: float | None = None


EMPTY_TRACE = Trace()


class BenchState(msgspec.Struct, frozen=True, kw_only=True):
    """The bench as the stream has told it."""

    job: str = ""
    planned: tuple[float, ...] = ()
    """Bend angles of the job, where a plan is at hand."""
    rehearsal: bool = False
    by_hand: bool = False
    """A rehearsal whose pump the person works."""
    unit: LengthUnit = "mm"
    """In which lengths are shown."""
    target: Target | None = None
    resume_at: int = 1
    """The bend to go on with should the bench have to be started again."""
    reading: Reading | None = None
    fresh_at: float | None = None
    """When, on the screen's clock, a reading with a new time came."""
    shown: Shown | None = None
    hits: tuple[HitSeen, ...] = ()
    bends: tuple[BendSeen, ...] = ()
    trace: Trace = EMPTY_TRACE
    verdict: Verdict | None = None
    """Stands from the verdict until the next target."""
    faults: tuple[Fault, ...] = ()
    notice: str = ""
    done: bool = False
    link: Link = "starting"
    ended: Ended | None = None

    @property
    def phase(self) -> Phase:
        """The phase of the last reading; zeroing before the first."""
        return self.reading.phase if self.reading else "zeroing"

    @property
    def mid_hit(self) -> bool:
        """Whether the tube is under load, as far as the stream told."""
        return self.phase in {"bending", "holding", "releasing"}

    def age_s(self, now: float) -> float | None:
        """Give how old the last reading is [s]; None before the first."""
        return None if self.fresh_at is None else now - self.fresh_at

    def live(self, now: float) -> bool:
        """Whether there is an arm angle that may be shown."""
        age = self.age_s(now)
        return (
            age is not None
            and age <= STALE_AFTER_S
            and self.link in {"up", "leaving"}
            and self.shown is not None
        )

    def cue(self, now: float) -> Cue:
        """Give the cue; wait when there is no arm angle to rest it on."""
        return self.reading.cue if self.reading and self.live(now) else "wait"

    def to_go(self) -> float | None:
        """Give the stop angle as shown less the arm angle as shown, so that the three add up."""
        if self.target is None or self.shown is None:
            return None
        return round(round(self.target.stop_angle, 1) - self.shown.arm, 1)

    def seen(self, bend: int) -> BendSeen | None:
        """Give what is known of that bend."""
        return next((seen for seen in self.bends if seen.bend == bend), None)

    @property
    def behind(self) -> tuple[BendSeen | None, ...]:
        """The bends that are done with, in order; None for one that nothing is known of."""
        if self.target is None:
            return ()
        last = self.target.bends if self.done else self.target.bend - 1
        return tuple(self.seen(bend) for bend in range(1, last + 1))


def after(state: BenchState, happening: Happening, now: float) -> BenchState:
    """Fold one thing that happened into the state; ``now`` is the screen's clock [s]."""
    match happening:
        case Reading():
            new = _with_reading(state, happening, now)
        case Target():
            new = _with_target(state, happening)
        case Peak(arm=arm):
            new = replace(state, hits=(*_before_this_hit(state), HitSeen(arm)))
        case Rest(arm=arm, springback=springback):
            new = replace(
                state, hits=(*_before_this_hit(state), HitSeen(arm + springback, arm, springback))
            )
        case Verdict(bend=bend):
            new = replace(_changed(state, bend, verdict=happening), verdict=happening, notice="")
        case Logged():
            new = _with_row(state, happening)
        case Fault() | Cleared():
            new = _with_fault(state, happening)
        case Started() | Ended():
            new = _with_link(state, happening)
        case Done():
            new = replace(state, done=True)
        case _:
            new = state
    return new


def leaving(state: BenchState) -> BenchState:
    """Say that the screen is being closed and the bench finishes what is under way."""
    return replace(state, link="leaving")


def shown_after(shown: Shown | None, arm: float, to_go: float | None) -> Shown:
    """Give the number for the digits: 0.5 degree steps far off, 0.1 near, and no flicker.

    Once fine, the steps stay fine until the arm is a degree further away than where they became so.
    """
    limit = NEAR_DEG + (1.0 if shown is not None and shown.step == FINE_STEP_DEG else 0.0)
    step = FINE_STEP_DEG if to_go is None or to_go <= limit else COARSE_STEP_DEG
    if shown is not None and shown.step == step and abs(arm - shown.arm) <= STICK * step:
        return shown
    return Shown(round(round(arm / step) * step, 1) + 0.0, step)


def trace_after(trace: Trace, t: float, arm: float) -> Trace:
    """Add a point to the trace, thinning it by half when it is full."""
    passed = 0.0 if trace.last_t is None else min(max(t - trace.last_t, 0.0), TRACE_GAP_S)
    at = trace.at_s + passed
    if trace.points and at - trace.points[-1][0] < trace.step_s:
        return trace._replace(at_s=at, last_t=t)
    points, step = (*trace.points, (at, arm)), trace.step_s
    if len(points) > TRACE_POINTS:
        points = points[::2]
        step = 2.0 * max(step, at / TRACE_POINTS)
    return Trace(points, step, at, t)


def _with_reading(state: BenchState, reading: Reading, now: float) -> BenchState:
    if state.reading is not None and reading.t == state.reading.t:
        # The same sample again: it says nothing new, and doesn't get younger by being repeated.
        return replace(state, reading=reading) if reading != state.reading else state
    shown, trace = None, state.trace
    if reading.arm is not None:
        shown = shown_after(state.shown, reading.arm, reading.to_go)
        if reading.phase not in {"zeroing", "ready", "logged"} and state.verdict is None:
            trace = trace_after(trace, reading.t, reading.arm)
    notice = state.notice if reading.phase == state.phase else ""
    return replace(state, reading=reading, fresh_at=now, shown=shown, trace=trace, notice=notice)


def _with_target(state: BenchState, target: Target) -> BenchState:
    # What was said before the first target, a restart, holds until the arm does something.
    notice = state.notice if state.target is None else ""
    state = replace(state, target=target, verdict=None, notice=notice, resume_at=target.bend)
    seen = state.seen(target.bend)
    if target.hit > 1 and seen is not None:
        return replace(state, hits=state.hits[: target.hit - 1])
    fresh = BendSeen(
        bend=target.bend,
        wanted=target.bend_angle,
        tolerance=target.tolerance,
        stop_sd=target.sd,
        mark=target.mark,
        turn=target.turn,
    )
    others = tuple(seen for seen in state.bends if seen.bend != target.bend)
    bends = tuple(sorted((*others, fresh), key=lambda seen: seen.bend))
    return replace(state, bends=bends, hits=(), trace=EMPTY_TRACE)


def _changed(
    state: BenchState, bend: int, *, verdict: Verdict | None = None, logged_as: str | None = None
) -> BenchState:
    return replace(
        state,
        bends=tuple(
            replace(seen, verdict=verdict or seen.verdict, id=logged_as or seen.id)
            if seen.bend == bend
            else seen
            for seen in state.bends
        ),
    )


def _with_row(state: BenchState, logged: Logged) -> BenchState:
    new = _changed(state, logged.bend, logged_as=logged.id)
    verdict, target = state.verdict, state.target
    finished = verdict is not None and verdict.say in {"accept", "over"}
    if finished and target is not None and logged.bend == target.bend < target.bends:
        return replace(new, resume_at=target.bend + 1)
    return new


def _before_this_hit(state: BenchState) -> tuple[HitSeen, ...]:
    """Give the hits before the one in work: a release that turns out to be none is said twice."""
    return state.hits if state.target is None else state.hits[: state.target.hit - 1]


def _with_fault(state: BenchState, said: Fault | Cleared) -> BenchState:
    if isinstance(said, Fault) and said.what == "command":
        return replace(state, notice=said.detail)
    others = tuple(fault for fault in state.faults if fault.what != said.what)
    if isinstance(said, Cleared):
        return replace(state, faults=others)
    return replace(state, faults=(*others, said), shown=None)


def _with_link(state: BenchState, said: Started | Ended) -> BenchState:
    leaving_now = state.link == "leaving"
    if isinstance(said, Ended):
        link: Link = "leaving" if leaving_now else "again" if said.again else "lost"
        return replace(state, link=link, ended=said, shown=None)
    return replace(
        state,
        link="leaving" if leaving_now else "up",
        target=None,
        reading=None,
        fresh_at=None,
        shown=None,
        hits=(),
        verdict=None,
        faults=(),
        trace=EMPTY_TRACE,
        notice="The bench was started again. Take zero anew." if said.again else state.notice,
    )


def said_of(say: Say) -> str:
    """Give the verdict in words."""
    return _SAID[say]


_SAID: dict[Say, str] = {
    "accept": "accept",
    "again": "press again",
    "over": "over-bent",
    "measure": "measure it",
}
