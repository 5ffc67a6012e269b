"""What to tell the person at the pump: cue, how far to go, how many strokes. Pure.

The cue of a hit only ever moves on (pump, slow, stop, over): it never takes back a stop.
"""

import math

import msgspec

from benchmate.stream import Cue, Phase

REACTION_S = 0.25
"""From the cue to the hand standing still; the stop cue leads by what the arm will do meanwhile."""
LARGEST_LEAD_DEG = 1.5
SLOW_DEG = 3.0
"""Slow down no later than this far before the stop."""
SLOW_S = 1.0
"""Nor later than this long before it at the pace of the last strokes."""
SLOW_IN_STROKE_S = 0.5
"""Nor later than this long before it at the rate of the moment."""
PACE_S = 1.0
"""Time over which the pace is averaged: longer than a stroke."""
LEAD_OVER_S = 0.1
"""The stop leads by the mean rate of so long: by that of the moment a noisy sensor would stop each
hit where its error is largest."""
STROKE_DPS = 1.0
"""Faster than this is a stroke, slower a pause between two."""

_ORDER: tuple[Cue, ...] = ("pump", "slow", "stop", "over")


class Guide(msgspec.Struct, frozen=True):
    """What the guide remembers of the hit in progress."""

    cue: Cue = "wait"
    t: float | None = None
    pace_dps: float = 0.0
    stroking: bool = False
    strokes: int = 0
    stroke_from: float = 0.0
    stroke_deg: float = 0.0
    """Smoothed gain of a stroke; 0 until one is complete."""
    lately: tuple[tuple[float, float], ...] = ()
    """Times and rates of the last ``LEAD_OVER_S``."""


class Wanted(msgspec.Struct, frozen=True):
    """The hit's target, and how far past the cue this operator tends to go."""

    stop_angle: float
    over_angle: float
    lead_deg: float = 0.0


def advise(
    guide: Guide, *, phase: Phase, latched: bool, t: float, arm: float, rate: float, wanted: Wanted
) -> Guide:
    """Give the guide after one good reading. Degrees, seconds; ``rate`` in deg/s."""
    match phase:
        case "ready":
            return Guide(cue="pump", t=t, stroke_from=arm)
        case "bending" | "holding":
            if latched:
                return msgspec.structs.replace(guide, cue="wait", t=t)
            paced = _pace(guide, t, arm, rate)
            return msgspec.structs.replace(
                paced, cue=_later(guide.cue, _due(paced, arm, rate, wanted))
            )
        case "releasing":
            return msgspec.structs.replace(guide, cue="release", t=t)
        case _:
            return Guide(t=t)


def strokes_left(guide: Guide, to_go: float) -> float | None:
    """Give the pump strokes still to go at this hit's own stroke; None before one is complete."""
    if guide.stroke_deg <= 0.0 or to_go <= 0.0:
        return None
    return to_go / guide.stroke_deg


def _due(guide: Guide, arm: float, rate: float, wanted: Wanted) -> Cue:
    if arm > wanted.over_angle:
        return "over"
    lead = min(max(_lately_dps(guide), 0.0) * REACTION_S, LARGEST_LEAD_DEG) + wanted.lead_deg
    to_go = wanted.stop_angle - arm
    if to_go <= lead:
        return "stop"
    slow_from = max(SLOW_DEG, SLOW_S * guide.pace_dps, SLOW_IN_STROKE_S * rate)
    return "slow" if to_go <= slow_from else "pump"


def _later(standing: Cue, due: Cue) -> Cue:
    if standing not in _ORDER:
        return due
    return max(standing, due, key=_ORDER.index)


def _pace(guide: Guide, t: float, arm: float, rate: float) -> Guide:
    gap = min(t - guide.t, PACE_S) if guide.t is not None else 0.0
    pace = guide.pace_dps + (rate - guide.pace_dps) * gap / PACE_S
    stroking, strokes = guide.stroking, guide.strokes
    stroke_from, stroke_deg = guide.stroke_from, guide.stroke_deg
    if not stroking and rate > STROKE_DPS:
        stroking = True
        if strokes:
            gain = arm - stroke_from
            stroke_deg = gain if stroke_deg == 0.0 else stroke_deg + (gain - stroke_deg) / 3.0
        strokes += 1
        stroke_from = arm
    elif stroking and rate < 0.5 * STROKE_DPS:
        stroking = False
    lately = (*(each for each in guide.lately if t - each[0] <= LEAD_OVER_S), (t, rate))
    return Guide(guide.cue, t, pace, stroking, strokes, stroke_from, stroke_deg, lately)


def _lately_dps(guide: Guide) -> float:
    return math.fsum(rate for _, rate in guide.lately) / len(guide.lately)
