"""The live arm angle from one sensor's samples, with its rate and an honest standard deviation."""

import math

from benchmate.sensing.chip import ChipFacts
from benchmate.sensing.mount import Mount
from benchmate.sensing.sample import Reading, Sample
from benchmate.shop.parts import Arm

_GAP_S = 0.5
_FOLLOW_S = 0.06


class Estimator:
    """Follows the arm: same samples, same readings. Memory doesn't grow."""

    def __init__(self, mount: Mount, facts: ChipFacts, arm: Arm) -> None:
        self._mount = mount
        self._facts = facts
        self._arm = arm
        self._arm_deg = 0.0
        self._rate_dps = 0.0
        self._t: float | None = None

    def reset(self) -> None:
        """Begin anew after a gap; the number of whole turns so far is kept."""
        self._t = None

    def step(self, sample: Sample) -> Reading:
        """Take one sample in; give the arm as it is believed to be at that instant."""
        seen, noise = self._seen(sample)
        if self._t is None or not 0.0 < sample.t - self._t < _GAP_S:
            self._arm_deg = self._unwrapped(seen)
            self._rate_dps = 0.0
            self._t = sample.t
            return Reading(sample.t, self._arm_deg, 0.0, noise)
        dt = sample.t - self._t
        self._t = sample.t
        expected = self._arm_deg + self._rate_dps * dt
        miss = math.remainder(seen - expected, 360.0)
        gain = 1.0 - math.exp(-dt / _FOLLOW_S)
        self._arm_deg = expected + gain * miss
        self._rate_dps += gain * gain / (2.0 - gain) * miss / dt
        sd = math.hypot(noise * math.sqrt(gain), 0.02)
        return Reading(sample.t, self._arm_deg, self._rate_dps, sd)

    def _seen(self, sample: Sample) -> tuple[float, float]:
        if sample.angle_deg is not None:
            return self._mount.sense * sample.angle_deg, self._facts.angle_noise_deg
        if sample.accel_g is None:
            raise ValueError("a sample carries an acceleration or an angle")
        x = sum(a * b for a, b in zip(sample.accel_g, self._mount.along, strict=True))
        y = sum(a * b for a, b in zip(sample.accel_g, self._mount.across, strict=True))
        noise = max(self._facts.accel_noise_g) / self._mount.leverage
        return math.degrees(math.atan2(y, x)), math.degrees(noise)

    def _unwrapped(self, seen: float) -> float:
        return self._arm_deg + math.remainder(seen - self._arm_deg, 360.0)
