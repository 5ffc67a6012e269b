"""Where the person at the pump really stops: peak less stop angle, learned."""

import math
from dataclasses import dataclass, replace

_MEMORY = 60.0
"""Stops that count at most: a person's habit changes, old stops fade."""

_LEAST_SD_DEG = 0.05
"""Nobody stops a hand pump more evenly: equal figures are luck or rounding."""


@dataclass(frozen=True, slots=True)
class Stopping:
    """Belief of the stopping error: normal with unknown mean and spread (normal-inverse-gamma).

    The update is the conjugate one: A. Gelman and others, "Bayesian Data Analysis", section on the
    normal with unknown mean and variance. The default is worth five stops of 0 +- 0.25 degrees.
    """

    mean: float = 0.0
    count: float = 5.0
    squares: float = 5.0 * 0.25**2
    stops: int = 0

    @property
    def sd(self) -> float:
        """Give the standard deviation of the next stop about ``mean`` [deg]."""
        return max(math.sqrt(self.squares / self.count * (1 + 1 / self.count)), _LEAST_SD_DEG)

    def learn(self, error: float) -> "Stopping":
        """Give the belief after one more stop; a wild one counts as one at three deviations."""
        far = 3 * self.sd
        gap = min(max(error - self.mean, -far), far)
        count = self.count + 1
        fade = min(1.0, _MEMORY / count)
        return replace(
            self,
            mean=self.mean + gap / count,
            count=count * fade,
            squares=(self.squares + gap**2 * self.count / count) * fade,
            stops=self.stops + 1,
        )
