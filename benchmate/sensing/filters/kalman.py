"""The arm's angle, rate and acceleration, followed through pump strokes by a Kalman filter.

A box at some distance from the pivot shows gravity's direction u(phi) plus its own acceleration:

    shown / 1 g = L (cos phi, sin phi) - phi'' J c - phi'^2 c

in the swing plane, where L is gravity's in-plane part, c = (pivot to box) / g in the box's own
axes, which the swing told, and J turns a quarter. phi'' is taken to be noise with a memory, as
R. A. Singer does ("Estimating optimal tracking filter performance for manned maneuvering targets",
IEEE Trans. AES-6, 1970), but of second order, critically damped: a stroke's acceleration doesn't
jump, so its jerk is carried as well. The filter is the extended one, with the second-order terms
that count (Y. Bar-Shalom, X. R. Li, T. Kirubarajan, "Estimation with Applications to Tracking and
Navigation", 2001, chapters 5 and 10). The doubt in c is carried along but c is not learned (S. F.
Schmidt, "Application of state-space methods to navigation problems", 1966): where the box stands
upright over or under the pivot, angle and acceleration look so much alike that learning c as well
runs away. Angles here are radians, times seconds.

Lists of plain floats: six numbers are too few for arrays to pay.
"""

import math
from operator import mul
from typing import NamedTuple, TypeAlias

LeverArm: TypeAlias = tuple[tuple[float, float], tuple[float, float, float]]
"""c [s^2], and its covariance's 11, 12 and 22 [s^4]."""

ANGLE, RATE, ACCELERATION, JERK, LENGTH, BIAS = range(6)

STROKE_S = 0.4
"""How long a stroke lasts."""
STROKE_W = math.tau / STROKE_S
"""How fast an acceleration comes and goes [rad/s]: once to and fro in a stroke."""
STROKE_ACCELERATION = math.radians(85.0)
"""Rms acceleration [rad/s^2] of a stroke of 3 deg in 0.4 s."""
BIAS_WALK = math.radians(0.002)
"""How fast a gyro's zero wanders [rad/s per root second]."""
JOLT_SD, JOLT_S = 5.0, 0.02
LENGTH_WALK = 0.02
"""How fast gravity's length wanders on an arm that stands, as if it turned so fast [rad/s]."""

_SHARES = tuple(tuple(1.0 / (7 - i - j) for j in range(4)) for i in range(4))
"""Integrals over dt of two of the ways in which a push at s within it counts at its end."""


class _InPlane(NamedTuple):
    """The measurement model of the in-plane acceleration, linearised where the state stands."""

    across: list[float]
    """Jacobian of the part across the arm's direction."""
    innovation_across: float
    along: list[float]
    innovation_along: float
    second_order: float
    """Variance [g^2] that the linearisation leaves out."""


class ArmKalmanFilter:
    """State and covariance; fed by ``predict`` and then one or two of the ``see_``.

    ``lever`` is where a box stands that shows accelerations, None for an encoder; ``bias_sd``
    [rad/s] is set for a chip with a gyro.
    """

    def __init__(
        self,
        angle: float,
        angle_sd: float,
        lever: LeverArm | None = None,
        bias_sd: float | None = None,
        length_sd: float = 0.0,
    ) -> None:
        self.state = [angle, 0.0, 0.0, 0.0]
        variances = [
            angle_sd**2,
            (STROKE_ACCELERATION / STROKE_W) ** 2,
            STROKE_ACCELERATION**2,
            (STROKE_ACCELERATION * STROKE_W) ** 2,
        ]
        if lever is not None:
            self.state.append(0.0)
            variances.append(length_sd**2)
        if bias_sd is not None:
            self.state.append(0.0)
            variances.append(bias_sd**2)
        self._learned = len(variances)
        self.log_likelihood = 0.0
        """Of all that was seen so far, but for what is the same for every filter."""
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

    def predict(self, dt: float, length_variance: float = 0.0) -> None:
        """Let ``dt`` seconds pass; gravity's length wanders by so much in a radian [g^2]."""
        x = STROKE_W * dt
        left = math.exp(-x)
        # What an acceleration of 1 and a jerk of 1 come to, in each of the four.
        aa, aj = left * (1.0 + x), left * dt
        ja, jj = -STROKE_W * x * left, left * (1.0 - x)
        wa, wj = (2.0 - left * (2.0 + x)) / STROKE_W, (1.0 - aa) / STROKE_W**2
        ta = (2.0 * x - 3.0 + left * (3.0 + x)) / STROKE_W**2
        tj = (x - 2.0 + left * (2.0 + x)) / STROKE_W**3
        state, p = self.state, self.covariance
        angle, rate, push, jerk = state[:4]
        state[:4] = (
            angle + dt * rate + ta * push + tj * jerk,
            rate + wa * push + wj * jerk,
            aa * push + aj * jerk,
            ja * push + jj * jerk,
        )
        angles, rates, pushes, jerks = p[:4]
        for i, (a, b, c, d) in enumerate(zip(angles, rates, pushes, jerks, strict=True)):
            angles[i] = a + dt * b + ta * c + tj * d
            rates[i] = b + wa * c + wj * d
            pushes[i] = aa * c + aj * d
            jerks[i] = ja * c + jj * d
        for row in p:
            a, b, c, d = row[:4]
            row[:4] = (
                a + dt * b + ta * c + tj * d,
                b + wa * c + wj * d,
                aa * c + aj * d,
                ja * c + jj * d,
            )
        # White noise behind the jerk, integrated over dt; it fades within dt as well.
        drive = 4.0 * STROKE_W**3 * STROKE_ACCELERATION**2 * dt * left
        ways = (dt**3 / 6.0, dt * dt / 2.0, dt, 1.0)
        for row, way, shares in zip(p, ways, _SHARES, strict=False):
            pushed = drive * way
            for j, share in enumerate(shares):
                row[j] += pushed * share * ways[j]
        self._wander(dt, length_variance)

    def wait(self, dt: float, least_variance: float, length_variance: float = 0.0) -> None:
        """Let ``dt`` seconds of standing pass; the angle is never believed to better than that."""
        p = self.covariance
        p[ANGLE][ANGLE] = max(p[ANGLE][ANGLE], least_variance)
        self._wander(dt, length_variance)

    def _wander(self, dt: float, length_variance: float) -> None:
        p = self.covariance
        if self._learned > LENGTH:
            p[LENGTH][LENGTH] += length_variance * (abs(self.state[RATE]) + LENGTH_WALK) * dt
        if self._learned > BIAS:
            p[BIAS][BIAS] += BIAS_WALK**2 * dt

    def jolt(self, acceleration: float) -> None:
        """Be told that the arm may speed up or stop as hard as that [rad/s^2], 1 sd."""
        p = self.covariance
        p[RATE][RATE] += (acceleration * JOLT_S) ** 2
        p[ACCELERATION][ACCELERATION] += acceleration**2
        p[JERK][JERK] += (acceleration / JOLT_S) ** 2

    def update_angle(self, innovation: float, variance: float) -> None:
        """Take in by how much an encoder's angle is ahead of the state's [rad]."""
        self._update([1.0, 0.0, 0.0, 0.0], innovation, variance)

    def update_rate(self, shown: float, variance: float) -> None:
        """Take in the gyro's rate about the pivot [rad/s]."""
        row = [0.0, 1.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0]
        self._update(row, shown - self.state[RATE] - self.state[BIAS], variance)

    def innovation_across(
        self, shown_g: tuple[float, float], leverage: float, variance: float
    ) -> tuple[float, float]:
        """Give the innovation across the arm's direction [g] and its variance [g^2].

        As ``update_gravity`` would take it in, noise of that ``variance`` with it; nothing is.
        """
        seen = self._in_plane(shown_g, leverage)
        gains = [sum(map(mul, cells, seen.across)) for cells in self.covariance]
        total = sum(map(mul, seen.across, gains)) + variance + seen.second_order
        return seen.innovation_across, total

    def update_gravity(
        self, shown_g: tuple[float, float], leverage: float, variances: tuple[float, float]
    ) -> None:
        """Take in the in-plane acceleration [g], its noise across and along the arm's direction."""
        x, p, more = self.state, self.covariance, self._in_plane(shown_g, leverage)
        most_sd = JOLT_SD if self._learned > BIAS else math.inf
        variance = variances[0] + more.second_order
        if not self._update(more.across, more.innovation_across, variance, most_sd):
            return
        # Both parts are linearised where the state stood before either was taken in.
        moved = sum(
            h * (after - before)
            for h, after, before in zip(more.along, self.state, x, strict=False)
        )
        # Second order: a doubtful angle shortens the part along it, by half its square.
        short = leverage * p[ANGLE][ANGLE]
        innovation = more.innovation_along - moved + 0.5 * short
        self._update(more.along, innovation, variances[1] + more.second_order + 0.5 * short * short)

    def _in_plane(self, shown_g: tuple[float, float], leverage: float) -> "_InPlane":
        x, p = self.state, self.covariance
        cosine, sine = math.cos(x[ANGLE]), math.sin(x[ANGLE])
        across = cosine * shown_g[1] - sine * shown_g[0]
        along = cosine * shown_g[0] + sine * shown_g[1]
        w, wdot = x[RATE], x[ACCELERATION]
        w2 = w * w
        outward = self._c1 * cosine + self._c2 * sine
        sideways = self._c2 * cosine - self._c1 * sine
        # Second order: what the doubts in acceleration and lever do together.
        p1, p2 = p[-2], p[-1]
        second_order = p[2][2] * (p1[-2] + p2[-1]) + p1[2] ** 2 + p2[2] ** 2
        bias = [0.0] * (self._learned - BIAS)
        by_lever_across = (w2 * sine - wdot * cosine, -w2 * cosine - wdot * sine)
        by_lever_along = (-wdot * sine - w2 * cosine, wdot * cosine - w2 * sine)
        return _InPlane(
            [leverage, -2.0 * w * sideways, -outward, 0.0, 0.0, *bias, *by_lever_across],
            across + wdot * outward + w2 * sideways,
            [0.0, -2.0 * w * outward, sideways, 0.0, 1.0, *bias, *by_lever_along],
            along - leverage - x[LENGTH] - wdot * sideways + w2 * outward,
            second_order,
        )

    def _update(
        self, row: list[float], innovation: float, variance: float, most_sd: float = math.inf
    ) -> bool:
        """Take in one part of a sample; leave it, and tell so, where it misses by more than that.

        No stroke does it: a release that snaps back stops harder. The gyro then goes on alone, and
        what was seen speaks for no filter more than for another.
        """
        p, n = self.covariance, self._learned
        gains = [sum(map(mul, cells, row)) for cells in p]
        total = sum(map(mul, row, gains)) + variance
        step, most = innovation / total, most_sd * most_sd
        self.log_likelihood -= 0.5 * (min(innovation * step, most) + math.log(total))
        if innovation * step > most:
            return False
        self.state = [value + gain * step for value, gain in zip(self.state, gains, strict=False)]
        considered = [cells[n:] for cells in p[n:]]
        for i, gain in enumerate(gains):
            share = gain / total
            p[i] = [cell - share * other for cell, other in zip(p[i], gains, strict=True)]
        for cells, kept in zip(p[n:], considered, strict=True):
            cells[n:] = kept
        return True
