"""Time as the program sees it, passed in so that tests and rehearsals need no waiting."""

import time
from typing import Protocol


class Clock(Protocol):
    """Seconds that only go forward, and a way to wait for them."""

    def now(self) -> float:
        """Give the time [s] of CLOCK_MONOTONIC, or of the rehearsal."""
        ...

    def sleep(self, seconds: float) -> None:
        """Wait so long; at once for anything not positive."""
        ...


class MonotonicClock:
    """The machine's own clock: CLOCK_MONOTONIC, which no time service ever turns back."""

    def now(self) -> float:
        """Give CLOCK_MONOTONIC [s]."""
        return time.monotonic()

    def sleep(self, seconds: float) -> None:
        """Wait so long; at once for anything not positive."""
        if seconds > 0:
            time.sleep(seconds)
