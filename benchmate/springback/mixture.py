"""A weighted handful of normal beliefs of one angle. Degrees."""

import math
from dataclasses import dataclass
from operator import mul

from benchmate.springback.prior import Array

_LEAST_SD = 1e-9
_LEAST_CHANCE = 1e-6
_ROOT_2, _ROOT_PI = math.sqrt(2), math.sqrt(math.pi)


@dataclass(frozen=True, slots=True)
class Mixture:
    """Normal beliefs with their chances, which sum to 1."""

    chance: tuple[float, ...]
    mean: tuple[float, ...]
    sd: tuple[float, ...]

    @classmethod
    def of(cls, chance: Array, mean: Array, sd: Array) -> "Mixture":
        """Gather the beliefs that have any chance."""
        kept = chance > _LEAST_CHANCE
        return cls(
            tuple((chance[kept] / chance[kept].sum()).tolist()),
            tuple(mean[kept].tolist()),
            tuple(max(each, _LEAST_SD) for each in sd[kept].tolist()),
        )

    def above(self, angle: float) -> float:
        """Give the chance of lying above the angle."""
        return self.tail(angle)[0]

    def tail(self, angle: float) -> tuple[float, float]:
        """Give the chance of lying above the angle, and the density there [1/deg]."""
        chance = density = 0.0
        for weight, mean, sd in zip(self.chance, self.mean, self.sd, strict=True):
            z = (angle - mean) / (sd * _ROOT_2)
            chance += weight * math.erfc(z)
            density += weight / sd * math.exp(-z * z)
        return chance / 2, density / (_ROOT_2 * _ROOT_PI)

    def between(self, low: float, high: float) -> float:
        """Give the chance of lying between two angles."""
        return self.above(low) - self.above(high)

    def moved(self, by: float) -> "Mixture":
        """Give the same beliefs, all moved."""
        return Mixture(self.chance, tuple(mean + by for mean in self.mean), self.sd)

    @property
    def centre(self) -> float:
        """Give the mean."""
        centre: float = sum(map(mul, self.chance, self.mean))
        return centre

    @property
    def spread(self) -> float:
        """Give the standard deviation."""
        centre = self.centre
        parts = zip(self.chance, self.mean, self.sd, strict=True)
        return math.sqrt(sum(c * (sd**2 + (m - centre) ** 2) for c, m, sd in parts))
