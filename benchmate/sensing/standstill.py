"""Whether the arm stands still, and where: the average over the standstill so far.

Two one-sided cumulative sums watch for the arm leaving the average either way (E. S. Page,
"Continuous inspection schemes", Biometrika 41, 1954).
"""

import math

ALLOWED_SD = 0.4
"""A lean from the average smaller than this part of one sample's noise is let pass."""
STIR_SD = 7.0
"""From here on the arm may be moving: by chance once in five seconds at 200 samples a second."""
LEFT_SD = 12.0
"""From here on it has moved, and another average begins."""
SETTLED_S = 0.25
LONGEST_S = 1.5


class Standstill:
    """Averages angles [rad] while they agree; ``angle`` and ``sd`` count while ``calm``."""

    def __init__(self, rate_hz: float) -> None:
        self._settled = max(8, round(SETTLED_S * rate_hz))
        self._longest = max(self._settled, round(LONGEST_S * rate_hz))
        self.angle = 0.0
        self.sd = 0.0
        self._count = 0
        self._up = self._down = 0.0

    @property
    def calm(self) -> bool:
        """Tell whether the arm has stood still for a quarter of a second and nothing stirs."""
        return self._count >= self._settled and self._up < STIR_SD and self._down < STIR_SD

    def leave(self) -> None:
        """Forget the standstill: the next angle begins another."""
        self._count = 0
        self._up = self._down = 0.0

    def see(self, angle: float, noise: float) -> None:
        """Take in one angle with its noise, 1 sd."""
        lean = (angle - self.angle) / noise if self._count else 0.0
        self._up = max(0.0, self._up + lean - ALLOWED_SD)
        self._down = max(0.0, self._down - lean - ALLOWED_SD)
        if self._up > LEFT_SD or self._down > LEFT_SD:
            self.leave()
        self._count = min(self._count + 1, self._longest)
        self.angle += (angle - self.angle) / self._count
        self.sd = noise / math.sqrt(self._count)
