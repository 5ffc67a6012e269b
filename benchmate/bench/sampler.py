"""From the chip to good samples: each stamped when read, each fault told, each chip brought back.

Nothing is done here but read and judge, so nothing waits for a disk, a screen or a store.
"""

import logging
import re
from collections.abc import Iterator
from typing import TypeAlias

from benchmate.bench.inputs import Back, Lost
from benchmate.clock import Clock
from benchmate.sensing.chips.driver import ChipDriver
from benchmate.sensing.health.monitor import HealthMonitor
from benchmate.sensing.sample import Sample, SensorFault

SILENCE_S = 0.1
"""No good sample for so long is a fault."""
RETRY_S = 0.25
"""Between two attempts at bringing the chip back."""
LONG_TURN_S = 0.05
"""A turn that takes longer set its chip up, or waited for the bus."""
AHEAD = 0.94
"""Of the chip's period: a chip that runs a few per cent fast still loses no sample to us."""
FURTHEST_AHEAD = 0.7
"""So far the reader hurries after a faster one: its rate is seen, and told when it is too fast."""
HURRY, EASE = 1e-3, 8e-3
"""Shares of the period by which a sample found at once hastens the reader, and one not yet there
slows it: they are even when it has come too early for every eighth sample."""
ON_TIME = 0.25
"""A turn later than this part of the period, or longer than usual by so much, says nothing of the
chip's pace."""
VERIFY_S = 0.1
"""How often the chip's settings are read back on a bus too slow to do so after every sample."""
SPARE = 0.5
"""A sample that takes less than this part of the period leaves time for that."""

Told: TypeAlias = Sample | Lost | Back

_log = logging.getLogger(__name__)


class Sampler:
    """Reads one chip on its own clock and tells good samples, faults and their end."""

    def __init__(
        self, chip: ChipDriver, health: HealthMonitor, clock: Clock, chips: int = 1
    ) -> None:
        """Read ``chip``, one of so many that share the bus and this thread."""
        self._spare = SPARE / chips
        self._chip = chip
        self._health = health
        self._clock = clock
        self._usual = self._period = AHEAD / chip.rate_hz
        # An encoder has no pace of its own: whenever it is asked there is an angle.
        encoder = chip.facts.is_encoder
        self._least = self._usual if encoder else FURTHEST_AHEAD / chip.rate_hz
        self._takes = 0.1 * self._period
        self._due = clock.now()
        self._lost: SensorFault | None = None
        self._good_since: list[Sample] = []
        self._last_sample = clock.now()
        self._start_due = True
        self._next_start = 0.0
        self._next_verify = 0.0

    @property
    def due(self) -> float:
        """Give when the next turn is due [s]."""
        return self._due

    @property
    def blind(self) -> bool:
        """Tell whether a fault stands."""
        return self._lost is not None

    def turns(self) -> Iterator[Told | None]:
        """Give what each turn brings, for ever; None when there is nothing new."""
        while True:
            yield self.turn()
            self._clock.sleep(self._due - self._clock.now())

    def turn(self) -> Told | None:
        """Read and judge once, whether due or not."""
        told = self._turn()
        self._due = max(self._due + self._period, self._clock.now())
        return told

    def waited(self) -> None:
        """Take in that another chip was set up meanwhile: the gap is no slowness of this one."""
        self._health.started(self._clock.now())

    def _turn(self) -> Told | None:
        now = self._clock.now()
        try:
            if self._start_due:
                self._start(now)
            elif now >= self._next_verify:
                self._verify(now)
            sample = None if self._start_due else self._chip.read()
            if sample is not None and self._clock.now() - now < self._spare * self._period:
                # Before it is told: what was taken with other settings is no sample.
                self._verify(now)
        except SensorFault as fault:
            return self._failed(fault)
        on_time = self._was_on_time(now, found=sample is not None)
        if sample is not None:
            if on_time:
                self._period = max(self._period * (1.0 - HURRY), self._least)
            self._last_sample = sample.t
            return self._judged(sample)
        # We are ahead of the chip: look again soon.
        self._due -= 0.75 * self._period
        if on_time:
            self._period = min(self._period * (1.0 + EASE), self._usual)
        if self._lost is None and self._clock.now() - self._last_sample > SILENCE_S:
            return self._failed(SensorFault("sensor", self._silent()))
        return None

    def _verify(self, now: float) -> None:
        self._next_verify = now + VERIFY_S
        self._chip.verify()

    def _was_on_time(self, now: float, *, found: bool) -> bool:
        """Tell whether this turn came when it was due and took no longer than turns do."""
        took = self._clock.now() - now
        late_s = now - self._due + max(took - self._takes, 0.0)
        if found:
            # It goes to the middle of what turns take: a stall doesn't move it, a slow bus does.
            self._takes *= 1.05 if took > self._takes else 0.95
        if late_s <= ON_TIME * self._period:
            return True
        self._health.late()
        return False

    def _start(self, now: float) -> None:
        if now < self._next_start:
            return
        self._next_start = now + RETRY_S
        self._chip.start()
        self._start_due = False
        self._last_sample = self._clock.now()
        self._health.started(self._last_sample)

    def _failed(self, fault: SensorFault) -> Told | None:
        """Take a transfer or a setting gone wrong; a passing one on the bus is no fault yet."""
        now = self._clock.now()
        passing = fault.what == "bus" and now - self._last_sample <= SILENCE_S
        if self._lost is None and passing and not self._start_due:
            return None
        self._start_due = True
        self._good_since.clear()
        self._health.fail(fault, now)
        return self._tell(fault, now)

    def _judged(self, sample: Sample) -> Told | None:
        fault = self._health.see(sample)
        if fault is not None:
            if self._health.finds_good(sample):
                self._good_since.append(sample)
            else:
                self._good_since.clear()
            known = self._lost
            if known is None and fault.what == "sensor":
                self._start_due = True
            return self._tell(fault, sample.t)
        if self._lost is None:
            return sample
        self._lost = None
        since, self._good_since = (*self._good_since, sample), []
        return Back(sample.t, since)

    def _tell(self, fault: SensorFault, t: float) -> Told | None:
        if self._lost is not None and _words(self._lost.detail) == _words(fault.detail):
            return None
        self._lost = fault
        _log.warning("%s: %s", fault.what, fault.detail)
        return Lost(t, fault.what, fault.detail)

    def _silent(self) -> str:
        return (
            f"{self._chip.kind} at 0x{self._chip.address:02x} has given no new sample for "
            f"{SILENCE_S:g} s: check its supply and cable; it is set up again"
        )


def _words(detail: str) -> str:
    """Give what is said without its figures: the same fault again is no news."""
    return re.sub(r"0x[0-9a-f]+|[0-9.]+", "", detail)


class PairSampler:
    """Reads the arm's chip and another by turns, each when it is due, in one thread.

    The other is the frame's, or ``where`` its faults are told. A sample of the arm carries its
    newest under ``frame``. A fault of either is told, and the arm is known
    again only when neither stands.
    """

    def __init__(
        self, arm: Sampler, frame: Sampler, clock: Clock, where: str = "on the frame"
    ) -> None:
        self._where = where
        self._arm = arm
        self._frame = frame
        self._clock = clock
        self._rocked: Sample | None = None

    def turns(self) -> Iterator[Told | None]:
        """Give what each turn brings, for ever; None when there is nothing new."""
        while True:
            turns_frame = self._frame.due < self._arm.due
            sampler, other = (self._arm, self._frame)[:: -1 if turns_frame else 1]
            self._clock.sleep(sampler.due - self._clock.now())
            began = self._clock.now()
            told = sampler.turn()
            if self._clock.now() - began > LONG_TURN_S:
                other.waited()
            yield self._seen_of_frame(told) if turns_frame else self._seen(told)

    def _seen(self, told: Told | None) -> Told | None:
        if isinstance(told, Lost):
            return told
        if self._rocked is None or self._frame.blind:
            return None
        match told:
            case Sample():
                return told._replace(frame=self._rocked)
            case Back():
                # What the frame did beside the samples that it holds is not known.
                return Back(told.t)
        return None

    def _seen_of_frame(self, told: Told | None) -> Told | None:
        match told:
            case Sample():
                self._rocked = told
                return None
            case Lost():
                self._rocked = None
                return told._replace(detail=f"{self._where}: {told.detail}")
            case Back():
                return None if self._arm.blind else Back(told.t)
        return None
