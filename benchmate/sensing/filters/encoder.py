"""The arm angle by an encoder on the pivot, its own once, twice and four times a turn taken out."""

import math

from benchmate.sensing.calibration.error_model import Calibration
from benchmate.sensing.calibration.harmonics import correction_deg, harmonic_row
from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.filters.imm import LONGEST_S, InteractingMultipleModel
from benchmate.sensing.filters.kalman import ANGLE, ArmKalmanFilter
from benchmate.sensing.filters.uncertainty import AngleUncertainty
from benchmate.sensing.mount.alignment import Mount
from benchmate.sensing.reach import ANY_REACH, Reach
from benchmate.sensing.sample import ArmEstimate, Sample

OUTLIER = math.radians(5.0)


class EncoderEstimator:
    """Follows the arm by an encoder's samples."""

    def __init__(
        self, mount: Mount, facts: ChipFacts, known: Calibration, reach: Reach = ANY_REACH
    ) -> None:
        self._reach = reach
        self._sense = mount.sense
        self._harmonics = known.harmonics_deg
        self._start_deg = mount.start_deg + correction_deg(mount.start_deg, self._harmonics)
        self._noise = math.radians(
            math.hypot(facts.angle_noise_deg, facts.angle_step_deg / 12**0.5)
        )
        self._variance = self._noise**2
        self._local_sd_deg = known.local_sd_deg
        self._delay_s = facts.delay_s
        self._least_sd = self._noise / math.sqrt(LONGEST_S * facts.rate_hz)
        self._systematic = AngleUncertainty(
            lambda phi: harmonic_row(mount.start_deg + mount.sense * math.degrees(phi)),
            known.covariance,
            1.0,
        )
        self._outlier = False
        self._modes = InteractingMultipleModel(
            lambda: ArmKalmanFilter(0.0, math.pi), self._least_sd
        )

    def begin(self, sample: Sample) -> None:
        """Start from one sample, at the turn within reach nearest to where the arm was."""
        last = self._modes.angle
        shown_deg = math.degrees(last + self._innovation(sample, last))
        angle = math.radians(self._reach.unwrap(shown_deg, math.degrees(last)))
        self._modes = InteractingMultipleModel(
            lambda: ArmKalmanFilter(angle, self._noise), self._least_sd
        )

    def step(self, sample: Sample, dt: float) -> None:
        """Take in the next sample, ``dt`` seconds later."""
        modes = self._modes
        modes.predict(dt)
        angle = modes.angle
        innovation = self._innovation(sample, angle)
        if abs(innovation) > OUTLIER:
            # No arm does this. Once it is a broken transfer; twice, the angle was lost.
            if self._outlier:
                self.begin(sample)
            self._outlier = not self._outlier
            return
        self._outlier = False
        shown = angle + innovation
        modes.see(lambda arm: arm.update_angle(shown - arm.state[ANGLE], self._variance))

    def reading(self, sample: Sample) -> ArmEstimate:
        """Give the arm as it is believed to be."""
        # What was shown is old by now: carried on.
        rate = self._modes.rate
        arm_deg = math.degrees(self._modes.angle + rate * self._delay_s)
        systematic_sd = math.hypot(self._systematic.sd_deg(arm_deg), self._local_sd_deg)
        noise = math.degrees(self._modes.angle_sd)
        return ArmEstimate(
            sample.t, arm_deg, math.degrees(rate), math.hypot(noise, systematic_sd), noise
        )

    def _innovation(self, sample: Sample, angle: float) -> float:
        if sample.angle_deg is None:
            raise ValueError("an encoder's sample carries an angle")
        corrected = sample.angle_deg + correction_deg(sample.angle_deg, self._harmonics)
        shown = self._sense * math.radians(corrected - self._start_deg)
        return math.remainder(shown - angle, math.tau)
