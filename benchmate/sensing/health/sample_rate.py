"""Whether samples come at the rate that was set: grossly off in half a second, else in seconds.

A computer that is busy reads late, and in bursts: a gap, perhaps a sample lost, the next one soon.
That says nothing of the chip, so intervals in which the reader was late count for the reader alone.
"""

import statistics
from collections import deque
from typing import NamedTuple

GROSS_S = 0.3
GROSS_OFF = 0.4
LEAST_INTERVALS = 8
LOOK_EVERY_S = 0.05
OFF = 0.12
"""As a part of the rate. Chips keep theirs to some per cent: the LSM6DSO's own trim register holds
steps of 0.15 % because of it, the others' data sheets promise nothing."""
OFF_S = 1.0
"""Intervals on time that add up to so long tell it."""
GAP = 1.75
"""An interval so many times as long as it should be says nothing of a small error."""
BUSY_S = 3.0
BUSY = 0.33
"""A reader that gets less than this part of the samples in three seconds can't follow an arm."""


class RateDeviation(NamedTuple):
    """A rate [Hz] that is not the one that was set."""

    rate_hz: float
    busy: bool = False
    """The reader came late for them; else the chip or the bus was."""


class SampleRateMonitor:
    """Takes one chip's sample times."""

    def __init__(self, rate_hz: float) -> None:
        self._rate_hz = rate_hz
        self._gross: RateDeviation | None = None
        self._off: RateDeviation | None = None
        self._busy: RateDeviation | None = None
        self.pause()

    def pause(self) -> None:
        """Take in that samples were missing for a known reason; what was found stands until now."""
        self._last: float | None = None
        self._since = self._look_at = self._busy_since = 0.0
        self._came = 0
        self._recent: deque[tuple[float, float]] = deque()
        self._even, self._took = 0, 0.0
        self._was_late = self._late_before = False

    def late(self) -> None:
        """Take in that the reader was late since the last sample."""
        self._was_late = True

    def see(self, t: float) -> RateDeviation | None:
        """Take one sample's time [s]; give what is off, None while nothing is."""
        if self._last is None:
            self._last = self._since = self._busy_since = t
        elif t > self._last:
            periods, self._last = (t - self._last) * self._rate_hz, t
            # What is read late is followed soon by the next: two intervals are the reader's own.
            on_time = not (self._was_late or self._late_before)
            self._late_before, self._was_late = self._was_late, False
            self._judge_reader(t)
            if on_time:
                self._recent.append((t, periods))
                self._count(periods)
            if t - self._since >= GROSS_S and t >= self._look_at:
                self._look_roughly(t)
        return self._gross or self._off or self._busy

    def _look_roughly(self, t: float) -> None:
        self._look_at = t + LOOK_EVERY_S
        while self._recent and t - self._recent[0][0] > GROSS_S:
            self._recent.popleft()
        if len(self._recent) < LEAST_INTERVALS:
            return
        share = 1.0 / statistics.median(each for _, each in self._recent)
        self._gross = self._found(share, GROSS_OFF)

    def _count(self, periods: float) -> None:
        if periods > GAP:
            return
        self._even += 1
        self._took += periods
        if self._took < OFF_S * self._rate_hz:
            return
        self._off = self._found(self._even / self._took, OFF)
        self._even, self._took = 0, 0.0

    def _judge_reader(self, t: float) -> None:
        self._came += 1
        if t - self._busy_since < BUSY_S:
            return
        rate = self._came / (t - self._busy_since)
        self._busy = RateDeviation(rate, busy=True) if rate < BUSY * self._rate_hz else None
        self._busy_since, self._came = t, 0

    def _found(self, share: float, allowed: float) -> RateDeviation | None:
        return RateDeviation(share * self._rate_hz) if abs(share - 1.0) > allowed else None
