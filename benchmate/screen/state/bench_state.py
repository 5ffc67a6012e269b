"""All that the bend screen shows, as one frozen value folded from what happened.

``after(state, happening, now)`` is the only way on. Nothing here decides anything about the bend:
the bench process does, and these are its words kept in order.
"""

from collections.abc import Callable
from typing import Literal, NamedTuple

import msgspec
from msgspec.structs import replace

from benchmate.screen.client import Ended, Happening, Started
from benchmate.screen.state.entries import entry_words, undone_words, with_entry
from benchmate.screen.state.shown_bend import ShownBend, ShownHit
from benchmate.signal_patterns import UNZEROED_DEG
from benchmate.stream import (
    BLINDING,
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
    Unfinished,
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
CURVE_POINTS = 400
CURVE_GAP_S = 0.5
"""Longest silence that the trace shows as itself."""

Link = Literal["starting", "up", "again", "lost", "leaving"]


class Shown(NamedTuple):
    """The arm angle as the digits show it, and in which steps."""

    arm: float
    step: float


class ArmCurve(NamedTuple):
    """The bend so far: time under way [s] and arm angle, thinned so that it stays bounded."""

    points: tuple[tuple[float, float], ...] = ()
    step_s: float = 0.0
    """Least time between two kept points; doubles each time that the trace is full."""
    at_s: float = 0.0
    last_t: float | None = None


NO_CURVE = ArmCurve()


class BenchState(msgspec.Struct, frozen=True, kw_only=True):
    """The bench as the stream has told it."""

    job: str = ""
    planned: tuple[float, ...] = ()
    """Bend angles of the job, where a plan is at hand."""
    rehearsal: bool = False
    following: bool = False
    """Somebody looks on at a bench that another screen works."""
    by_hand: bool = False
    """A rehearsal whose pump the person works."""
    bites: bool = False
    """The ram is too short for a whole bend: the arm goes back for another hole on the way."""
    unit: LengthUnit = "mm"
    """In which lengths are shown."""
    target: Target | None = None
    resume_at: int = 1
    """The bend to go on with should the bench have to be started again."""
    reading: Reading | None = None
    fresh_at: float | None = None
    """When, on the screen's clock, a reading with a new time came."""
    shown: Shown | None = None
    hits: tuple[ShownHit, ...] = ()
    bends: tuple[ShownBend, ...] = ()
    curve: ArmCurve = NO_CURVE
    verdict: Verdict | None = None
    """Stands from the verdict until the next target."""
    faults: tuple[Fault, ...] = ()
    notice: str = ""
    """Why a key did nothing; holds until something happens."""
    news: str = ""
    """What was taken down or taken back; holds until the next verdict, target or press."""
    raw_low: float | None = None
    """Lowest angle of the sensor since zero became due; far above it the arm has been pumped."""
    zero_asked: bool = False
    """The person asked for zero; it is taken once the arm has stood still."""
    unfinished: Unfinished | None = None
    """A run begun before and not finished, until the person says how to go on."""
    entered: float | None = None
    """The measured angle that was sent last, until the bench answers it."""
    doubtful: float | None = None
    """A measured angle that the bench refused: the person may insist on it."""
    done: bool = False
    link: Link = "starting"
    ended: Ended | None = None

    @property
    def phase(self) -> Phase:
        """The phase of the last reading; zeroing before the first."""
        return self.reading.phase if self.reading else "zeroing"

    @property
    def reseats(self) -> bool:
        """Whether a bent tube is to be put back and zeroed before it is pressed again."""
        return (
            self.phase == "zeroing"
            and self.target is not None
            and self.target.zero_at is not None
            and self.verdict is not None
            and self.verdict.say == "again"
        )

    @property
    def mid_hit(self) -> bool:
        """Whether the tube is under load, as far as the stream told."""
        return self.phase in {"bending", "holding", "releasing"}

    @property
    def unzeroed_deg(self) -> float:
        """How far the arm was pumped with zero still due [deg]; 0 when it was not."""
        reading = self.reading
        if self.phase != "zeroing" or reading is None or reading.arm is None:
            return 0.0
        moved = reading.arm - (reading.arm if self.raw_low is None else self.raw_low)
        return moved if moved > UNZEROED_DEG else 0.0

    @property
    def blinding(self) -> tuple[Fault, ...]:
        """The faults that take arm angle and cue away; the others are told and leave them."""
        return tuple(fault for fault in self.faults if fault.what in BLINDING)

    @property
    def steering(self) -> bool:
        """Whether somebody works, or may at once work, the pump by the numbers."""
        return (
            self.phase in {"ready", "bending", "holding", "releasing"}
            and self.link in {"up", "leaving"}
            and self.verdict is None
            and not self.blinding
            and not self.latched
        )

    @property
    def latched(self) -> bool:
        """Whether the arm is between two holes: only then does a held tube wait, with an arm known.

        The bench says so by the cue: a loaded tube is otherwise pumped on or stopped.
        """
        reading = self.reading
        return (
            self.bites
            and reading is not None
            and reading.arm is not None
            and reading.phase == "holding"
            and reading.cue == "wait"
        )

    @property
    def hurt(self) -> bool:
        """Whether a fault has hidden the arm in the hit under way."""
        seen = None if self.target is None else self.seen(self.target.bend)
        return (
            self.mid_hit
            and self.target is not None
            and seen is not None
            and seen.fault_hit == self.target.hit
        )

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

    def seen(self, bend: int) -> ShownBend | None:
        """Give what is known of that bend."""
        return next((seen for seen in self.bends if seen.bend == bend), None)

    @property
    def behind(self) -> tuple[ShownBend | None, ...]:
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
        case Peak(arm=arm, sure=sure):
            new = _with_hit(state, ShownHit(arm, sure=sure))
        case Rest(arm=arm, springback=springback):
            sure = all(hit.sure for hit in state.hits[-1:])
            new = _with_hit(state, ShownHit(arm + springback, arm, springback, sure))
        case Verdict():
            new = _judged(state, happening)
        case Logged():
            new = _with_row(state, happening)
        case Fault() | Cleared():
            new = _with_fault(state, happening)
        case Started() | Ended():
            new = _with_link(state, happening)
        case Done():
            new = replace(state, done=True)
        case Unfinished():
            new = replace(state, unfinished=happening, notice="")
        case _:
            new = state
    return new


def noticed(state: BenchState, words: str) -> BenchState:
    """Put a sentence about a key just pressed before the rest, until something else happens."""
    return replace(state, notice=words)


def asked_zero(state: BenchState) -> BenchState:
    """Say that the person asked for zero."""
    return replace(state, zero_asked=True, notice="")


def entered_angle(state: BenchState, angle: float) -> BenchState:
    """Say that the person entered a measured angle [deg]."""
    return replace(state, entered=angle, doubtful=None, notice="")


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


def curve_after(curve: ArmCurve, t: float, arm: float) -> ArmCurve:
    """Add a point to the curve, thinning it by half when it is full."""
    passed = 0.0 if curve.last_t is None else min(max(t - curve.last_t, 0.0), CURVE_GAP_S)
    at = curve.at_s + passed
    if curve.points and at - curve.points[-1][0] < curve.step_s:
        return curve._replace(at_s=at, last_t=t)
    points, step = (*curve.points, (at, arm)), curve.step_s
    if len(points) > CURVE_POINTS:
        points = points[::2]
        step = 2.0 * max(step, at / CURVE_POINTS)
    return ArmCurve(points, step, at, t)


def _with_reading(state: BenchState, reading: Reading, now: float) -> BenchState:
    if state.reading is not None and reading.t == state.reading.t:
        # The same sample again: it says nothing new, and doesn't get younger by being repeated.
        return replace(state, reading=reading) if reading != state.reading else state
    shown, curve = None, state.curve
    if reading.arm is not None:
        shown = shown_after(state.shown, reading.arm, reading.to_go)
        if reading.phase not in {"zeroing", "ready", "logged"} and state.verdict is None:
            curve = curve_after(curve, reading.t, reading.arm)
    raw_low = None
    if reading.phase == "zeroing":
        known = [low for low in (state.raw_low, reading.arm) if low is not None]
        raw_low = min(known, default=None)
    notice = state.notice if reading.phase == state.phase else ""
    news = "" if reading.phase == "bending" else state.news
    return replace(
        state,
        reading=reading,
        fresh_at=now,
        shown=shown,
        curve=curve,
        notice=notice,
        news=news,
        raw_low=raw_low,
        zero_asked=state.zero_asked and reading.phase == "zeroing",
    )


def _with_target(state: BenchState, target: Target) -> BenchState:
    # What was said before the first target, a restart, holds until the arm does something.
    before = state.target
    news = state.news if state.target is None else ""
    state = replace(
        state,
        target=target,
        verdict=None,
        unfinished=None,
        doubtful=None,
        notice="",
        news=undone_words(target.undone, state.unit) or news,
        resume_at=target.bend,
    )
    seen = state.seen(target.bend)
    # A bend that was undone, or one after it, is as if it had never been: its figures with it.
    behind = tuple(each for each in state.bends if each.bend < target.bend)
    same = before is not None and (before.bend, before.hit) == (target.bend, target.hit)
    if seen is not None and (target.hit > 1 or target.undone or (same and state.mid_hit)):
        kept = tuple(verdict for verdict in seen.verdicts if verdict.hits < target.hit)
        now = replace(seen, verdicts=kept, marked=None, turned=None)
        return replace(state, hits=seen.hits[: target.hit - 1], bends=(*behind, now))
    fresh = ShownBend(
        bend=target.bend,
        wanted=target.bend_angle,
        tolerance=target.tolerance,
        stop_sd=target.sd,
        mark=target.mark,
        turn=target.turn,
    )
    return replace(state, bends=(*behind, fresh), hits=(), curve=NO_CURVE)


def _changed(state: BenchState, bend: int, change: Callable[[ShownBend], ShownBend]) -> BenchState:
    bends = tuple(change(seen) if seen.bend == bend else seen for seen in state.bends)
    return replace(state, bends=bends)


def _judged(state: BenchState, verdict: Verdict) -> BenchState:
    def change(seen: ShownBend) -> ShownBend:
        before = tuple(each for each in seen.verdicts if each.hits < verdict.hits)
        return with_entry(replace(seen, verdicts=(*before, verdict)), verdict.taken)

    seen = state.seen(verdict.bend)
    # A verdict that stands again after an undo brings its hit back.
    hits = state.hits if seen is None else seen.hits[: verdict.hits]
    entered = entry_words(verdict.taken, seen, state.unit)
    news = entered or (state.news if state.verdict is None else "")
    state = replace(
        state, verdict=verdict, hits=hits, notice="", news=news, doubtful=None, entered=None
    )
    return _changed(state, verdict.bend, change)


def _with_hit(state: BenchState, hit: ShownHit) -> BenchState:
    """Take the hit in work; its bend's row in the log, if it has one, doesn't have it yet."""
    hits = (*_before_this_hit(state), hit)
    state = replace(state, hits=hits)
    if state.target is None:
        return state
    return _changed(state, state.target.bend, lambda seen: replace(seen, hits=hits, id=None))


def _with_row(state: BenchState, logged: Logged) -> BenchState:
    new = _changed(state, logged.bend, lambda seen: replace(seen, id=logged.id))
    verdict, target = state.verdict, state.target
    finished = verdict is not None and verdict.say in {"accept", "over"}
    if finished and target is not None and logged.bend == target.bend < target.bends:
        return replace(new, resume_at=target.bend + 1)
    return new


def _before_this_hit(state: BenchState) -> tuple[ShownHit, ...]:
    """Give the hits before the one in work: a release that turns out to be none is said twice."""
    return state.hits if state.target is None else state.hits[: state.target.hit - 1]


def _with_fault(state: BenchState, said: Fault | Cleared) -> BenchState:
    if isinstance(said, Fault) and said.what == "command":
        entered = state.entered
        refused = entered is not None and f"{entered:g}" in said.detail
        return replace(
            state, notice=said.detail, doubtful=entered if refused else None, entered=None
        )
    others = tuple(fault for fault in state.faults if fault.what != said.what)
    if isinstance(said, Cleared):
        return replace(state, faults=others)
    if said.what not in BLINDING:
        return replace(state, faults=(*others, said))
    if state.mid_hit and said.what != "store" and state.target is not None:
        what, hit = said.what, state.target.hit
        state = _changed(
            state, state.target.bend, lambda seen: replace(seen, fault=what, fault_hit=hit)
        )
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
        unfinished=None,
        zero_asked=False,
        faults=(),
        curve=NO_CURVE,
        notice="",
        news="The bench program was started again." if said.again else state.news,
    )


SAID: dict[Say, str] = {
    "accept": "good",
    "again": "press again",
    "over": "over-bent",
    "measure": "measure it",
}
"""The verdicts in words."""
