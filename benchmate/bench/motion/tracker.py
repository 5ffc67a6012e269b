"""What the arm is doing: zero, rising, held, falling, at rest. A pure state machine.

The same readings and marks give the same happenings, so that a recorded trace replays. Angles are
degrees of arm angle since zero; the tracker takes its own zero off the readings.
"""

from typing import NamedTuple, TypeAlias

import msgspec

from benchmate.bench.motion.standstill import Standstill, extend
from benchmate.sensing.sample import ArmEstimate
from benchmate.stream import Phase

ZERO_WINDOW_S = 0.5
REST_WINDOW_S = 0.4
HOLD_WINDOW_S = 0.3
REST_DPS = 0.2
"""An arm that goes on sinking faster is not at rest yet."""
LIFT_DEG = 0.5
"""Rise above the start that begins a hit."""
DROP_DEG = 0.2
"""Fall below the peak that is a release, on a noiseless sensor."""
JUMP_DEG = 0.08
BELOW_S = 0.1
"""So long it stays below, unless it has fallen three times as far: a shaken reading comes back."""
SHAKEN_S = 0.4
"""A reading goes on being off for about so long after it was shaken, whatever its noise says."""
LONGEST_STEP_S = 0.1
ABOVE_S = 0.25
"""A rise from a standstill that is over sooner is the jolt of a release, not a stroke."""
LOW_S = 0.35
"""Having stayed below for so long, it needs half the noise to be believed."""
STANDING_DPS = 1.0
"""A step larger than the one while the rate is below the other is no move of the arm: the estimator
has seen better (gravity against gyro, at a standstill), and sees the peak better with it."""
SINK_DPS = 0.3
"""An arm under load that falls no faster sinks: the oil leaks, and nobody let it off;"""
SINK_MOST_DEG = 0.6
"""further down than this it is let off, unless it is slower than any valve lets it down."""
LEAK_DPS = 0.12
BUMP_DEG = 0.8
"""A stroke ends with a bump that takes the reading so far past where the arm comes to stand."""
KNOCK_S = 0.3
"""and comes back sooner than that; what takes longer to come down was let off,"""
LET_OFF_DEG = 0.35
"""if it has come down so far."""
LEAST_SPRINGBACK_DEG = 0.15
"""An arm that comes to stand no further below its peak is still under load."""
NEAR = 1.0 / 3.0
"""Such a part of a release's way down counts as still at the top."""
RESUME_DEG = 0.2
"""Rise above the peak after a seeming release that proves it was none."""
SPRUNG = 0.1
"""Springback may be such a share of the arm angle, at the most that a shop's tubes show."""
OFF_DEG = 3.0
"""Further below its peak than springback and this, the arm has gone off the tube."""
NOTHING_DEG = 0.3
"""A first hit that comes back this near to zero has bent nothing."""


class Track(msgspec.Struct, frozen=True):
    """All that the tracker remembers."""

    follows_tube: bool
    phase: Phase = "zeroing"
    zero: float = 0.0
    """The reading at which the arm angle is 0; bites move it on."""
    zero_asked: bool = False
    zero_at: float = 0.0
    """Arm angle that the arm stands at when zero is taken: above 0 on a tube bent before."""
    arm: float = 0.0
    standstill: Standstill = msgspec.field(default=Standstill(), name="spell")
    start: float = 0.0
    """Arm angle from which this hit starts: 0, or the rest of the hit before."""
    first: bool = True
    """No hit on this bend yet."""
    t: float | None = None
    """Of the last reading."""
    shaken: float = 0.0
    """How far the arm's being shaken may have put a reading off: its noise, that of a moment ago
    fading out."""
    highest: float = 0.0
    """The reading that was surely highest: twice its noise taken off, no other was higher."""
    highest_noise: float = 0.0
    """Its noise."""
    highest_at: float = 0.0
    """When it was read."""
    stood_there: bool = False
    """The arm has stood at the highest: no bump of a stroke's end is in it."""
    sunk: float = 0.0
    """How far the arm has sunk from the peak under load, no faster than oil leaks."""
    at_top: float | None = None
    """When the arm was last near the peak, or near to where it has sunk to."""
    below_since: float | None = None
    """Since when the arm has been a release's way below the peak,"""
    low_since: float | None = None
    """and since when so far that staying there makes it one."""
    peak_sd: float = 0.0
    """Standard deviation that the sensor gave of the arm angle as it left the peak."""
    held: float | None = None
    """Highest mean of a standstill in this hit: unlike a maximum, not pushed up by noise."""
    latched: float | None = None
    """Between two bites: the arm angle at which the tube is latched."""
    broken: bool = False
    """A fault stood during this hit."""
    found: bool = False
    """The arm has just become known again in a hit."""
    above_since: float | None = None
    """Since when the arm has been above that."""
    unsure_below: float | None = None
    """After a fault: the peak is relied on again once the arm rises past this."""
    told: bool = False
    """The hit's rest has been told."""
    said_off: bool = False
    """The person says that the pressure is off."""
    bump: float = 0.0
    """How far below its peak the arm may stand after what seemed a release and was a bump."""
    settled: bool = False
    """The hit is over: a fall from here is the arm going off the tube, no release."""

    @property
    def peak(self) -> float:
        """The hit's largest arm angle.

        A standstill is believed before a maximum of shaken readings, unless that surely lies
        higher; and of many readings the highest is likely one that noise pushed up.
        """
        return self.highest - self.highest_noise if self.held_top is None else self.held_top

    @property
    def held_top(self) -> float | None:
        """The highest standstill, where it is the top; None: the arm was surely higher."""
        if self.held is None or self.held < self.highest - 2.0 * self.highest_noise - DROP_DEG:
            return None
        return self.held

    @property
    def sure(self) -> bool:
        """Say whether no fault may have hidden a higher peak."""
        return self.unsure_below is None

    @property
    def in_hit(self) -> bool:
        """Say whether a hit is in progress."""
        return self.phase in ("bending", "holding", "releasing")


class TakeZero(NamedTuple):
    """Take zero over the next still half second; the arm then stands at this arm angle."""

    at: float = 0.0


class NewBend(NamedTuple):
    """The next bend: zero is due."""


class NewHit(NamedTuple):
    """One more hit, from where the arm stands."""


class SameHit(NamedTuple):
    """The last hit is taken back: ready again from where it started, or where the arm stands."""

    start: float
    first: bool


class Stood(NamedTuple):
    """Back to a hit that was over: its zero, and the rest that the tube came to."""

    zero: float
    rest: float


class Bite(NamedTuple):
    """The tube is latched and the arm goes back for a new hole; the next one takes up again."""


class Released(NamedTuple):
    """The person says that the pressure is off; a tiny springback may not show it."""


class LostArm(NamedTuple):
    """The arm is not known from here on."""


class FoundArm(NamedTuple):
    """The arm is known again."""


Mark: TypeAlias = (
    TakeZero | NewBend | NewHit | SameHit | Stood | Bite | Released | LostArm | FoundArm
)


class Zeroed(NamedTuple):
    """Zero is taken."""


class Lifted(NamedTuple):
    """The arm rises again after it came to rest, and nobody asked for a hit."""


class Peaked(NamedTuple):
    """Released: the hit's largest arm angle."""

    arm: float
    sure: bool = True
    """False when a fault may have hidden a larger one."""


class Rested(NamedTuple):
    """The arm stands still after a release; ``rest`` is None when it retracts by itself."""

    peak: float
    rest: float | None
    sure: bool
    """False when a fault may have hidden a larger peak."""
    broken: bool
    sd: float = 0.0
    """Standard deviation of peak and rest by the sensor's own account; 0 where it gives none."""


class NothingBent(NamedTuple):
    """The arm came back to where it started: slack, or elastic only."""


Happening: TypeAlias = Zeroed | Lifted | Peaked | Rested | NothingBent

_replace = msgspec.structs.replace


def mark(track: Track, what: Mark) -> Track:
    """Tell the tracker what the arm itself doesn't show."""
    match what:
        case TakeZero(at):
            track = _replace(
                track, phase="zeroing", zero_asked=True, zero_at=at, standstill=Standstill()
            )
        case NewBend():
            track = Track(track.follows_tube, zero=track.zero, arm=track.arm)
        case NewHit():
            track = _make_ready(track, _standing(track), first=False)
        case SameHit(start, first):
            # The tube may still be on the bender, bent: standing on it is no hit.
            track = _make_ready(track, max(start, _standing(track)), first=first)
        case Stood(zero, rest):
            track = Track(
                track.follows_tube,
                phase="resting",
                zero=zero,
                arm=track.arm + track.zero - zero,
                start=rest,
                first=False,
                settled=True,
            )
        case Bite():
            track = _bite(track)
        case Released():
            track = _replace(track, phase="releasing", said_off=True)
        case LostArm():
            track = _replace(track, broken=track.broken or track.in_hit, standstill=Standstill())
        case FoundArm():
            track = _replace(
                track, found=track.in_hit, held=None, at_top=None, standstill=Standstill()
            )
    return track


def follow(track: Track, reading: ArmEstimate) -> tuple[Track, Happening | None]:
    """Take one good reading; give the new state and what happened, if anything did."""
    arm = reading.arm_deg - track.zero
    if track.phase in ("bending", "holding") and not track.found:
        track = _seen_better(track, reading, arm)
    standstill = extend(track.standstill, reading.t, arm, reading.noise_deg)
    shaken = _shaken(track, reading)
    track = _replace(track, t=reading.t, arm=arm, standstill=standstill, shaken=shaken)
    if track.found:
        track = _replace(track, found=False, unsure_below=_surely_new(track, arm))
    match track.phase:
        case "zeroing":
            return _zeroing(track)
        case "ready":
            return _waiting(track, reading.noise_deg)
        case "bending" | "holding":
            return _loaded(track, reading)
        case "releasing":
            return _falling(track, reading.sd_deg, reading.noise_deg)
        case _:
            return _at_rest(track, reading.noise_deg)


def _make_ready(track: Track, start: float, *, first: bool) -> Track:
    return Track(
        track.follows_tube,
        phase="ready",
        zero=track.zero,
        arm=track.arm,
        standstill=track.standstill,
        start=start,
        first=first,
        highest=start,
    )


def _standing(track: Track) -> float:
    return track.standstill.mean if track.standstill.lasts(HOLD_WINDOW_S) else track.arm


def _bite(track: Track) -> Track:
    if track.latched is None:
        return _replace(track, latched=_standing(track), phase="holding")
    jump = _standing(track) - track.latched
    return _replace(
        track,
        zero=track.zero + jump,
        arm=track.arm - jump,
        standstill=track.standstill.shifted(-jump),
        latched=None,
        phase="holding",
    )


def _zeroing(track: Track) -> tuple[Track, Happening | None]:
    if not (track.zero_asked and track.standstill.lasts(ZERO_WINDOW_S)):
        return track, None
    at = track.zero_at
    off = track.standstill.mean - at
    zeroed = _replace(
        track,
        zero=track.zero + off,
        arm=track.arm - off,
        standstill=track.standstill.shifted(-off),
    )
    return _make_ready(zeroed, at, first=at == 0.0), Zeroed()


def _waiting(track: Track, noise: float) -> tuple[Track, Happening | None]:
    if track.arm > track.start + LIFT_DEG + 3.0 * noise:
        begun = _replace(track, phase="bending", highest=track.arm, highest_noise=noise)
        return begun, None
    # Pressure let off or the tube taken out: the hit starts from where the arm then stands.
    if track.standstill.lasts(REST_WINDOW_S) and track.standstill.mean < track.start:
        return _replace(track, start=track.standstill.mean), None
    return track, None


def _loaded(track: Track, reading: ArmEstimate) -> tuple[Track, Happening | None]:
    if track.latched is not None:
        return track, None
    track, let_off = _come_down(track, reading)
    if let_off:
        peaked = Peaked(track.peak, sure=track.sure)
        bump = _bump(track)
        return _replace(track, phase="releasing", peak_sd=reading.sd_deg, bump=bump), peaked
    noise, still = track.shaken, track.standstill.lasts(HOLD_WINDOW_S)
    if still and _stands_let_off(track):
        peaked = Peaked(track.peak, sure=track.sure)
        return _replace(track, phase="releasing", peak_sd=reading.sd_deg, bump=0.0), peaked
    if still:
        track = _stands(track, reading.noise_deg)
    above = track.held is not None and track.arm > track.held + DROP_DEG
    track = _replace(track, above_since=_since(track.above_since, reading.t, above))
    jolted = above and not _lasted(track.above_since, reading.t, ABOVE_S)
    if not jolted and track.arm - 2.0 * noise > track.highest - 2.0 * track.highest_noise:
        there = track.stood_there and not above
        track = _replace(
            track,
            highest=track.arm,
            highest_noise=noise,
            highest_at=reading.t,
            stood_there=there,
        )
    if track.unsure_below is not None and track.arm > track.unsure_below:
        track = _replace(track, unsure_below=None)
    return _replace(track, phase="holding" if still else "bending"), None


def _stands(track: Track, noise: float) -> Track:
    """Take in that the arm stands under load: a maximum just above is the stroke's bump."""
    mean = track.standstill.mean
    held = mean if track.held is None else max(track.held, mean)
    bumped = track.highest <= mean + BUMP_DEG + 2.0 * track.highest_noise
    if not bumped or track.stood_there:
        return _replace(track, held=held)
    if track.highest <= mean:
        return _replace(track, held=held, stood_there=True)
    return _replace(track, held=held, highest=held, highest_noise=noise, stood_there=True)


def _stands_let_off(track: Track) -> bool:
    """Say whether the arm stands as after a release straight from the stroke, of little springback.

    It is no further below its peak than a stroke's bump may reach, but took longer to come down.
    """
    if _bump(track) == 0.0 or track.standstill.since - track.highest_at < KNOCK_S:
        return False
    return track.peak - 2.0 * track.highest_noise - track.standstill.mean > LET_OFF_DEG


def _bump(track: Track) -> float:
    """Give how far an arm that never stood at its peak may seem to fall from it."""
    return 0.0 if track.stood_there or track.held_top is not None else BUMP_DEG


def _come_down(track: Track, reading: ArmEstimate) -> tuple[Track, bool]:
    """Take in how far the arm is below its peak; say whether it was let off."""
    unsure, bump = _peak_noise(track), _bump(track)
    drop = DROP_DEG + max(4.0 * track.shaken, unsure, bump)
    low = DROP_DEG + max(2.0 * track.shaken, unsure, bump)
    fallen = track.peak - track.arm
    track = _replace(track, sunk=min(track.sunk, max(fallen, 0.0)))
    down = fallen - track.sunk
    if down <= drop * NEAR or track.at_top is None:
        track = _replace(track, at_top=reading.t)
    track = _replace(
        track,
        below_since=_since(track.below_since, reading.t, down > drop),
        low_since=_since(track.low_since, reading.t, down > low),
    )
    if not (
        (down > 3.0 * drop and track.below_since != reading.t)
        or _lasted(track.below_since, reading.t, BELOW_S)
        or _lasted(track.low_since, reading.t, LOW_S)
    ):
        return track, False
    if _sinks(track, reading.t, down, drop):
        track = _replace(track, sunk=fallen, at_top=reading.t, below_since=None, low_since=None)
        return track, False
    return track, True


def _since(since: float | None, t: float, holds: bool) -> float | None:
    return (t if since is None else since) if holds else None


def _lasted(since: float | None, t: float, seconds: float) -> bool:
    return since is not None and t - since >= seconds


def _shaken(track: Track, reading: ArmEstimate) -> float:
    step = 0.0 if track.t is None else min(max(reading.t - track.t, 0.0), LONGEST_STEP_S)
    return max(reading.noise_deg, track.shaken * (1.0 - step / SHAKEN_S))


def _seen_better(track: Track, reading: ArmEstimate, arm: float) -> Track:
    jump = arm - track.arm
    moving = abs(reading.rate_dps) > STANDING_DPS
    if moving or abs(jump) <= JUMP_DEG + 4.0 * reading.noise_deg:
        return track
    held = None if track.held is None else track.held + jump
    return _replace(track, highest=track.highest + jump, held=held)


def _surely_new(track: Track, arm: float) -> float:
    """Give the arm angle past which a peak is a new one, for an arm just found here.

    While it was lost the arm may have been higher than anything seen. Was it pumped meanwhile, it
    may have sprung back as well, and rises by as much before the tube bends again.
    """
    if arm <= track.highest + LIFT_DEG:
        return track.highest + LIFT_DEG
    return arm * (1.0 + SPRUNG) + LIFT_DEG


def _sinks(track: Track, t: float, down: float, drop: float) -> bool:
    """Say whether an arm that has come down so far did it as slowly as under a leak."""
    if track.at_top is None:
        return False
    far = track.sunk + down > SINK_MOST_DEG + drop
    return down * (1.0 - NEAR) <= (LEAK_DPS if far else SINK_DPS) * (t - track.at_top)


def _peak_noise(track: Track) -> float:
    return track.highest_noise if track.held_top is None else 0.0


def _falling(track: Track, sd_deg: float, noise: float) -> tuple[Track, Happening | None]:
    if track.arm > track.highest + RESUME_DEG:
        return _replace(track, phase="bending", told=False), None
    if not track.standstill.lasts(REST_WINDOW_S, REST_DPS):
        return track, None
    rest = track.standstill.mean
    least = max(LEAST_SPRINGBACK_DEG, track.bump) + 2.0 * noise
    if not track.said_off and not track.told and rest > track.peak - least:
        stood = _stands(track, noise)
        sunk = max(stood.peak - rest, 0.0)
        return _replace(
            stood, phase="holding", sunk=sunk, at_top=None, below_since=None, low_since=None
        ), None
    if track.told and rest < track.peak * (1.0 - SPRUNG) - OFF_DEG:
        return _replace(track, phase="resting", settled=True), None
    if track.first and track.follows_tube and rest < NOTHING_DEG:
        return _make_ready(track, 0.0, first=True), NothingBent()
    return _replace(track, phase="resting", start=rest, told=True), Rested(
        peak=track.peak,
        rest=rest if track.follows_tube else None,
        sure=track.sure,
        broken=track.broken,
        sd=max(track.peak_sd, sd_deg),
    )


def _at_rest(track: Track, noise: float) -> tuple[Track, Happening | None]:
    falls = track.follows_tube and not track.settled
    if falls and track.arm < track.start - DROP_DEG - 3.0 * noise:
        return _replace(track, phase="releasing"), None
    if track.arm > track.start + LIFT_DEG + 3.0 * noise:
        return track, Lifted()
    return track, None
