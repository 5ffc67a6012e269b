"""Time for rehearsals that need not wait."""

import threading


class QuickClock:
    """Seconds that pass only when somebody sleeps, and then at once."""

    def __init__(self, start: float = 100.0) -> None:
        self._now = start
        self._lock = threading.Lock()

    def now(self) -> float:
        """Give the rehearsal's time [s]."""
        return self._now

    def sleep(self, seconds: float) -> None:
        """Move time on; not at all for anything not positive."""
        if seconds > 0:
            with self._lock:
                self._now += seconds
