"""AS5600: the magnetic encoder on the pivot.

Registers and the pointer's habits after the ams data sheet AS5600 v1-06.
"""

import math
from typing import NamedTuple

from benchmate.sim.chips.chip import Chip, Feel, refused
from benchmate.sim.draws import Noise, chance, stable_seed

_WRITABLE = frozenset(range(0x01, 0x09))
_VALID = frozenset((*range(0x09), *range(0x0B, 0x10), 0x1A, 0x1B, 0x1C, 0xFF))
_PAIRS = (0x0C, 0x0E, 0x1B)
"""High bytes of the outputs that are two bytes wide."""
_STEPS = 4096
_EVERY_S = (150e-6, 5e-3, 20e-3, 100e-3)
"""Time between two looks at the magnet, by power mode."""
_FILTERS = ((2.2e-3, 0.015), (1.1e-3, 0.021), (0.55e-3, 0.030), (0.29e-3, 0.043))
"""Settling time [s] and noise [deg] by slow-filter code."""
_STRONGEST, _WEAKEST = 0, 128
"""Gain control at its ends on a 3.3 V supply."""


class _Harmonic(NamedTuple):
    order: int
    deg: float
    phase: float


class As5600(Chip):
    """The chip and its magnet, set off-centre and a little askew as the seed has it."""

    def __init__(self, feel: Feel, t: float, seed: int) -> None:
        super().__init__(feel)
        self._seed = seed
        draw = chance(seed, "magnet")
        sizes = ((1, draw.uniform(0.4, 1.4)), (2, draw.uniform(0.1, 0.4)), (4, 0.08))
        self._errors = tuple(
            _Harmonic(order, float(size), float(draw.uniform(0.0, 2.0 * math.pi)))
            for order, size in sizes
        )
        self._gain = int(draw.integers(50, 80))
        self._strength = int(draw.integers(1500, 2100))
        self._magnet = True
        self._set_ups = 0
        self.power_up(t - 1.0)

    def power_up(self, t: float) -> None:
        """Come up with nothing burnt: full turn, normal power, slowest filter."""
        self._registers = bytearray(256)
        self._raw = 0
        self._low_due: set[int] = set()
        """Pairs whose high byte was read: the low byte belongs to it."""
        self._restart(t)

    def saturate(self, axis: int) -> None:
        """Refuse: an encoder has no axis to saturate."""
        raise ValueError(f"an encoder has no axis {axis} to saturate")

    def lose_magnet(self) -> None:
        """Take the magnet away."""
        self._magnet = False

    def move_magnet(self, gain: int) -> None:
        """Move the magnet until the gain control stands there; it ends at 0 and 128."""
        self._gain = min(max(gain, _STRONGEST), _WEAKEST)

    def mend(self) -> None:
        """Put the magnet back; let the outputs move again."""
        super().mend()
        self._magnet = True

    def write(self, t: float, data: bytes) -> None:
        """Take a write transfer; an address that no register has is not acknowledged."""
        super().write(t, data)
        if data and data[0] not in _VALID:
            raise refused()

    def read(self, t: float, count: int) -> bytes:
        """Answer a read transfer; from a pair's high byte on, it repeats this pair."""
        start = self._pointer
        if start not in _PAIRS:
            return super().read(t, count)
        return bytes(self._peek(t, start + place % 2) for place in range(count))

    def _restart(self, t: float) -> None:
        self._start = t
        self._set_ups += 1
        self._noise = Noise(stable_seed(self._seed, "noise", self._set_ups), 1)

    def _latch(self, t: float, count: int) -> None:
        """Do nothing: a pair is taken when its high byte is read."""

    def _poke(self, t: float, register: int, value: int) -> None:
        if register == 0xFF:
            raise RuntimeError(f"0x{value:02x} to 0xff burns an AS5600 for good: never write it")
        if register in _WRITABLE:
            self._registers[register] = value
            if register in (0x07, 0x08):
                self._restart(t)

    def _peek(self, t: float, register: int) -> int:
        if register == 0x0B:
            if not self._magnet:
                return 0x10
            return 0x20 | (self._gain >= _WEAKEST) << 4 | (self._gain <= _STRONGEST) << 3
        if register == 0x1A:
            return self._gain if self._magnet else _WEAKEST
        if register in _PAIRS:
            self._take(t)
            self._low_due.add(register)
            return self._pair(register) >> 8
        if register - 1 in _PAIRS:
            if register - 1 not in self._low_due:
                self._take(t)
            self._low_due.discard(register - 1)
            return self._pair(register - 1) & 0xFF
        return self._registers[register]

    def _pair(self, high: int) -> int:
        if high == 0x1B:
            return self._strength if self._magnet else 3
        return self._raw if high == 0x0C else self._scaled()

    def _scaled(self) -> int:
        """Give ANGLE: what ZPOS, MPOS and MANG make of the raw angle."""
        zero, end, span = (
            int.from_bytes(self._registers[high : high + 2], "big") & 0xFFF
            for high in (0x01, 0x03, 0x05)
        )
        span = (end - zero) % _STEPS if end else span or _STEPS
        past = (self._raw - zero) % _STEPS
        return min(past * _STEPS // span, _STEPS - 1)

    def _take(self, t: float) -> None:
        """Look at the magnet: the newest of the looks that the power mode allows."""
        if self.frozen:
            return
        every = _EVERY_S[self._registers[0x08] & 0x03] / self._pace
        number = int((t - self._start) / every)
        settle, noise = _FILTERS[self._registers[0x07] & 0x03]
        (drawn,) = self._noise.row(number)
        if not self._magnet:
            self._raw = int(drawn * _STEPS) % _STEPS
            return
        # The filter's output is half its settling time old.
        true = self._feel(self._start + number * every - 0.5 * settle).shaft_deg
        radians = math.radians(true)
        shown = true + sum(
            error.deg * math.sin(error.order * radians + error.phase) for error in self._errors
        )
        self._raw = round((shown + noise * drawn) * _STEPS / 360.0) % _STEPS
