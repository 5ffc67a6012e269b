"""Where to stop, and what to do with the piece: the decision. Pure sums on a belief."""

import math
from dataclasses import dataclass

from benchmate.springback.bend import Aim, Verdict
from benchmate.springback.noise import GAUGE_SD, PROTRACTOR_SD
from benchmate.springback.prior import Array

PRESS_PRICE = 0.08
"""What one more press is worth, in chances of a bend in tolerance."""
NEVER = 1e-9


@dataclass(frozen=True, slots=True)
class Mixture:
    """Normal beliefs of one angle, weighted."""

    chance: tuple[float, ...]
    mean: tuple[float, ...]
    sd: tuple[float, ...]

    @classmethod
    def of(cls, chance: Array, mean: Array, sd: Array) -> "Mixture":
        """Gather the stories that count."""
        kept = chance > 1e-6
        weight = chance[kept] / chance[kept].sum()
        return cls(
            tuple(weight.tolist()),
            tuple(mean[kept].tolist()),
            tuple(max(sd, NEVER) for sd in sd[kept].tolist()),
        )

    def above(self, angle: float) -> float:
        """Give the chance of lying above the angle."""
        return sum(
            weight * 0.5 * math.erfc((angle - mean) / (sd * math.sqrt(2)))
            for weight, mean, sd in zip(self.chance, self.mean, self.sd, strict=True)
        )

    def moved(self, by: float) -> "Mixture":
        """Give the same beliefs, all moved."""
        return Mixture(self.chance, tuple(mean + by for mean in self.mean), self.sd)

    @property
    def centre(self) -> float:
        """Give the mean."""
        return sum(w * m for w, m in zip(self.chance, self.mean, strict=True))

    @property
    def spread(self) -> float:
        """Give the standard deviation."""
        centre = self.centre
        return math.sqrt(
            sum(
                w * (sd**2 + (m - centre) ** 2)
                for w, m, sd in zip(self.chance, self.mean, self.sd, strict=True)
            )
        )


@dataclass(frozen=True, slots=True)
class Wanted:
    """What the piece is to become."""

    bend_angle: float
    tolerance: float
    over_limit: float

    @property
    def high(self) -> float:
        """Give the angle past which the bend is scrap."""
        return self.bend_angle + self.tolerance

    @property
    def low(self) -> float:
        """Give the least angle in tolerance."""
        return self.bend_angle - self.tolerance


def best_shift(unmoved: Mixture, wanted: Wanted, *, first: bool) -> float:
    """Give how far to move the belief of the next press: as far as the limit on over-bending lets.

    Of the bends that a first press ends, at most ``over_limit`` may end over tolerance: a press
    that will hardly end the bend may hardly risk it, so that all presses of a bend together stay
    under the limit. A later press is held to the limit itself. Never past the best estimate.
    """
    high = wanted.bend_angle - unmoved.centre

    def too_far(shift: float) -> bool:
        moved = unmoved.moved(shift)
        over = moved.above(wanted.high)
        ends = moved.above(wanted.low) if first else 1.0
        return over > wanted.over_limit * ends

    if not too_far(high):
        return high
    step = unmoved.spread
    while too_far(high - step):
        step *= 2
    low = high - step
    for _ in range(30):
        middle = (low + high) / 2
        low, high = (low, middle) if too_far(middle) else (middle, high)
    return low


def decide(
    wanted: Wanted,
    now: Mixture | None,
    next_at_zero: Mixture,
    *,
    slope: float,
    passed: float,
    stop_mean: float,
) -> Aim:
    """Give verdict and stop angle.

    ``now`` is the belief of the bend angle in the tube (None before any press), ``next_at_zero`` of
    what a peak of 0 would leave, ``slope`` its growth with the peak, ``passed`` the largest peak so
    far, ``stop_mean`` where the person stops past the cue on average.
    """
    shift = best_shift(next_at_zero, wanted, first=now is None)
    stop = max(shift / slope - stop_mean, 0.0)
    over_angle = (wanted.high - next_at_zero.centre) / slope
    if now is None:
        after = next_at_zero.moved((stop + stop_mean) * slope)
        return Aim(
            verdict="again",
            stop_angle=stop,
            sd=after.spread,
            bend_angle=0.0,
            stop_sd=after.spread,
            over_angle=over_angle,
        )
    over = now.above(wanted.high)
    under = 1 - now.above(wanted.low)
    gains = stop > passed
    stop = max(stop, passed)
    after = next_at_zero.moved((stop + stop_mean) * slope)
    if over > 0.5:
        verdict: Verdict = "over"
    elif gains and under > PRESS_PRICE + after.above(wanted.high):
        verdict = "again"
    else:
        verdict = "accept"
    return Aim(
        verdict=verdict,
        stop_angle=stop,
        sd=now.spread,
        bend_angle=max(now.centre, 0.0),
        stop_sd=after.spread,
        over_angle=max(over_angle, passed),
        worth=_worth(now),
    )


def _worth(now: Mixture) -> float:
    read = PROTRACTOR_SD**2 + GAUGE_SD**2
    var = now.spread**2
    return now.spread - math.sqrt(var * read / (var + read))
