"""Whether the arm stands still: whether its angles agree with their average so far.

Two one-sided cumulative sums watch for the arm leaving the average either way (E. S. Page,
"Continuous inspection schemes", Biometrika 41, 1954).
"""

import math

ALLOWED_SD = 0.4
"""A lean from the average smaller than this part of one sample's noise is let pass."""
STIR_SD = 7.0
"""From here on the arm may be moving: by chance once in five seconds at 200 samples a second."""
JUMP_SD = 4.0
"""A single sample so far off is not averaged in as one of a standstill."""
LEFT_SD = 16.0
"""From here on it has moved, and another average begins."""
SETTLED_S = 0.25
UNSEEN_TIMES = 6.0
"""A standstill counts once it has lasted so many times as long as a stroke goes unseen."""
LONGEST_S = 1.5


class Standstill:
    """Watches angles [rad] for the arm leaving their average.

    ``unseen_s`` is how long a stroke hides in the noise of the angles. What lies along gravity is
    watched beside the angle: an arm that speeds up shows in it where the angle hides it.
    """

    def __init__(self, rate_hz: float, unseen_s: float) -> None:
        settled_s = max(SETTLED_S, UNSEEN_TIMES * unseen_s)
        self._settled = max(8, round(settled_s * rate_hz))
        self._longest = max(self._settled, round(LONGEST_S * rate_hz))
        self._angle = self._length = 0.0
        self._count = 0
        self._jump = 0.0
        self._sums = (0.0, 0.0, 0.0, 0.0)

    @property
    def lasts(self) -> bool:
        """Tell whether the angles have agreed for long enough."""
        return self._count >= self._settled

    @property
    def calm(self) -> bool:
        """Tell whether the standstill lasts and nothing stirs."""
        return self.lasts and max(self._sums) < STIR_SD and self._jump < JUMP_SD

    def leave(self) -> None:
        """Forget the standstill: the next angle begins another."""
        self._count = 0
        self._sums = (0.0, 0.0, 0.0, 0.0)

    def least_sd(self, noise: float) -> float:
        """Give the sd of an average over the longest time that one is taken over."""
        return noise / math.sqrt(self._longest)

    def see(self, angle: float, noise: float, length: float = 0.0) -> None:
        """Take in one angle with its noise, 1 sd, and gravity's length in that noise's unit."""
        if self._count:
            lean, stretch = (angle - self._angle) / noise, length - self._length
            self._jump = max(abs(lean), abs(stretch))
            up, down, out, back = self._sums
            self._sums = (
                max(0.0, up + lean - ALLOWED_SD),
                max(0.0, down - lean - ALLOWED_SD),
                max(0.0, out + stretch - ALLOWED_SD),
                max(0.0, back - stretch - ALLOWED_SD),
            )
            if max(self._sums) > LEFT_SD:
                self.leave()
        self._count = min(self._count + 1, self._longest)
        self._angle += (angle - self._angle) / self._count
        self._length += (length - self._length) / self._count
