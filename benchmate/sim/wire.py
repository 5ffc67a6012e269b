"""The cable between computer and chip, with what can go wrong on it."""

import errno
import os
import random
import threading

from benchmate.clock import Clock
from benchmate.sim.chips.chip import Chip, refused
from benchmate.sim.clock import QuickClock

_BIT_S = 1e-5
"""100 kHz, as a Pi comes."""
_BUS_TIMEOUT_S = 1.0
"""After so long the computer's adapter gives up on a bus that a chip holds."""


class Wire:
    """One chip on one bus. Every transfer goes through ``transfer``; faults sit in plain fields."""

    def __init__(
        self,
        chip: Chip,
        address: int,
        clock: Clock,
        seed: int,
        lock: "threading.RLock | None" = None,
    ) -> None:
        self.chip = chip
        self.address = address
        self.lock = threading.RLock() if lock is None else lock
        """Held while the chip or what it sits on is asked or changed."""
        self.plugged = True
        self.refusals = 0
        """So many transfers still to be refused."""
        self.stuck_until = 0.0
        self.busy = False
        """A kernel driver owns the address."""
        self.answers: int | None = None
        """A byte that every read gives instead of the chip's own."""
        self.top_bit_flips = 0.0
        """Chance that a byte read has its top bit wrong."""
        self._clock = clock
        self._dice = random.Random(seed)  # noqa: S311 - a rehearsal's noise, nothing secret

    @property
    def hangs(self) -> bool:
        """Whether the chip holds the bus."""
        return self._clock.now() < self.stuck_until

    def transfer(self, address: int, data: bytes | None, count: int = 0) -> bytes:
        """Write data, then read count bytes, as one transfer; None and 0 leave a half out.

        OSError 121 when nobody acknowledges, 110 when the bus hangs.
        """
        with self.lock:
            now = self._clock.now()
            if not self.hangs:
                try:
                    answer = self._answer(now, address, data, count)
                finally:
                    self._take_time(len(data or b""), count)
                return answer
        self._clock.sleep(_BUS_TIMEOUT_S)
        raise OSError(errno.ETIMEDOUT, os.strerror(errno.ETIMEDOUT))

    def _answer(self, now: float, address: int, data: bytes | None, count: int) -> bytes:
        if address != self.address or not self.plugged:
            raise refused()
        if self.refusals > 0:
            self.refusals -= 1
            raise refused()
        if data is not None:
            self.chip.write(now, data)
        answer = self.chip.read(now, count) if count else b""
        if self.answers is not None:
            return bytes((self.answers,)) * count
        if self.top_bit_flips:
            return bytes(
                byte ^ 0x80 if self._dice.random() < self.top_bit_flips else byte for byte in answer
            )
        return answer

    def _take_time(self, written: int, read: int) -> None:
        """Let the bits go by; on the machine's own clock the program's own time is enough."""
        if isinstance(self._clock, QuickClock):
            bits = 9 * (1 + written) + 2 + (9 * (1 + read) + 1 if read else 0)
            self._clock.sleep(bits * _BIT_S)


class Wires:
    """One bus with a cable to each of its chips."""

    def __init__(self, *wires: Wire) -> None:
        self._wires = wires

    def to(self, address: int) -> Wire:
        """Give the cable that a call of this address is answered on, or refused.

        A chip that holds the bus holds it against the others.
        """
        holds = [wire for wire in self._wires if wire.hangs]
        answers = [wire for wire in self._wires if wire.address == address]
        return (holds or answers or list(self._wires))[0]
