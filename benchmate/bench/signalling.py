"""Sounds and lights what the stream says, from a thread of its own."""

from collections.abc import Callable

from benchmate import stream
from benchmate.bench.pins import Pins
from benchmate.bench.supervisor import Supervised
from benchmate.clock import Clock
from benchmate.signal_patterns import UNZEROED_DEG, Signal, lamp_test, signal

SIGNAL_EVERY_S = 0.02
AGAIN_AFTER_S = 1.0
"""After a failure of the pins: the tone that was meant is due all the same."""


class Signalling:
    """What the person at the pump hears and sees beside the screen."""

    def __init__(self, pins: Pins, clock: Clock, failed: Callable[[str], None]) -> None:
        """Begin; ``failed`` is told when the pins can't be driven any more."""
        self._pins = pins
        self._clock = clock
        self._cue: stream.Cue = "wait"
        self._to_go: float | None = None
        self._faults: frozenset[str] = frozenset()
        self._verdict: stream.Say | None = None
        self._lowest: float | None = None
        self._unzeroed = False
        self._began = self._since = clock.now()
        self._thread = Supervised("signals", self._run, failed, again_after_s=AGAIN_AFTER_S)
        if pins.any:
            self._thread.start()

    def hear(self, event: stream.Event) -> None:
        """Take one event; any thread may."""
        match event:
            case stream.Reading():
                self._hear_reading(event)
            case stream.Verdict(say=said):
                self._verdict, self._since = said, self._clock.now()
            case stream.Target():
                self._verdict, self._since = None, self._clock.now()
            case stream.Fault(what=what) if what in stream.BLINDING:
                self._faults |= {what}
                self._since = self._clock.now()
            case stream.Cleared(what=what):
                self._faults -= {what}
            case _:
                pass

    def _hear_reading(self, reading: stream.Reading) -> None:
        self._to_go = reading.to_go
        unzeroed = self._pumped_without_zero(reading)
        if (reading.cue, unzeroed) != (self._cue, self._unzeroed):
            self._cue, self._unzeroed = reading.cue, unzeroed
            if self._verdict is None:
                self._since = self._clock.now()

    def _pumped_without_zero(self, reading: stream.Reading) -> bool:
        if reading.phase != "zeroing" or reading.arm is None:
            self._lowest = None
            return False
        self._lowest = reading.arm if self._lowest is None else min(self._lowest, reading.arm)
        return reading.arm - self._lowest > UNZEROED_DEG

    def close(self) -> None:
        """Be silent and dark, and give the pins back."""
        self._thread.stop(1.0)
        self._pins.close()

    def due(self) -> Signal:
        """Give what is to be heard and seen now."""
        now = self._clock.now()
        return lamp_test(now - self._began) or signal(
            self._cue,
            fault=bool(self._faults),
            to_go=self._to_go,
            age_s=now - self._since,
            say=self._verdict,
            unzeroed=self._unzeroed,
        )

    def _run(self) -> None:
        while not self._thread.stopping.wait(SIGNAL_EVERY_S):
            self._pins.show(self.due())
