"""What to tell the person at the pump: cue, how far to go, how many strokes. Pure.

Within a hit the cue moves on (pump, slow, stop, over), and once the arm has stood still it becomes
release; only a stop that was missed by more than this person's own scatter goes back to slow: one
short stroke more needs no release. Where to cue the stop follows from how strokes end: a stroke's
speed is a raised cosine in time, and what this person adds to it is learned from stop to stop. An
arm that goes on steadily, as a pump run by a motor moves it, goes on so until the hand is off.
"""

import math
from typing import NamedTuple

import msgspec

from benchmate.stream import Cue, Phase

REACTION_S = 0.25
"""From the cue to the hand standing still, of a person not met yet; braking counts by half."""
REACTION_S_LEAST, REACTION_S_MOST = 0.1, 0.6
SCATTER_DEG = 0.2
"""How far from where it was expected such a person's arm comes to stand, 1 sd."""
STOPS_BEHIND = 5.0
"""Stops that those two are worth, and"""
STOPS_KEPT = 30.0
"""stops that count at most: habits change."""
LARGEST_LEAD_DEG = 3.0
SLOW_DEG = 3.0
"""Slow down no later than this far before the stop."""
SLOW_S = 1.0
"""Nor later than this long before it at the pace of the last strokes."""
SLOW_IN_STROKE_S = 0.5
"""Nor later than this long before it at the rate of the moment."""
SPARE_DEG = 0.3
"""Nor later than where one more of this person's strokes would end so near to the stop."""
PACE_S = 1.0
"""Time over which the pace is averaged: longer than a stroke."""
MEMORY_S = 0.05
"""A stroke's speed and how it changes are taken over about so long: at the rate of the moment a
noisy sensor would stop each hit where its error is largest."""
STROKE_DPS = 1.0
"""Faster than this is a stroke, slower a pause between two."""
LEVEL_SHARE = 0.2
"""A speed that keeps so near to what it was"""
LEVEL_PART = 0.5
"""for so much of a stroke's time is steady: near its top a raised cosine keeps so for a third."""
STROKE_S, SHORT_STROKE_S = 0.9, 0.6
"""How long a stroke lasts, and a short one, where this person's is not known."""
MOST_STROKE_DEG = 10.0
"""What goes further is no stroke of a hand pump."""
PAUSE_S = 0.2
"""From the end of a stroke to the next one's beginning, at the least."""
SHARE = 1.0 / 3.0
"""What a stroke counts in the usual one."""
STOOD_S = 0.5
"""Having stood so long the arm stands: the stop was reached, or was missed."""
HELD_S = 0.3
"""Of which so long is over when the phase says holding."""
LEAST_SHORT_DEG, MOST_SHORT_DEG = 0.15, 0.25
"""A stop missed by less is none to take back, one missed by more is, whatever the scatter."""
RESUMED_DEG = 0.3
"""Risen by so much since the cue was release, the arm is pumped on."""

_ORDER: tuple[Cue, ...] = ("pump", "slow", "stop", "over")


class Hand(msgspec.Struct, frozen=True):
    """What is known of the person at the pump, from the strokes and stops made so far."""

    reaction_s: float = REACTION_S
    scatter_deg: float = SCATTER_DEG
    stops: float = STOPS_BEHIND
    stroke_deg: float = 0.0
    """Usual gain and"""
    stroke_s: float = STROKE_S
    """duration of a stroke; 0 until one is complete."""
    short_s: float = SHORT_STROKE_S

    @property
    def short_deg(self) -> float:
        """Give how far short of its stop an arm may stand that nobody presses on."""
        return min(max(self.scatter_deg, LEAST_SHORT_DEG), MOST_SHORT_DEG)


class Speed(NamedTuple):
    """The stroke's speed [deg/s], how it changes [deg/s2], and how noisy its readings are.

    The critically damped g-h filter (E. Brookner, "Tracking and Kalman Filtering Made Easy", 1998,
    section 1.3: g = 1 - q^2, h = (1 - q)^2 with q what a step of the memory leaves).
    """

    dps: float = 0.0
    dps2: float = 0.0
    variance: float = 0.0

    def seen(self, rate: float, dt: float) -> "Speed":
        """Give it after one more rate, so much later."""
        left = math.exp(-dt / MEMORY_S)
        ahead = self.dps + self.dps2 * dt
        miss = rate - ahead
        return Speed(
            ahead + (1.0 - left * left) * miss,
            self.dps2 + (1.0 - left) ** 2 * miss / max(dt, 1e-4),
            self.variance + (1.0 - left) * (miss * miss - self.variance),
        )

    def change(self, dt: float, usual: float) -> float:
        """Give how it changes, believed as far as it stands out of the noise; ``usual``: its sd."""
        left = math.exp(-dt / MEMORY_S)
        noise = 2.0 * ((1.0 - left) / (1.0 + left)) ** 3 / max(dt, 1e-4) ** 2 * self.variance
        return self.dps2 * usual**2 / (usual**2 + noise) if usual > 0.0 else 0.0


class Expected(NamedTuple):
    """Where the arm was expected to stand when the stop was cued, and how fast it was by then."""

    arm: float
    dps: float


class Guide(msgspec.Struct, frozen=True):
    """What the guide remembers of the hit in progress, and of the person."""

    cue: Cue = "wait"
    t: float | None = None
    hand: Hand = Hand()
    pace_dps: float = 0.0
    stroking: bool = False
    strokes: int = 0
    stroke_from: float = 0.0
    top_dps: float = 0.0
    """Highest speed of the stroke."""
    stroke_deg: float = 0.0
    """Smoothed gain of a stroke, pause to pause; 0 until one is complete."""
    speed: Speed = Speed()
    change_dps2: float = 0.0
    """How the speed changes, as far as that is believed."""
    level_dps: float = 0.0
    """Speed that it has kept near to, and"""
    level_since: float = 0.0
    """since when."""
    expected: Expected | None = None
    held_since: float | None = None
    released_at: float | None = None
    """Arm angle at which the cue became release."""


class Wanted(msgspec.Struct, frozen=True):
    """The hit's target."""

    stop_angle: float
    over_angle: float
    lead_deg: float = 0.0
    passed: float | None = None
    """The old peak of a press again: nothing bends before the arm is past it."""


def afresh(guide: Guide) -> Guide:
    """Give the guide at the beginning of a hit by the same person."""
    return Guide(hand=guide.hand)


def advise(
    guide: Guide, *, phase: Phase, latched: bool, t: float, arm: float, rate: float, wanted: Wanted
) -> Guide:
    """Give the guide after one good reading. Degrees, seconds; ``rate`` in deg/s."""
    match phase:
        case "ready":
            cue: Cue = "slow" if _slow_from_the_start(guide.hand, arm, wanted) else "pump"
            return Guide(cue=cue, t=t, hand=guide.hand, stroke_from=arm)
        case "bending" | "holding":
            if latched:
                return msgspec.structs.replace(guide, cue="wait", t=t, held_since=None)
            return _cued(_followed(guide, t, arm, rate), phase, arm, wanted)
        case "releasing":
            return msgspec.structs.replace(guide, cue="release", t=t, released_at=None)
        case _:
            return Guide(t=t, hand=guide.hand)


def strokes_left(guide: Guide, to_go: float) -> float | None:
    """Give the pump strokes still to go at this hit's own stroke; None before one is complete."""
    if guide.stroke_deg <= 0.0 or to_go <= 0.0:
        return None
    return to_go / guide.stroke_deg


def _slow_from_the_start(hand: Hand, arm: float, wanted: Wanted) -> bool:
    """Say whether a press again has so little to go past the old peak that no full stroke fits."""
    if wanted.passed is None:
        return False
    return wanted.stop_angle - arm <= max(hand.stroke_deg, SLOW_DEG)


def _cued(guide: Guide, phase: Phase, arm: float, wanted: Wanted) -> Guide:
    t = guide.t or 0.0
    since = (t if guide.held_since is None else guide.held_since) if phase == "holding" else None
    guide = msgspec.structs.replace(guide, held_since=since)
    if since is not None and t - since >= STOOD_S - HELD_S and guide.cue in ("stop", "over"):
        return _stood(guide, arm, wanted)
    if guide.cue == "release":
        if guide.released_at is None:
            # What was taken for a release was none: the arm stands where it stood.
            return msgspec.structs.replace(guide, cue="stop")
        if arm <= guide.released_at + RESUMED_DEG:
            return guide
        guide = msgspec.structs.replace(guide, cue="stop", released_at=None)
    due = _due(guide, arm, wanted)
    cue = _later(guide.cue, due)
    if cue == "stop" and guide.cue != "stop":
        expected = Expected(arm + _lead(guide), guide.speed.dps)
        guide = msgspec.structs.replace(guide, expected=expected)
    return msgspec.structs.replace(guide, cue=cue)


def _stood(guide: Guide, arm: float, wanted: Wanted) -> Guide:
    """Take in where the arm has come to stand after the stop cue."""
    hand = guide.hand if guide.expected is None else _learned(guide.hand, guide.expected, arm)
    guide = msgspec.structs.replace(guide, hand=hand, expected=None, held_since=None)
    reached = arm >= wanted.stop_angle - hand.short_deg
    bent = wanted.passed is None or arm > wanted.passed
    if (reached and bent) or arm > wanted.over_angle:
        return msgspec.structs.replace(guide, cue="release", released_at=arm)
    return msgspec.structs.replace(guide, cue="slow")


def _learned(hand: Hand, expected: Expected, arm: float) -> Hand:
    """Give what is known of the hand after one more stop; a wild one counts as three scatters."""
    most = 3.0 * hand.scatter_deg
    miss = min(max(arm - expected.arm, -most), most)
    stops = min(hand.stops + 1.0, STOPS_KEPT)
    slower = miss / max(expected.dps, STROKE_DPS) / stops
    scatter = math.sqrt(hand.scatter_deg**2 + (miss**2 - hand.scatter_deg**2) / stops)
    return msgspec.structs.replace(
        hand,
        reaction_s=min(max(hand.reaction_s + slower, REACTION_S_LEAST), REACTION_S_MOST),
        scatter_deg=scatter,
        stops=stops,
    )


def _due(guide: Guide, arm: float, wanted: Wanted) -> Cue:
    if arm > wanted.over_angle:
        return "over"
    to_go = wanted.stop_angle - arm - wanted.lead_deg
    lead = _lead(guide)
    if to_go <= (lead + guide.hand.short_deg if _dies_away(guide) else lead):
        return "stop"
    end = _run_on(guide, math.inf)
    slow_from = max(
        SLOW_DEG,
        SLOW_S * guide.pace_dps,
        SLOW_IN_STROKE_S * guide.speed.dps,
        end + guide.hand.stroke_deg + SPARE_DEG,
    )
    return "slow" if to_go <= slow_from else "pump"


def _later(standing: Cue, due: Cue) -> Cue:
    if standing not in _ORDER:
        return due
    return max(standing, due, key=_ORDER.index)


def _dies_away(guide: Guide) -> bool:
    """Say whether the stroke ends by itself, or none is being made: the next is not begun yet."""
    return not guide.stroking or (guide.change_dps2 < 0.0 and not _steady(guide))


def _steady(guide: Guide) -> bool:
    """Say whether the speed has been the same for longer than it can be in a stroke."""
    lasted = (guide.t or 0.0) - guide.level_since
    return guide.stroking and lasted > LEVEL_PART * _stroke_s(guide)


def _stroke_s(guide: Guide) -> float:
    return guide.hand.stroke_s if guide.cue == "pump" else guide.hand.short_s


def _lead(guide: Guide) -> float:
    """Give how far the arm goes on when the stop is cued now.

    Cued early enough in a stroke that dies away, the hand doesn't begin another.
    """
    more = PAUSE_S if _dies_away(guide) else 0.0
    return _run_on(guide, guide.hand.reaction_s + more)


def _run_on(guide: Guide, seconds: float) -> float:
    """Give how far [deg] the stroke goes in the next seconds, at most to its end; 0 without one.

    Speed goes as A (1 - cos wt) / 2, w from how long such a stroke of this person lasts; where in
    the stroke the hand is follows from the speed and how it changes, by w cot(wt / 2).
    """
    speed, change = guide.speed.dps, guide.change_dps2
    if not guide.stroking or speed <= 0.0:
        return 0.0
    if _steady(guide) and seconds < math.inf:
        return min(speed * seconds, LARGEST_LEAD_DEG)
    w = math.tau / _stroke_s(guide)
    at = 2.0 * math.atan2(w * speed, change)
    lasts = min(seconds, (math.tau - at) / w)
    top = 2.0 * speed / max(1.0 - math.cos(at), 1e-3)
    gain = 0.5 * top * (lasts - (math.sin(at + w * lasts) - math.sin(at)) / w)
    return min(max(gain, 0.0), LARGEST_LEAD_DEG if seconds < math.inf else math.inf)


def _followed(guide: Guide, t: float, arm: float, rate: float) -> Guide:
    """Take one reading into pace and strokes."""
    gap = min(t - guide.t, PACE_S) if guide.t is not None else 0.0
    pace = guide.pace_dps + (rate - guide.pace_dps) * gap / PACE_S
    seen = guide.speed.seen(rate, gap)
    change = seen.change(gap, math.pi / guide.hand.short_s * abs(seen.dps))
    speed = seen.dps
    level, since = guide.level_dps, guide.level_since
    if abs(speed - level) > LEVEL_SHARE * abs(level):
        level, since = speed, t
    guide = msgspec.structs.replace(
        guide, t=t, pace_dps=pace, speed=seen, change_dps2=change, level_dps=level,
        level_since=since,
    )  # fmt: skip
    if not guide.stroking and speed > STROKE_DPS:
        smoothed = guide.stroke_deg
        if guide.strokes:
            gain = arm - guide.stroke_from
            smoothed = gain if smoothed == 0.0 else smoothed + SHARE * (gain - smoothed)
        return msgspec.structs.replace(
            guide,
            stroking=True,
            strokes=guide.strokes + 1,
            stroke_from=arm,
            stroke_deg=smoothed,
            top_dps=speed,
        )
    if guide.stroking and speed < 0.5 * STROKE_DPS:
        return msgspec.structs.replace(guide, stroking=False, hand=_stroked(guide, arm))
    if guide.stroking and speed > guide.top_dps:
        return msgspec.structs.replace(guide, top_dps=speed)
    return guide


def _stroked(guide: Guide, arm: float) -> Hand:
    """Give what is known of the hand after a stroke that nobody cut short."""
    hand, gain = guide.hand, arm - guide.stroke_from
    if guide.cue not in ("pump", "slow") or not 0.1 < gain <= MOST_STROKE_DEG:
        return hand
    # A raised cosine's mean speed is half its highest; its ends lie below what counts as a stroke.
    lasts = min(max(2.0 * gain / guide.top_dps, 0.2), 3.0)
    if guide.cue == "slow":
        return msgspec.structs.replace(hand, short_s=hand.short_s + SHARE * (lasts - hand.short_s))
    first = hand.stroke_deg == 0.0
    return msgspec.structs.replace(
        hand,
        stroke_deg=gain if first else hand.stroke_deg + SHARE * (gain - hand.stroke_deg),
        stroke_s=hand.stroke_s + SHARE * (lasts - hand.stroke_s),
    )
