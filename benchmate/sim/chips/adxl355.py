"""ADXL355: the quiet accelerometer, with its FIFO.

Register meanings after Analog Devices' public driver (no-OS, adxl355.h) and the kernel's; figures
after the data sheet ADXL354/ADXL355.
"""

import math
import struct

from benchmate.sim.chips.chip import (
    FIRST_ORDER,
    Chip,
    Feel,
    Ticks,
    Triple,
    clip,
    draw_flaws,
    settled,
    shifted,
    through,
)
from benchmate.sim.draws import Noise, chance, stable_seed

_RESET = {0x00: 0xAD, 0x01: 0x1D, 0x02: 0xED, 0x03: 0x01, 0x27: 0x01, 0x29: 0x60, 0x2C: 0x81}
_WRITABLE = frozenset((*range(0x1E, 0x2F),))
_DATA, _FIFO = 0x08, 0x11
_COUNTS_A_G = {0: 256_000, 1: 256_000, 2: 128_000, 3: 64_000}
_TOP = 1 << 19
_DENSITY = 22.5e-6
_FIFO_ENTRIES = 96
_LOAD_S = 0.004
"""After a reset the chip loads its trim for so long."""
_SELF_TEST_G = (0.3, 0.3, 1.5)


class Adxl355(Chip):
    """The chip as the bus sees it, with the flaws that its seed gives it."""

    def __init__(self, feel: Feel, t: float, seed: int) -> None:
        super().__init__(feel)
        self._seed = seed
        self._flaws = draw_flaws(
            seed, "accel", offset=0.025, gain=0.02, cross=0.005, drift_per_c=0.05e-3
        )
        self._trim = 1.0 + 0.01 * float(chance(seed, "rate").uniform(-1.0, 1.0))
        self._shadow = bytes(chance(seed, "shadow").integers(1, 255, 5).tolist())
        self._set_ups = 0
        self.power_up(t - 1.0)

    def power_up(self, t: float) -> None:
        """Come up in standby, outputs 0, loading its trim for some ms."""
        self._registers = bytearray(256)
        for register, value in _RESET.items():
            self._registers[register] = value
        self._registers[0x2D] = 0x01
        self._registers[0x50:0x55] = self._shadow
        self._loaded_at = t + _LOAD_S
        self._restart(t)

    def shift_zero(self, step_g: Triple) -> None:
        """Move the zero of each axis, as a knock does."""
        self._flaws = shifted(self._flaws, step_g)

    def leave_self_test_on(self) -> None:
        """Switch the self-test on and let it act."""
        self._registers[0x2E] = 0x03

    def _restart(self, t: float) -> None:
        measures = not self._registers[0x2D] & 0x01
        hertz = 4000.0 / 2 ** min(self._registers[0x28] & 0x0F, 10) if measures else 0.0
        self._ticks = Ticks(t, hertz * self._trim * self._pace)
        self._set_ups += 1
        self._noise = Noise(stable_seed(self._seed, "noise", self._set_ups), 3)
        self._shown = self._read_up_to = 0
        self._first_entry = self._fifo_byte = 0
        """Entries run from 0, three a sample; this one is read next."""
        self._overran = False

    def _poke(self, t: float, register: int, value: int) -> None:
        if register == 0x2F and value == 0x52:
            self.power_up(t)
        if register not in _WRITABLE:
            return
        self._registers[register] = value
        if register in (0x28, 0x2D):
            self._restart(t)

    def _next(self, register: int) -> int:
        return register if register == _FIFO else super()._next(register)

    def _latch(self, t: float, count: int) -> None:
        newest = self._ticks.count(t)
        if 3 * newest - self._first_entry > _FIFO_ENTRIES:
            self._first_entry = 3 * newest - _FIFO_ENTRIES
            self._overran = True
        begin, end = self._pointer, self._pointer + count
        if newest > self._shown and begin < _FIFO and end > 0x06 and not self.frozen:
            self._shown = newest
            for axis, value in enumerate(self._counts(newest)):
                self._registers[_DATA + 3 * axis : _DATA + 3 * axis + 3] = _left_justified(value)
            warm = self._feel(self._ticks.time(newest)).temperature_c - 25.0
            struct.pack_into(">H", self._registers, 0x06, clip(1885 - 9.05 * warm, 0, 4095))

    def _counts(self, number: int) -> tuple[int, int, int]:
        corner = self._ticks.rate_hz / 4.0
        felt = self._feel(self._ticks.time(number) - 1.0 / (2.0 * math.pi * corner))
        made = through(self._flaws, felt.accel_g, felt.temperature_c)
        if self._registers[0x28] & 0x70:
            # The high-pass takes gravity away.
            made = (0.0, 0.0, 0.0)
        counts_a_g = _COUNTS_A_G[self._registers[0x2C] & 0x03]
        spread = _DENSITY * math.sqrt(FIRST_ORDER * corner)
        drawn = self._noise.row(number)
        offsets = struct.unpack_from(">3h", self._registers, 0x1E)
        tested = self._registers[0x2E] & 0x03 == 0x03
        x, y, z = (
            clip(
                (settled(number) * made[axis] + spread * drawn[axis] + tested * _SELF_TEST_G[axis])
                * counts_a_g
                + 16 * offsets[axis],
                -_TOP,
                _TOP - 1,
            )
            if axis != self._saturated_axis
            else _TOP - 1
            for axis in range(3)
        )
        return x, y, z

    def _peek(self, t: float, register: int) -> int:
        if register == 0x04:
            return self._status(t)
        if register == 0x05:
            return self._waiting(t)
        if _DATA <= register <= _FIFO:
            self._read_up_to = self._ticks.count(t)
        return self._fifo(t) if register == _FIFO else self._registers[register]

    def _status(self, t: float) -> int:
        ready = self._ticks.count(t) > self._read_up_to
        full = self._waiting(t) >= self._registers[0x29]
        overran, self._overran = self._overran, False
        return (t < self._loaded_at) << 4 | overran << 2 | full << 1 | ready

    def _waiting(self, t: float) -> int:
        return 3 * self._ticks.count(t) - self._first_entry

    def _fifo(self, t: float) -> int:
        """Give the next byte of the entry that is read, marked X or empty in its last bits."""
        empty = self._waiting(t) <= 0
        number, axis = divmod(self._first_entry, 3)
        entry = bytearray(3)
        if not empty:
            entry[:] = _left_justified(self._counts(number + 1)[axis])
        entry[2] |= empty << 1 | (axis == 0 and not empty)
        byte = entry[self._fifo_byte]
        self._fifo_byte = (self._fifo_byte + 1) % 3
        if self._fifo_byte == 0 and not empty:
            self._first_entry += 1
        return byte


def _left_justified(value: int) -> bytes:
    return (value << 4 & 0xFFFFFF).to_bytes(3, "big")
