"""Where to stop, and what to do with the piece: the decision. Pure sums on a belief.

Over-bent is scrap and under-bent is one more press, so chances of over-bending are limited and
presses are priced.
"""

import math
from dataclasses import dataclass

from benchmate.springback.bend import VerdictWord
from benchmate.springback.limits import Limits
from benchmate.springback.mixture import Mixture
from benchmate.springback.noise import GAUGE_SD, READING_SD

PRESS_PRICE = 0.15
"""What one more press must add to the chance of tolerance to be worth pumping."""
KEPT_BACK = 0.2
"""Share of the limit on over-bending left to what the belief itself has wrong."""
_LEAST_ENDS = 0.01
"""However seldom a first press ends the bend, this share of the limit it may risk: else a narrow
tolerance on an unknown setup would be pumped towards from nowhere."""
_NEAR_DEG, _MOST_STEPS, _NO_CHANCE = 1e-9, 60, 1e-290
"""How near a stop angle is worked out, and in how many steps at most."""
_READING_PAYS_BELOW = 0.97
"""Chance of tolerance above which nobody is asked for a protractor."""
_WORTH_AT_LEAST = 0.03
"""Nor for less than this [deg]."""


@dataclass(frozen=True, slots=True)
class WantedAngle:
    """What the piece is to become. Degrees; ``over_limit`` a chance."""

    bend_angle: float
    """What is aimed at."""
    tolerance: float
    over_limit: float
    limits: Limits | None = None
    """What is in tolerance; None: ``bend_angle`` +- ``tolerance``."""

    @property
    def high(self) -> float:
        """Give the angle past which the bend is scrap."""
        return self.bend_angle + self.tolerance if self.limits is None else self.limits.highest

    @property
    def low(self) -> float:
        """Give the least angle in tolerance."""
        return self.bend_angle - self.tolerance if self.limits is None else self.limits.lowest


@dataclass(frozen=True, slots=True)
class NextPress:
    """What the next press would leave: ``at_zero`` after a peak of 0, ``slope`` more per degree."""

    at_zero: Mixture
    slope: float
    stop_mean: float
    """Where the person stops past the cue on average."""
    passed: float
    """The largest peak so far; 0 before the first."""

    def after(self, stop: float) -> Mixture:
        """Give the belief of the bend angle after a press to the stop angle."""
        return self.at_zero.moved((stop + self.stop_mean) * self.slope)

    def stop(self, wanted: WantedAngle) -> float:
        """Give the stop angle; never below what has been passed already.

        No tube bends further than the arm goes: a first press to half the bend angle can scrap
        nothing, however little is known, and one to nought would bend nothing.
        """
        first = self.passed == 0
        shift = best_shift(self.at_zero, wanted, first=first)
        least = wanted.bend_angle / 2 if first else 0.0
        return max(shift / self.slope - self.stop_mean, self.passed, least)

    def rise(self, stop: float) -> float:
        """Give how far past the largest peak so far the press will likely go."""
        return stop + self.stop_mean - self.passed

    def over_angle(self, wanted: WantedAngle) -> float:
        """Give the arm angle past which the bend is more likely over tolerance than not."""
        return max((wanted.high - self.at_zero.centre) / self.slope, self.passed, 0.0)


def best_shift(belief: Mixture, wanted: WantedAngle, *, first: bool) -> float:
    """Give how far to move the belief: as far as the limit on over-bending lets.

    Of the bends that a first press ends, at most ``over_limit`` may end over tolerance: a press
    that will hardly end the bend may hardly risk it, so that all presses of a bend together stay
    under the limit. A later press is held to the limit itself. Never past the best estimate.
    """
    limit = wanted.over_limit * (1 - KEPT_BACK)

    def excess(shift: float) -> tuple[float, float]:
        """Give log(chance of over / what is allowed) and its slope; -inf where there is none."""
        over, dense = belief.tail(wanted.high - shift)
        if over < _NO_CHANCE:
            return -math.inf, 0.0
        ends, ending = belief.tail(wanted.low - shift) if first else (1.0, 0.0)
        if ends < _LEAST_ENDS:
            ends, ending = _LEAST_ENDS, 0.0
        return math.log(over / (limit * ends)), dense / over - ending / ends

    high = wanted.bend_angle - belief.centre
    beyond, slope = excess(high)
    if beyond <= 0:
        return high
    low, step = high, belief.spread
    while excess(low)[0] > 0:
        low, step = low - step, 2 * step
    # Newton's method on the logarithm, which is nearly a parabola; halving where it leaves.
    shift = high
    for _ in range(_MOST_STEPS):
        step = beyond / slope if slope > 0 else math.inf
        if abs(step) < _NEAR_DEG or high - low < _NEAR_DEG:
            break
        shift = shift - step if low < shift - step < high else (low + high) / 2
        beyond, slope = excess(shift)
        low, high = (low, shift) if beyond > 0 else (shift, high)
    return shift


def reach(now: Mixture, wanted: WantedAngle) -> float:
    """Give the chance of tolerance if the piece could be put anywhere: how well it is known."""
    best = now.moved(best_shift(now, wanted, first=False))
    return best.between(wanted.low, wanted.high)


def judge_piece(
    now: Mixture, after: Mixture, wanted: WantedAngle, *, gains: bool, read: bool
) -> VerdictWord:
    """Give the verdict on a piece believed ``now``; the press to the stop angle gives ``after``.

    Pressing on can be repeated until the angle seems right, short of an over-bent press; how often
    what seems right is right is the ``reach``. ``gains`` says whether the stop angle lies past what
    was passed, ``read`` whether the angle now was measured.
    """
    known, over = reach(now, wanted), now.above(wanted.high)
    if over > 0.5:
        # Nobody scraps a tube on a guess.
        return "over" if read or known > 0.5 or over > 0.95 else "measure"
    tolerable = now.between(wanted.low, wanted.high)
    gain = (1 - after.above(wanted.high)) * known - tolerable
    if gains and gain > PRESS_PRICE * known:
        return "again"
    return "accept" if read or tolerable > 0.5 else "measure"


def worth_of_reading(now: Mixture, wanted: WantedAngle, verdict: VerdictWord) -> float:
    """Give by how much a protractor reading would shrink the uncertainty; 0 where it wouldn't pay.

    It pays where the angle is too little known to be brought into tolerance with any certainty, and
    where the verdict would end the bend with an uncertainty that a reading takes away.
    """
    worth = now.spread - now.spread * READ_SD / math.hypot(now.spread, READ_SD)
    sure = verdict == "again" or now.between(wanted.low, wanted.high) > _READING_PAYS_BELOW
    if worth < _WORTH_AT_LEAST or (sure and reach(now, wanted) > _READING_PAYS_BELOW):
        return 0.0
    return worth


READ_SD = math.hypot(READING_SD["protractor"], GAUGE_SD)
"""Standard deviation of one protractor reading."""
