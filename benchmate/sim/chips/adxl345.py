"""ADXL345: the accelerometer of the cheap modules, with its FIFO.

Register meanings and behaviour after Analog Devices' data sheet ADXL345 Rev. E and the public
drivers written to it.
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
    shifted,
    through,
)
from benchmate.sim.draws import Noise, chance, stable_seed

_RESET = {0x00: 0xE5, 0x2C: 0x0A}
_WRITABLE = frozenset((*range(0x1D, 0x2B), *range(0x2C, 0x30), 0x31, 0x38))
_DATA, _DATA_END = 0x32, 0x38
_FIFO_DEPTH = 33
"""32 in the FIFO and one in the output registers."""
_COUNTS_A_G = 256
_DENSITY = (290e-6, 290e-6, 430e-6)
_WAKE_S = 0.0011
_SELF_TEST_G = (1.0, -1.0, 1.5)


class Adxl345(Chip):
    """The chip as the bus sees it, with the flaws that its seed gives it."""

    def __init__(self, feel: Feel, t: float, seed: int) -> None:
        super().__init__(feel)
        self._seed = seed
        # On 3.3 V, as a Pi feeds it, X and Y come out some 3.5 % large.
        self._flaws = draw_flaws(
            seed,
            "accel",
            offset=0.037,
            gain=0.015,
            cross=0.005,
            drift_per_c=0.4e-3,
            mean_gain=(1.035, 1.035, 1.0),
        )
        self._trim = 1.0 + 0.02 * float(chance(seed, "rate").uniform(-1.0, 1.0))
        self._set_ups = 0
        self.power_up(t - 1.0)

    def power_up(self, t: float) -> None:
        """Come up in standby, outputs 0."""
        self._registers = bytearray(256)
        for register, value in _RESET.items():
            self._registers[register] = value
        self._restart(t)

    def shift_zero(self, step_g: Triple) -> None:
        """Move the zero of each axis, as a knock does."""
        self._flaws = shifted(self._flaws, step_g)

    def leave_self_test_on(self) -> None:
        """Set the self-test bit: this chip has no reset command to clear it."""
        self._registers[0x31] |= 0x80

    def read(self, t: float, count: int) -> bytes:
        """Answer a read transfer; its end takes the sample that it touched off the FIFO."""
        answer = super().read(t, count)
        self._take_sample()
        return answer

    def _restart(self, t: float) -> None:
        power, rate = self._registers[0x2D], self._registers[0x2C] & 0x0F
        hertz = 0.0
        if power & 0x08:
            hertz = 8.0 / 2 ** (power & 0x03) if power & 0x04 else 0.09765625 * 2**rate
        self._ticks = Ticks(t + _WAKE_S, hertz * self._trim * self._pace)
        self._set_ups += 1
        self._noise = Noise(stable_seed(self._seed, "noise", self._set_ups), 3)
        self._empty()

    def _empty(self) -> None:
        self._seen = 0
        self._stored: list[int] = []
        """Numbers of the samples waiting, oldest first; without FIFO the newest alone."""
        self._shown = 0
        self._fresh = self._overrun = self._touched = False

    def _poke(self, t: float, register: int, value: int) -> None:
        if register not in _WRITABLE:
            return
        self._registers[register] = value
        if register in (0x2C, 0x2D):
            self._restart(t)
        elif register == 0x38 and not value >> 6:
            self._stored, self._shown = self._stored[-1:], 0

    def _next(self, register: int) -> int:
        if register == _DATA_END - 1:
            self._take_sample()
        return super()._next(register)

    def _take_sample(self) -> None:
        if not self._touched:
            return
        self._touched = self._overrun = self._fresh = False
        if self._registers[0x38] >> 6 and self._stored:
            del self._stored[0]

    def _latch(self, t: float, count: int) -> None:
        self._collect(t)
        reads_data = self._pointer < _DATA_END and self._pointer + count > _DATA
        if reads_data and self._stored and self._stored[0] != self._shown and not self.frozen:
            self._shown = self._stored[0]
            struct.pack_into("<3h", self._registers, _DATA, *self._counts(self._shown))

    def _collect(self, t: float) -> None:
        """Let the samples made since the last look into the FIFO, or past it."""
        newest = self._ticks.count(t)
        if newest <= self._seen:
            return
        came = range(self._seen + 1, newest + 1)
        self._seen = newest
        mode = self._registers[0x38] >> 6
        if mode == 0:
            self._overrun |= self._fresh or len(came) > 1
            self._stored = [newest]
        else:
            self._overrun |= len(self._stored) + len(came) > _FIFO_DEPTH
            if mode == 1:
                self._stored += came[: _FIFO_DEPTH - len(self._stored)]
            else:
                self._stored = [*self._stored, *came[-_FIFO_DEPTH:]][-_FIFO_DEPTH:]
        self._fresh = True

    def _counts(self, number: int) -> tuple[int, int, int]:
        shape = self._registers[0x31]
        span, full = shape & 0x03, bool(shape & 0x08)
        bits = 10 + span if full else 10
        counts_a_g = _COUNTS_A_G if full else _COUNTS_A_G >> span
        top = 1 << bits - 1
        corner = self._ticks.rate_hz / 2.0
        felt = self._feel(self._ticks.time(number) - 1.0 / (2.0 * math.pi * corner))
        made = through(self._flaws, felt.accel_g, felt.temperature_c)
        drawn = self._noise.row(number)
        trim = struct.unpack_from("3b", self._registers, 0x1E)
        spread = math.sqrt(FIRST_ORDER * corner)
        coarse = (self._registers[0x2C] & 0x0F) >= 0x0E and span == 0
        counts = []
        for axis in range(3):
            value = made[axis] + _DENSITY[axis] * spread * drawn[axis] + trim[axis] / 64.0
            if shape & 0x80:
                value += _SELF_TEST_G[axis]
            whole = clip(value * counts_a_g, -top, top - 1)
            if axis == self._saturated_axis:
                whole = top - 1
            if coarse:
                whole &= ~1
            counts.append(whole << 16 - bits if shape & 0x04 else whole)
        return counts[0], counts[1], counts[2]

    def _peek(self, t: float, register: int) -> int:  # noqa: ARG002 - what is due at t is latched
        if register == 0x30:
            waiting = self._waiting()
            marked = waiting >= (self._registers[0x38] & 0x1F)
            return (self._fresh or waiting > 0) << 7 | marked << 1 | self._overrun
        if register == 0x39:
            return min(self._waiting(), 32)
        if _DATA <= register < _DATA_END:
            self._touched = True
        return self._registers[register]

    def _waiting(self) -> int:
        """Count the FIFO's entries; without FIFO it is empty."""
        return len(self._stored) if self._registers[0x38] >> 6 else 0
