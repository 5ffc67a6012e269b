"""The live arm angle from one sensor's samples, with its rate and an honest standard deviation."""

from benchmate.sensing.calibration.error_model import Calibration, from_factory
from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.filters.encoder import EncoderEstimator
from benchmate.sensing.filters.gravity import GravityEstimator
from benchmate.sensing.mount.alignment import Mount
from benchmate.sensing.reach import ANY_REACH, Reach
from benchmate.sensing.sample import ArmEstimate, Sample
from benchmate.shop.parts import Arm

LONGEST_GAP_S = 0.25
UNKNOWN_DEG = 180.0
"""Standard deviation of an angle that nobody knows."""


class ArmAngleEstimator:
    """Follows the arm: same samples, same readings; memory doesn't grow.

    Feed it good samples only, in order. ``calibration`` None: the chip is taken as it comes from
    the factory, and the standard deviation says so. A gap of more than a quarter of a second
    begins anew, as ``reset`` does, at the turn within ``reach`` that is nearest to where the arm
    was. What lies outside of the reach is never told as good: its standard deviation is half a
    turn.
    """

    def __init__(
        self,
        mount: Mount,
        facts: ChipFacts,
        arm: Arm,
        calibration: Calibration | None = None,
        reach: Reach = ANY_REACH,
    ) -> None:
        known = from_factory(facts) if calibration is None else calibration
        self._reach = reach
        self._follows: GravityEstimator | EncoderEstimator = (
            EncoderEstimator(mount, facts, known, reach)
            if facts.is_encoder
            else GravityEstimator(mount, facts, known, arm, reach)
        )
        self._t: float | None = None

    def reset(self) -> None:
        """Begin anew with the next sample, within reach and nearest to where the arm was."""
        self._t = None

    def step(self, sample: Sample) -> ArmEstimate:
        """Take one sample in; give the arm as it is believed to be at that instant."""
        dt = 0.0 if self._t is None else sample.t - self._t
        self._t = sample.t
        if 0.0 < dt <= LONGEST_GAP_S:
            self._follows.step(sample, dt)
        else:
            self._follows.begin(sample)
        estimate = self._follows.reading(sample)
        if self._reach.holds(estimate.arm_deg):
            return estimate
        # The angle was lost on the way, or the sample itself is no arm's.
        self._follows.begin(sample)
        estimate = self._follows.reading(sample)
        if self._reach.holds(estimate.arm_deg):
            return estimate
        nearest = self._reach.clamp(estimate.arm_deg)
        return ArmEstimate(sample.t, nearest, 0.0, UNKNOWN_DEG, UNKNOWN_DEG)
