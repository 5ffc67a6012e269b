"""The live arm angle from one sensor's samples, with its rate and an honest standard deviation."""

from benchmate.sensing.calibration.error_model import Calibration, from_factory
from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.filters.encoder import EncoderEstimator
from benchmate.sensing.filters.gravity import GravityEstimator
from benchmate.sensing.mount.alignment import Mount
from benchmate.sensing.sample import ArmEstimate, Sample
from benchmate.shop.parts import Arm

LONGEST_GAP_S = 0.25


class ArmAngleEstimator:
    """Follows the arm: same samples, same readings; memory doesn't grow.

    Feed it good samples only, in order. ``calibration`` None: the chip is taken as it comes from
    the factory, and the standard deviation says so. A gap of more than a quarter of a second
    begins anew, as ``reset`` does.
    """

    def __init__(
        self, mount: Mount, facts: ChipFacts, arm: Arm, calibration: Calibration | None = None
    ) -> None:
        known = from_factory(facts) if calibration is None else calibration
        self._follows: GravityEstimator | EncoderEstimator = (
            EncoderEstimator(mount, facts, known)
            if facts.is_encoder
            else GravityEstimator(mount, facts, known, arm)
        )
        self._t: float | None = None

    def reset(self) -> None:
        """Begin anew with the next sample; the number of whole turns so far is kept."""
        self._t = None

    def step(self, sample: Sample) -> ArmEstimate:
        """Take one sample in; give the arm as it is believed to be at that instant."""
        dt = 0.0 if self._t is None else sample.t - self._t
        self._t = sample.t
        if 0.0 < dt <= LONGEST_GAP_S:
            self._follows.step(sample, dt)
        else:
            self._follows.begin(sample)
        return self._follows.reading(sample)
