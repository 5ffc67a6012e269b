"""Measurement noise that comes and goes: a box that rings when a stroke is braked.

By covariance matching: what an innovation has beyond its own variance is noise that the model
doesn't know (R. K. Mehra, "Approaches to adaptive filtering", IEEE Trans. Automatic Control 17,
1972). A brake knocks the box by some hundredths of g; it rings at some tens of hertz and is quiet
again after a tenth of a second or two.
"""

import math

FROM_SD = 5.0
"""An innovation so many standard deviations long is no stroke's and no noise's."""
LEAST_G2 = 0.02**2
"""A knock is taken to be at least as large [g^2]: where its ringing begins it passes nought."""
MOST_G2 = 0.1**2
CORRELATED = 6.0
"""It goes to and fro over several samples, each of which is taken in as if it were alone."""
FADES_S = 0.1
"""How fast its variance is forgotten: no faster than ringing dies."""
LONGEST_S = 0.3
"""What lasts longer was the arm's own move, and is believed from then on."""


class VibrationNoise:
    """The variance [g^2] of vibration, from innovations as they come."""

    def __init__(self) -> None:
        self.variance_g2 = 0.0
        self._lasted_s = 0.0
        self._quiet_s = 0.0

    def update(self, innovation_g: float, variance_g2: float, dt: float) -> bool:
        """Take in an innovation and the variance that it should have; True when a knock begins."""
        square = innovation_g * innovation_g
        surprised = square > FROM_SD**2 * variance_g2
        begins = surprised and self._lasted_s == 0.0
        kept = self.variance_g2 * math.exp(-dt / FADES_S)
        if surprised:
            excess = min(CORRELATED * (square - variance_g2), MOST_G2)
            kept = max(kept, excess, LEAST_G2)
        self._quiet_s = 0.0 if surprised else self._quiet_s + dt
        if self._quiet_s > FADES_S:
            self._lasted_s = 0.0
        elif kept > 0.0:
            self._lasted_s += dt
        self.variance_g2 = 0.0 if self._lasted_s >= LONGEST_S else kept
        return begins
