"""Has a die changed? A two-sided CUSUM over what each bend said of it.

E. S. Page, "Continuous inspection schemes", Biometrika 41 (1954) 100-115; as tabular CUSUM in
D. C. Montgomery, "Introduction to Statistical Quality Control". The limit follows from how seldom
a steady die may be called changed.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import NamedTuple

import numpy as np

FOUND_DEG = 0.5
"""The change that the detector is built to find."""
SHARE = 0.42
"""Reference value over that change. Half finds it soonest on average; a little less finds it more
often within so many bends at as many false alarms (0.967 for 0.954 within 12 at 0.35 degree)."""
BENDS_TO_FALSE_ALARM = 1900.0
"""Bends of a steady die from one false alarm to the next, by its slack."""
BENDS_TO_FALSE_ALARM_BY_SPRINGBACK = 6000.0
"""The same of what is watched beside the slack: both together stay under one in 1,000."""
SETTLING = 5
"""First bends of a new or repaired printed core that nothing is told from: steady after about five
strokes (Metals 11 (2021) 1256)."""
LEARNING = 8
"""Bends that make the first reference."""
ODD = 3.5
"""Standard deviations at which a single bend's say is cut off: one slipped clamp is no drift
(J. M. Lucas and R. B. Crosier, "Robust CUSUM", Communications in Statistics 11 (1982) 2669)."""
_PRIOR_WEIGHT = 12.0
"""Bends that the expected scatter counts for beside the scatter seen."""
_NODES, _WEIGHTS = np.polynomial.hermite_e.hermegauss(9)
_WEIGHTS = _WEIGHTS / _WEIGHTS.sum()


class Sums(NamedTuple):
    """The two sums of a tabular CUSUM, in standard deviations."""

    high: float = 0.0
    low: float = 0.0

    def after(self, z: float, k: float) -> "Sums":
        """Give the sums after one more deviation."""
        return Sums(max(0.0, self.high + z - k), max(0.0, self.low - z - k))

    @property
    def largest(self) -> float:
        """Give the greater of the two."""
        return max(self)


class Point(NamedTuple):
    """What one bend said."""

    seq: int
    """The bend's number in the store."""
    value_deg: float
    sd_deg: float
    """The scatter expected of it."""


@dataclass(frozen=True, slots=True)
class Drift:
    """A change that was found."""

    since_seq: int
    """The bend from which it looks changed."""
    found_seq: int
    """The bend at which it was sure enough."""
    size_deg: float
    sd_deg: float


def changes_in(
    points: Sequence[Point],
    *,
    settling: int = 0,
    found_deg: float = FOUND_DEG,
    bends_to_false_alarm: float = BENDS_TO_FALSE_ALARM,
) -> tuple[Drift, ...]:
    """Look for lasting changes in a series of one die, oldest first; none: it is as it was.

    The reference is what the bends so far came to, those since the sums last stood at nought left
    out: a change doesn't hide in the mean that it is held against. How well so many bends tell
    the reference raises the limit, so that a young series is no more often called changed. After
    a change the reference begins anew with the bends to come: those that were picked as the
    change's would make of one false alarm a second.
    """
    found: list[Drift] = []
    reference, sums = _Reference(), Sums()
    run: list[Point] = []
    for point in points[settling:]:
        if reference.count < LEARNING:
            reference.take(point)
            continue
        sd = reference.sd_deg(point)
        k = min(max(SHARE * found_deg / sd, 0.25), 1.5)
        z = (point.value_deg - reference.mean) / sd
        sums = sums.after(min(max(z, -ODD), ODD), k)
        run.append(point)
        if sums.largest == 0.0:
            for each in run:
                reference.take(each)
            run = []
        elif sums.largest > limit_for(round(k, 2), reference.count, bends_to_false_alarm):
            since = _changed(reference, run, upwards=sums.high > sums.low)
            found.append(_told(reference, since))
            reference, sums, run = _Reference(), Sums(), []
    return tuple(found)


def drift_in(
    points: Sequence[Point],
    *,
    settling: int = 0,
    bends_to_false_alarm: float = BENDS_TO_FALSE_ALARM,
) -> Drift | None:
    """Give the latest lasting change in a series of one die; None: it is as it was."""
    found = changes_in(points, settling=settling, bends_to_false_alarm=bends_to_false_alarm)
    return found[-1] if found else None


def _changed(reference: "_Reference", run: list[Point], *, upwards: bool) -> list[Point]:
    """Give the bends since the likeliest start of a step.

    It is the tail of the run with the greatest sum over the root of its length.
    """
    sign = 1.0 if upwards else -1.0
    off = [sign * (point.value_deg - reference.mean) for point in run]
    strength = [sum(off[at:]) / math.sqrt(len(off) - at) for at in range(len(off))]
    return run[max(range(len(off)), key=strength.__getitem__) :]


def _told(reference: "_Reference", since: Sequence[Point]) -> Drift:
    size = sum(point.value_deg for point in since) / len(since) - reference.mean
    sd = reference.sd_deg(since[0]) * math.sqrt(1 / len(since) + 1 / reference.count)
    return Drift(since[0].seq, since[-1].seq, size, sd)


class _Reference:
    """Running mean, and scatter held to what was expected until enough was seen."""

    def __init__(self) -> None:
        self.count, self.mean, self._squares = 0, 0.0, 0.0

    def take(self, point: Point) -> None:
        self.count += 1
        off = point.value_deg - self.mean
        self.mean += off / self.count
        self._squares += off * (point.value_deg - self.mean) / point.sd_deg**2

    def sd_deg(self, point: Point) -> float:
        share = (_PRIOR_WEIGHT + self._squares) / (_PRIOR_WEIGHT + max(self.count - 1, 0))
        return point.sd_deg * math.sqrt(share)


def average_run_length(k: float, h: float, shift: float = 0.0) -> float:
    """Give the mean number of normal observations to an alarm of the two-sided CUSUM.

    D. Siegmund's approximation, "Sequential Analysis" (1985): one-sided
    (exp(-2 d b) + 2 d b - 1) / (2 d^2) with d the shift less k and b = h + 1.166; the two sides
    join as 1/L = 1/L+ + 1/L- (K. W. Kemp, J. Royal Statistical Society B 23 (1961) 149).
    """
    return 1 / sum(1 / _one_sided(side * shift - k, h + 1.166) for side in (1, -1))


def _one_sided(drift: float, b: float) -> float:
    if abs(drift) < 1e-6:
        return b * b
    if -2 * drift * b > 700:
        return math.inf
    return (math.exp(-2 * drift * b) + 2 * drift * b - 1) / (2 * drift * drift)


@lru_cache(maxsize=4096)
def limit_for(k: float, count: int, bends_to_false_alarm: float) -> float:
    """Give the limit h at which a steady series is called changed once in so many bends.

    The reference is a mean of ``count`` bends and so itself off by N(0, 1/count): the chance of an
    alarm is averaged over it.
    """
    low, high = 0.5, 30.0
    for _ in range(24):
        middle = (low + high) / 2
        off = _NODES / math.sqrt(count)
        rate = sum(
            weight / average_run_length(k, middle, shift)
            for shift, weight in zip(off.tolist(), _WEIGHTS.tolist(), strict=True)
        )
        if rate > 1 / bends_to_false_alarm:
            low = middle
        else:
            high = middle
    return (low + high) / 2
