"""An arm that moves in strokes or stands: a filter for each, weighed by their likelihood.

The interacting multiple model of two modes (H. A. P. Blom, Y. Bar-Shalom, "The interacting multiple
model algorithm for systems with Markovian switching coefficients", IEEE Trans. Automatic Control
33, 1988). A stroke may begin at any time. It ends only where rate and acceleration have died away:
what goes over to the standing filter is weighed by how likely that is, and told of it (a product of
Gaussians). So a standstill is used as soon as it shows and no sooner, and the standard deviation
holds the uncertainty between the two.
"""

import math
from collections.abc import Callable, Sequence
from typing import NamedTuple

from benchmate.sensing.filters.kalman import (
    ACCELERATION,
    ANGLE,
    JERK,
    LENGTH,
    RATE,
    STROKE_ACCELERATION,
    STROKE_W,
    ArmKalmanFilter,
)

BEGINS_PER_S = 0.3
"""How often a stroke begins in a second of standing."""
ENDS_PER_S = 40.0
"""How often one ends in a second without rate and acceleration."""
NO_RATE = math.radians(0.1)
NO_ACCELERATION = math.radians(20.0)
"""What counts as none, 1 sd [rad/s, rad/s^2]."""
LONGEST_S = 3.0
"""A standstill is averaged over no longer: an arm may creep."""
RULED_OUT = 1e-9
UNSEEN = 0.3
"""How much of a sample's variance a stroke has gone on before it shows."""
UNLIKELY = 1e-4
"""A stroke is never as unlikely: it may begin at any time."""
NEVER, HARDLY = 1e-12, 1e-300
"""Neither mode is ever ruled out for good."""


class ModeEstimate(NamedTuple):
    """A filter's state and covariance, and how likely they are."""

    share: float
    state: Sequence[float]
    covariance: Sequence[Sequence[float]]


class InteractingMultipleModel:
    """The arm's angle and rate [rad, rad/s] by two filters; a step is ``predict``, then ``see``.

    ``begin`` makes a filter as it starts; ``least_sd`` is the best that a standstill's angle is
    ever believed to, ``unseen`` how far a stroke goes before one sample shows it [rad].
    """

    def __init__(
        self, begin: Callable[[], ArmKalmanFilter], least_sd: float, unseen: float = 0.0
    ) -> None:
        self._moving, self._still = begin(), begin()
        _stop(self._still)
        self._unseen = unseen
        self._least_variance = least_sd * least_sd
        self.standing = 0.5
        """How likely it is that the arm stands."""

    @property
    def angle(self) -> float:
        """Give the angle [rad]."""
        w = self.standing
        return w * self._still.state[ANGLE] + (1.0 - w) * self._moving.state[ANGLE]

    @property
    def rate(self) -> float:
        """Give the rate [rad/s]."""
        return (1.0 - self.standing) * self._moving.state[RATE]

    @property
    def angle_sd(self) -> float:
        """Give the standard deviation of the angle [rad], that between the modes with it."""
        w = self.standing
        apart = self._still.state[ANGLE] - self._moving.state[ANGLE]
        still, moving = (f.covariance[ANGLE][ANGLE] for f in (self._still, self._moving))
        return math.sqrt(max(w * still + (1.0 - w) * (moving + w * apart * apart), 0.0))

    def predict(self, dt: float, length_variance: float = 0.0) -> None:
        """Let ``dt`` seconds pass; in a radian gravity's length wanders by so much [g^2]."""
        still, moving, stands = self._still, self._moving, self.standing
        begun = stands * -math.expm1(-BEGINS_PER_S * dt)
        ended = _ended(moving, (1.0 - stands) * -math.expm1(-ENDS_PER_S * dt))
        # What was as good as ruled out has nothing to stand on but where the arm is now.
        stood = ModeEstimate(
            stands - begun if stands > RULED_OUT else 0.0, still.state, still.covariance
        )
        went_on = ModeEstimate(
            max(1.0 - stands - ended.share, NEVER), moving.state, moving.covariance
        )
        now_still = _one(stood, ended)
        now_moving = _one(went_on, ModeEstimate(begun, still.state, _begun(still, self._unseen)))
        still.state, still.covariance = list(now_still.state), _rows(now_still)
        moving.state, moving.covariance = list(now_moving.state), _rows(now_moving)
        self.standing = max(now_still.share / (now_still.share + now_moving.share), NEVER)
        still.wait(dt, self._least_variance, length_variance)
        moving.predict(dt, length_variance)

    def jolt(self, acceleration: float) -> None:
        """Be told that, if it moves, the arm may stop as hard as that [rad/s^2], 1 sd."""
        self._moving.jolt(acceleration)

    def least_innovation(
        self, of: Callable[[ArmKalmanFilter], tuple[float, float]]
    ) -> tuple[float, float]:
        """Give the innovation and its variance of the filter that is surprised less.

        One that is all but ruled out is not asked: by chance it may foretell anything.
        """
        modes = ((self._still, self.standing), (self._moving, 1.0 - self.standing))
        found = [of(arm) for arm, weight in modes if weight > UNLIKELY]
        return min(found, key=lambda each: each[0] * each[0] / each[1])

    def see(self, show: Callable[[ArmKalmanFilter], None]) -> None:
        """Show each filter the sample, and weigh the modes by their likelihood ratio."""
        still, moving = self._still, self._moving
        still.log_likelihood = moving.log_likelihood = 0.0
        show(still)
        show(moving)
        likelihood_ratio = math.exp(min(moving.log_likelihood - still.log_likelihood, 700.0))
        stands = self.standing / (self.standing + (1.0 - self.standing) * likelihood_ratio)
        self.standing = min(max(stands, NEVER), 1.0 - NEVER)


def _ended(moving: ArmKalmanFilter, share: float) -> ModeEstimate:
    """Give what of the moving filter stands from now on, rate and acceleration being none."""
    x, p = moving.state, moving.covariance
    a, b = p[RATE][RATE] + NO_RATE**2, p[RATE][ACCELERATION]
    c = p[ACCELERATION][ACCELERATION] + NO_ACCELERATION**2
    area = a * c - b * b
    u, v, w = c / area, -b / area, a / area
    by_rate = u * x[RATE] + v * x[ACCELERATION]
    by_push = v * x[RATE] + w * x[ACCELERATION]
    away = x[RATE] * by_rate + x[ACCELERATION] * by_push
    share *= NO_RATE * NO_ACCELERATION / math.sqrt(area) * math.exp(-0.5 * away)
    state, learned = list(x), len(x)
    covariance = [[0.0] * len(p) for _ in p]
    kept = (ANGLE, *range(LENGTH, len(p)))
    for i in kept:
        row, rate, push = p[i], p[i][RATE], p[i][ACCELERATION]
        if i < learned:
            state[i] -= rate * by_rate + push * by_push
        for_rate, for_push = rate * u + push * v, rate * v + push * w
        for j in kept:
            covariance[i][j] = row[j] - for_rate * p[j][RATE] - for_push * p[j][ACCELERATION]
    # What is only considered stays as it was told.
    for cells, told in zip(covariance[learned:], p[learned:], strict=True):
        cells[learned:] = told[learned:]
    state[RATE] = state[ACCELERATION] = state[JERK] = 0.0
    return ModeEstimate(max(share, HARDLY), state, covariance)


def _begun(still: ArmKalmanFilter, unseen: float) -> list[list[float]]:
    """Give the covariance with which a stroke begins, ``unseen`` [rad] of it gone by already.

    A move smaller than a sample's noise isn't seen at once: angle and rate are that far on.
    """
    covariance = [list(row) for row in still.covariance]
    covariance[ANGLE][ANGLE] += UNSEEN * unseen * unseen
    covariance[RATE][RATE] += UNSEEN * unseen * STROKE_ACCELERATION
    covariance[ACCELERATION][ACCELERATION] = STROKE_ACCELERATION**2
    covariance[JERK][JERK] = (STROKE_ACCELERATION * STROKE_W) ** 2
    return covariance


def _stop(arm: ArmKalmanFilter) -> None:
    for i in (RATE, ACCELERATION, JERK):
        arm.state[i] = 0.0
        arm.covariance[i] = [0.0] * len(arm.covariance)
        for row in arm.covariance:
            row[i] = 0.0


def _one(one: ModeEstimate, other: ModeEstimate) -> ModeEstimate:
    """Give the Gaussian with the mean and the covariance of both together."""
    share = one.share + other.share
    if other.share <= NEVER * one.share:
        return one
    v = other.share / share
    u, uv = 1.0 - v, v * (1.0 - v)
    apart = [b - a for a, b in zip(one.state, other.state, strict=True)]
    state = [a + v * d for a, d in zip(one.state, apart, strict=True)]
    apart += [0.0] * (len(one.covariance) - len(apart))
    covariance = [
        [u * a + v * b + uv * d * e for a, b, e in zip(first, second, apart, strict=True)]
        for first, second, d in zip(one.covariance, other.covariance, apart, strict=True)
    ]
    return ModeEstimate(share, state, covariance)


def _rows(belief: ModeEstimate) -> list[list[float]]:
    return [list(row) for row in belief.covariance]
