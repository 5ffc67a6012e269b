"""The arm's angle, rate and acceleration, followed through pump strokes by a Kalman filter.

A box at some distance from the pivot shows gravity's direction u(phi) plus its own acceleration:

    shown / 1 g = L (cos phi, sin phi) - phi'' J c - phi'^2 c

in the swing plane, where L is gravity's in-plane part, c = (pivot to box) / g in the box's own
axes, which the swing told, and J turns a quarter. phi'' is taken to be noise with a memory
(R. A. Singer, "Estimating optimal tracking filter performance for manned maneuvering targets",
IEEE Trans. AES-6, 1970). The filter is the extended one, with the second-order terms that count
(Y. Bar-Shalom, X. R. Li, T. Kirubarajan, "Estimation with Applications to Tracking and
Navigation", 2001, chapters 5 and 10). The doubt in c is carried along but c is not learned
(S. F. Schmidt, "Application of state-space methods to navigation problems", 1966): where the box
stands upright over or under the pivot, angle and acceleration look so much alike that learning c
as well runs away. Angles here are radians, times seconds.

Lists of plain floats: six numbers are too few for arrays to pay.
"""

import math
from operator import mul
from typing import TypeAlias

Lever: TypeAlias = tuple[tuple[float, float], tuple[float, float, float]]
"""c [s^2], and its covariance's 11, 12 and 22 [s^4]."""

ANGLE, RATE, ACCELERATION, BIAS = range(4)

STROKE_S = 0.1
"""How long an acceleration lasts within a stroke."""
STROKE_ACCELERATION = math.radians(85.0)
"""Rms acceleration [rad/s^2] of a stroke of 3 deg in 0.4 s."""
BIAS_WALK = math.radians(0.002)
"""How fast a gyro's zero wanders [rad/s per root second]."""
DELAY_SD = 0.15
"""How far a sample's age is from what it is on the whole, in sampling intervals, 1 sd."""
STANDING_RATE = math.radians(0.02)
STANDING_ACCELERATION = math.radians(0.02)


def unseen_s(noise: float) -> float:
    """Give how long a stroke goes unseen in angles with so much noise [rad]: to three of it."""
    return math.sqrt(6.0 * noise / STROKE_ACCELERATION)


class ArmFilter:
    """State and covariance; fed by ``predict`` and then one or two of the ``see_``.

    ``lever`` is where a box stands that shows accelerations, None for an encoder; ``bias_sd``
    [rad/s] is set for a chip with a gyro.
    """

    def __init__(
        self,
        angle: float,
        angle_sd: float,
        lever: Lever | None = None,
        bias_sd: float | None = None,
    ) -> None:
        self.state = [angle, 0.0, 0.0]
        variances = [angle_sd**2, STROKE_ACCELERATION**2 * STROKE_S, STROKE_ACCELERATION**2]
        if bias_sd is not None:
            self.state.append(0.0)
            variances.append(bias_sd**2)
        self._learned = len(variances)
        if lever is not None:
            (self._c1, self._c2), (c11, c12, c22) = lever
            variances += [c11, c22]
        n = len(variances)
        self.covariance = [[variances[i] if i == j else 0.0 for j in range(n)] for i in range(n)]
        if lever is not None:
            self.covariance[-1][-2] = self.covariance[-2][-1] = c12

    @property
    def angle_sd(self) -> float:
        """Give the standard deviation of the angle [rad]."""
        return math.sqrt(max(self.covariance[ANGLE][ANGLE], 0.0))

    def predict(self, dt: float) -> None:
        """Let ``dt`` seconds pass."""
        kept = math.exp(-dt / STROKE_S)
        to_rate = STROKE_S * (1.0 - kept)
        to_angle = STROKE_S * (dt - to_rate)
        x, p = self.state, self.covariance
        x[ANGLE] += dt * x[RATE] + to_angle * x[ACCELERATION]
        x[RATE] += to_rate * x[ACCELERATION]
        x[ACCELERATION] *= kept
        angle, rate, acceleration = p[:3]
        p[0] = [
            a + dt * b + to_angle * c for a, b, c in zip(angle, rate, acceleration, strict=True)
        ]
        p[1] = [b + to_rate * c for b, c in zip(rate, acceleration, strict=True)]
        p[2] = [kept * c for c in acceleration]
        for row in p:
            row[0] += dt * row[1] + to_angle * row[2]
            row[1] += to_rate * row[2]
            row[2] *= kept
        # White noise of density q behind the acceleration, integrated over dt.
        q = 2.0 * STROKE_ACCELERATION**2 / STROKE_S
        q2, q3 = q * dt**2 / 2.0, q * dt**3
        p[2][2] += q * dt
        p[1][2] += q2
        p[2][1] += q2
        p[1][1] += q3 / 3.0
        p[0][2] += q3 / 6.0
        p[2][0] += q3 / 6.0
        p[0][1] += q3 * dt / 8.0
        p[1][0] += q3 * dt / 8.0
        p[0][0] += q3 * dt * dt / 20.0
        if self._learned > BIAS:
            p[BIAS][BIAS] += BIAS_WALK**2 * dt

    def stand(self, least_sd: float) -> None:
        """Be told that the arm stands still; the angle is never believed to better than that."""
        self.state[RATE] = self.state[ACCELERATION] = 0.0
        p = self.covariance
        for row in p:
            row[1:3] = (0.0, 0.0)
        p[ANGLE][ANGLE] = max(p[ANGLE][ANGLE], least_sd * least_sd)
        for i, sd in ((RATE, STANDING_RATE), (ACCELERATION, STANDING_ACCELERATION)):
            p[i] = [0.0] * len(p)
            p[i][i] = sd * sd

    def stir(self, seconds: float) -> None:
        """Be told that the arm may have begun to move so long ago after all."""
        ways = (0.5 * seconds * seconds, seconds, 1.0)
        for i, a in enumerate(ways):
            for j, b in enumerate(ways):
                self.covariance[i][j] += STROKE_ACCELERATION**2 * a * b

    def see_angle(self, miss: float, variance: float) -> None:
        """Take in by how much an encoder's angle is ahead of the state's [rad]."""
        self._update([1.0, 0.0, 0.0], miss, variance)

    def see_rate(self, shown: float, variance: float) -> None:
        """Take in the gyro's rate about the pivot [rad/s]."""
        row = [0.0, 1.0, 0.0, 1.0, 0.0, 0.0]
        self._update(row, shown - self.state[RATE] - self.state[BIAS], variance)

    def see_gravity(
        self, across: float, along: float, leverage: float, variances: tuple[float, float]
    ) -> None:
        """Take in the in-plane acceleration [g], across and along the state's own direction."""
        x, p = self.state, self.covariance
        cosine, sine = math.cos(x[ANGLE]), math.sin(x[ANGLE])
        w, wdot = x[RATE], x[ACCELERATION]
        w2 = w * w
        outward = self._c1 * cosine + self._c2 * sine
        sideways = self._c2 * cosine - self._c1 * sine
        # Second order: what the doubts in acceleration and lever do together.
        p1, p2 = p[-2], p[-1]
        more = p[2][2] * (p1[-2] + p2[-1]) + p1[2] ** 2 + p2[2] ** 2
        bias = [0.0] * (self._learned - BIAS)
        row = [leverage, -2.0 * w * sideways, -outward, *bias]
        row += (w2 * sine - wdot * cosine, -w2 * cosine - wdot * sine)
        self._update(row, across + wdot * outward + w2 * sideways, variances[0] + more)
        row = [0.0, -2.0 * w * outward, sideways, *bias]
        row += (-wdot * sine - w2 * cosine, wdot * cosine - w2 * sine)
        # Both parts are linearised where the state stood before either was taken in.
        moved = sum(
            h * (after - before) for h, after, before in zip(row, self.state, x, strict=False)
        )
        # Second order: a doubtful angle shortens the part along it, by half its square.
        short = leverage * p[ANGLE][ANGLE]
        miss = along - leverage - wdot * sideways + w2 * outward - moved + 0.5 * short
        self._update(row, miss, variances[1] + more + 0.5 * short * short)

    def _update(self, row: list[float], miss: float, variance: float) -> None:
        p, n = self.covariance, self._learned
        gains = [sum(map(mul, cells, row)) for cells in p]
        total = sum(map(mul, row, gains)) + variance
        step = miss / total
        self.state = [value + gain * step for value, gain in zip(self.state, gains, strict=False)]
        considered = [cells[n:] for cells in p[n:]]
        for i, gain in enumerate(gains):
            share = gain / total
            p[i] = [cell - share * other for cell, other in zip(p[i], gains, strict=True)]
        for cells, kept in zip(p[n:], considered, strict=True):
            cells[n:] = kept
