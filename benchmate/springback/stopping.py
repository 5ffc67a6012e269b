"""Where the person at the pump really stops: peak less stop angle, learned."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

_MEMORY = 60.0
"""Stops that count at most: a person's habit changes, old stops fade."""

_LEAST_SD_DEG = 0.05
"""Nobody stops a hand pump more evenly: equal figures are luck or rounding."""

_TELLING = 2
"""Stops on one piece from which on they say something of the next one on it."""
_HABIT = 5.0


class NextStop(NamedTuple):
    """Where the next stop will be past the cue: mean and standard deviation [deg]."""

    mean: float
    sd: float


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

    def next_on_piece(self, errors: Sequence[float]) -> NextStop:
        """Give the next stop on a piece where these were made: who stopped short will again.

        Of what all n stops there share, n / (n + 1) is taken for this piece's own, as if pieces
        differed by as much as one stop does from the next; stops on both sides share nothing. How
        evenly they were made weighs against ``_HABIT`` stops of the usual scatter.
        """
        told = len(errors)
        if told < _TELLING:
            return NextStop(self.mean, self.sd)
        far = 3 * self.sd
        gaps = [min(max(error - self.mean, -far), far) for error in errors]
        middle = sum(gaps) / told
        squares = _HABIT * self.sd**2 + sum((gap - middle) ** 2 for gap in gaps)
        sd = max(math.sqrt(squares / (_HABIT + told - 1) * (1 + 1 / (told + 1))), _LEAST_SD_DEG)
        shared = max(min(gaps), 0.0) + min(max(gaps), 0.0)
        return NextStop(self.mean + shared * told / (told + 1), sd)

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
