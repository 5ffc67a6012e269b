"""The arm angle by gravity: an accelerometer on the arm, with or without a gyro beside it."""

import math
from operator import mul

from benchmate.sensing.calibration.error_model import Axes, Calibration, Rows, spread, swing_terms
from benchmate.sensing.chips.driver import WAIT_SD, ChipFacts
from benchmate.sensing.filters.imm import LONGEST_S, InteractingMultipleModel
from benchmate.sensing.filters.kalman import STROKE_ACCELERATION, ArmKalmanFilter, LeverArm
from benchmate.sensing.filters.uncertainty import swing_uncertainty
from benchmate.sensing.filters.vibration import VibrationNoise
from benchmate.sensing.mount.alignment import Mount
from benchmate.sensing.reach import ANY_REACH, Reach
from benchmate.sensing.sample import ArmEstimate, Sample
from benchmate.shop.parts import Arm

STANDARD_GRAVITY_MM = 9806.65
"""[mm/s^2], ISO 80000-3."""
HARDEST_ACCELERATION = 8.0
"""No pump moves an arm harder [rad/s^2]."""
HARDEST_JOLT = 20.0
"""A release that snaps back stops so hard [rad/s^2]."""
OUTLIER_SD = 8.0
UNTOLD_WARMTH_C = 5.0
"""How far it may be from the calibration's temperature, 1 sd, where the chip doesn't tell."""
LOST_S = 0.3
"""A release snaps back for less."""
RADIUS_SD = 0.1
"""How well a person knows the radius from pivot to box, 1 sd, as a part of it."""


class GravityEstimator:
    """Follows the arm by an accelerometer's samples."""

    def __init__(
        self, mount: Mount, facts: ChipFacts, known: Calibration, arm: Arm, reach: Reach = ANY_REACH
    ) -> None:
        self._reach = reach
        rows, self._offset = known.corrector()
        # One product takes the chip's errors out and turns into the plane.
        self._along = through(mount.along, rows)
        self._across = through(mount.across, rows)
        self._leverage = mount.leverage
        self._noise = tuple(
            sum(a * b * sd * sd for a, b, sd in zip(u, v, facts.accel_noise_g, strict=True))
            for u, v in (
                (self._along, self._along),
                (self._along, self._across),
                (self._across, self._across),
            )
        )
        self._lever = lever(mount, arm)
        self._bias_sd = math.radians(facts.gyro_bias_dps) if facts.has_gyro else None
        # Gravity turns against the box, so the arm's rate is the gyro's about -normal.
        scale = -math.radians(mount.gyro_gain)
        nx, ny, nz = mount.normal
        self._turning = (scale * nx, scale * ny, scale * nz)
        self._gyro_offset = known.gyro_bias_dps
        self._gyro_variance = math.radians(facts.gyro_noise_dps) ** 2
        self._gyro_gain_variance = mount.gyro_gain_sd**2
        self._delay_s = facts.delay_s
        self._delay_sd_s = WAIT_SD / facts.rate_hz
        self._slow_noise = facts.slow_noise_g / mount.leverage
        plane = (mount.along, mount.across, mount.normal)
        self._length_spread_g = _length_spread_g(mount, known)
        self._systematic = swing_uncertainty(
            plane,
            mount.leverage,
            mount.height_g,
            known.covariance,
            mount.normal_sd_deg,
        )
        # On the whole over the plane's directions; z drifts more in some chips.
        z = math.hypot(mount.along[2], mount.across[2])
        self._drift_g_per_c = facts.offset_drift_g_per_c * math.sqrt(
            1.0 + 0.5 * z * z * (facts.z_drifts_more**2 - 1.0)
        )
        self._calibrated_at_c = known.temperature_c
        self._noise_sd = math.sqrt((self._noise[0] + self._noise[2]) / 2.0) / mount.leverage
        self._least_sd = self._noise_sd / math.sqrt(LONGEST_S * facts.rate_hz)
        (c1, c2), (c11, _, c22) = self._lever
        self._lever_size = math.hypot(c1, c2, 2.0 * math.sqrt(c11 + c22))
        self._outlier_g = self._lever_size * HARDEST_ACCELERATION + OUTLIER_SD * self._noise_sd
        self._outlier_s = 0.0
        self._vibration = VibrationNoise()
        self._modes = self._afresh(0.0, math.pi)

    def _afresh(self, angle: float, sd: float, length_sd: float = 0.0) -> InteractingMultipleModel:
        return InteractingMultipleModel(
            lambda: ArmKalmanFilter(angle, sd, self._lever, self._bias_sd, length_sd),
            self._least_sd,
            0.0 if self._bias_sd is not None else self._noise_sd,
        )

    def _length_sd(self, sample: Sample) -> float:
        return math.hypot(self._length_spread_g, self._drift_g(sample))

    def begin(self, sample: Sample) -> None:
        """Start from one sample, at the turn within reach nearest to where the arm was."""
        x, y = self._in_plane(sample)
        shown_deg, last_deg = math.degrees(math.atan2(y, x)), math.degrees(self._modes.angle)
        angle = math.radians(self._reach.unwrap(shown_deg, last_deg))
        # The arm may be speeding up: the box's own acceleration then stands in the angle.
        sd = math.hypot(self._noise_sd, self._lever_size * STROKE_ACCELERATION / self._leverage)
        self._modes = self._afresh(angle, sd, self._length_sd(sample))
        self._outlier_s = 0.0

    def step(self, sample: Sample, dt: float) -> None:
        """Take in the next sample, ``dt`` seconds later."""
        modes = self._modes
        modes.predict(dt, self._length_sd(sample) ** 2)
        if sample.saturated:
            return
        shown = self._turning_rate(sample)
        rate_variance = 0.0 if shown is None else self._rate_variance(shown)
        x, y = self._in_plane(sample)
        cosine, sine = math.cos(modes.angle), math.sin(modes.angle)
        across = cosine * y - sine * x
        if self._is_outlier(across, dt):
            if self._outlier_s > LOST_S:
                self.begin(sample)
                return
            if shown is not None:
                modes.see(lambda arm: arm.update_rate(shown, rate_variance))
            if shown is not None or self._outlier_s == dt:
                return
            modes.jolt(HARDEST_JOLT)
        xx, xy, yy = self._noise
        cc, cs, ss = cosine * cosine, cosine * sine, sine * sine
        wide, long = ss * xx - 2.0 * cs * xy + cc * yy, cc * xx + 2.0 * cs * xy + ss * yy
        vibration = self._vibration_g2((x, y), wide, dt) if shown is None else 0.0
        variances = wide + vibration, long + vibration

        def show(arm: ArmKalmanFilter) -> None:
            if shown is not None:
                arm.update_rate(shown, rate_variance)
            arm.update_gravity((x, y), self._leverage, variances)

        modes.see(show)

    def reading(self, sample: Sample) -> ArmEstimate:
        """Give the arm as it is believed to be."""
        modes = self._modes
        rate = modes.rate
        # What was shown is old by now: carried on, and doubted by how well its age is known.
        arm_deg = math.degrees(modes.angle + rate * self._delay_s)
        systematic_sd = self._systematic.sd_deg(
            arm_deg, math.degrees(self._drift_g(sample) / self._leverage)
        )
        aged = rate * self._delay_sd_s
        noise = math.degrees(math.hypot(modes.angle_sd, self._slow_noise, aged))
        return ArmEstimate(
            sample.t, arm_deg, math.degrees(rate), math.hypot(noise, systematic_sd), noise
        )

    def _is_outlier(self, across: float, dt: float) -> bool:
        """Tell whether no stroke does this, and count for how long.

        Alone it is a broken transfer; a release that snaps back takes longer, and is followed by
        the gyro, or no faster than a stroke; if it stays, the angle was lost.
        """
        outlier = abs(across) > self._outlier_g
        self._outlier_s = self._outlier_s + dt if outlier else 0.0
        return outlier

    def _vibration_g2(self, shown_g: tuple[float, float], variance: float, dt: float) -> float:
        """Give the variance [g^2] of what shakes the box beside gravity and the arm's turning.

        Where it begins, the arm may as well have been braked harder than a stroke is: both are
        owned to, so the standard deviation grows until the ringing has died.
        """
        innovation, own = self._modes.least_innovation(
            lambda arm: arm.innovation_across(shown_g, self._leverage, variance)
        )
        if self._vibration.update(innovation, own, dt):
            self._modes.jolt(STROKE_ACCELERATION)
        return self._vibration.variance_g2

    def _drift_g(self, sample: Sample) -> float:
        """Give how far an axis's zero may have drifted with warmth since the calibration, 1 sd."""
        if sample.temperature_c is None or self._calibrated_at_c is None:
            return self._drift_g_per_c * UNTOLD_WARMTH_C
        return self._drift_g_per_c * abs(sample.temperature_c - self._calibrated_at_c)

    def _rate_variance(self, shown: float) -> float:
        return self._gyro_variance + self._gyro_gain_variance * shown * shown

    def _turning_rate(self, sample: Sample) -> float | None:
        if sample.gyro_dps is None:
            return None
        (x, y, z), (bx, by, bz) = sample.gyro_dps, self._gyro_offset
        tx, ty, tz = self._turning
        return (x - bx) * tx + (y - by) * ty + (z - bz) * tz

    def _in_plane(self, sample: Sample) -> tuple[float, float]:
        if sample.accel_g is None:
            raise ValueError("an accelerometer's sample carries an acceleration")
        (x, y, z), (bx, by, bz) = sample.accel_g, self._offset
        shown = (x - bx, y - by, z - bz)
        return sum(map(mul, shown, self._along)), sum(map(mul, shown, self._across))


def through(direction: Axes, rows: Rows) -> Axes:
    """Give the row direction * A, so that its product with a shown vector is the part along it."""
    x, y, z = (sum(d * row[j] for d, row in zip(direction, rows, strict=True)) for j in range(3))
    return x, y, z


def lever(mount: Mount, arm: Arm) -> LeverArm:
    """Give where the box stands on the arm: as the swing told, else anywhere at its radius."""
    if mount.lever_covariance is not None:
        return mount.lever_s2, mount.lever_covariance
    size = arm.radius_mm / STANDARD_GRAVITY_MM
    variance = size * size * (1.0 + RADIUS_SD**2) / 2.0
    return (0.0, 0.0), (variance, 0.0, variance)


def _length_spread_g(mount: Mount, known: Calibration) -> float:
    """Give how far in-plane gravity may differ from the swing's mean of it, 1 sd, at its worst."""
    plane = (mount.along, mount.across, mount.normal)
    rows = [
        swing_terms(
            plane, mount.leverage, mount.height_g, math.radians(part * mount.arc_deg), turn=0
        )
        for part in (0.0, 0.25, 0.5, 0.75, 1.0)
    ]
    mean = [math.fsum(column) / len(rows) for column in zip(*rows, strict=True)]
    return max(
        spread(tuple(a - b for a, b in zip(row, mean, strict=True)), known.covariance)
        for row in rows
    )
