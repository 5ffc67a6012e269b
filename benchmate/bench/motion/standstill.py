"""A standstill: how long the arm has kept to one place, where that is, if it creeps."""

from typing import NamedTuple

BAND_DEG = 0.08
"""Half the band that a still arm keeps to, on a quiet sensor; three times the noise come on top."""
NOISIEST_DEG = 0.3
"""A reading noisier than this is of an arm that is shaken: the band gets no wider for it."""
CREEP_DPS = 0.35
"""A slower slope over a whole window counts as standing still."""


class Standstill(NamedTuple):
    """Sums over the readings since the arm left the band; the slope is by least squares."""

    since: float = 0.0
    last: float = 0.0
    origin: float = 0.0
    readings: int = 0
    sum_a: float = 0.0
    sum_t: float = 0.0
    sum_tt: float = 0.0
    sum_ta: float = 0.0

    @property
    def mean(self) -> float:
        """Mean angle [deg] of the standstill."""
        return self.origin + self.sum_a / self.readings if self.readings else self.origin

    @property
    def slope_dps(self) -> float:
        """Slope [deg/s] of the line through the standstill; 0 with fewer than three readings."""
        spread = self.readings * self.sum_tt - self.sum_t**2
        if self.readings < 3 or spread <= 0.0:
            return 0.0
        return (self.readings * self.sum_ta - self.sum_t * self.sum_a) / spread

    def lasts(self, seconds: float, creep_dps: float = CREEP_DPS) -> bool:
        """Say whether the arm has stood still for so long, creeping no faster than that."""
        return self.last - self.since >= seconds and abs(self.slope_dps) <= creep_dps

    def shifted(self, by_deg: float) -> "Standstill":
        """Give the same standstill with the angle's origin moved."""
        return self._replace(origin=self.origin + by_deg)


def extend(standstill: Standstill, t: float, arm: float, noise: float) -> Standstill:
    """Take one more reading [s, deg, deg]: the standstill goes on, or a new one begins with it."""
    band = BAND_DEG + 3.0 * min(noise, NOISIEST_DEG)
    if standstill.readings == 0 or abs(arm - standstill.mean) > band:
        return Standstill(since=t, last=t, origin=arm, readings=1)
    age, off = t - standstill.since, arm - standstill.origin
    return Standstill(
        standstill.since,
        t,
        standstill.origin,
        standstill.readings + 1,
        standstill.sum_a + off,
        standstill.sum_t + age,
        standstill.sum_tt + age * age,
        standstill.sum_ta + age * off,
    )
