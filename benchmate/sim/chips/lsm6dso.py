"""LSM6DSO and LSM6DSOX: accelerometer and gyro behind one register map.

Register meanings after STMicroelectronics' public driver (lsm6dso_reg.h); electrical figures after
data sheet DS12140. No FIFO: in bypass its status reads 0, and that is all that is here.
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
    refused,
    settled,
    shifted,
    through,
)
from benchmate.sim.draws import Noise, chance, stable_seed

_RESET = {0x02: 0x3F, 0x0F: 0x6C, 0x12: 0x04, 0x18: 0xE0}
_WRITABLE = frozenset((0x01, 0x02, *range(0x07, 0x0F), *range(0x10, 0x1A), *range(0x56, 0x60)))
_USER_OFFSETS = (0x73, 0x74, 0x75)
_TEMPERATURE, _GYRO, _ACCEL, _OUT_END = 0x20, 0x22, 0x28, 0x2E
_RATES_HZ = (0.0, 12.5, 26.0, 52.0, 104.0, 208.0, 417.0, 833.0, 1667.0, 3333.0, 6667.0, 1.6)
_ACCEL_MG = (0.061, 0.488, 0.122, 0.244)
"""mg a count, by range code: 2, 16, 4, 8 g."""
_GYRO_MDPS = {0: 8.75, 1: 4.375, 2: 17.5, 4: 35.0, 6: 70.0}
_LPF2_SHARE = (4, 10, 20, 45, 100, 200, 400, 800)
_ACCEL_DENSITY = 70e-6
_GYRO_DENSITY = 3.8e-3
_BOOT_S = 0.010
_FINE = 0.0015
"""Share of the rate that one count of INTERNAL_FREQ_FINE stands for."""


class Lsm6dso(Chip):
    """The chip as the bus sees it, with the flaws that its seed gives it."""

    def __init__(self, feel: Feel, t: float, seed: int) -> None:
        super().__init__(feel)
        self._seed = seed
        self._accel_flaws = draw_flaws(
            seed, "accel", offset=0.020, gain=0.01, cross=0.005, drift_per_c=0.1e-3
        )
        self._gyro_flaws = draw_flaws(
            seed, "gyro", offset=0.5, gain=0.01, cross=0.005, drift_per_c=0.01
        )
        self._fine = int(chance(seed, "rate").integers(-20, 21))
        self._set_ups = 0
        self.power_up(t - 1.0)

    def power_up(self, t: float) -> None:
        """Come up powered down: outputs 0, deaf for the first 10 ms."""
        self._answers_from = t + _BOOT_S
        self._reset(t)

    def shift_zero(self, step_g: Triple) -> None:
        """Move the zero of each axis, as a knock does."""
        self._accel_flaws = shifted(self._accel_flaws, step_g)

    def leave_self_test_on(self) -> None:
        """Leave both sensors' self-test running."""
        self._registers[0x14] = 0x05

    def write(self, t: float, data: bytes) -> None:
        """Take a write transfer unless the chip is still booting or its I2C is off."""
        self._check_awake(t)
        super().write(t, data)

    def read(self, t: float, count: int) -> bytes:
        """Answer a read transfer unless the chip is still booting or its I2C is off."""
        self._check_awake(t)
        return super().read(t, count)

    def _check_awake(self, t: float) -> None:
        if t < self._answers_from or self._registers[0x13] & 0x04:
            raise refused()

    def _reset(self, t: float) -> None:
        self._registers = bytearray(256)
        for register, value in _RESET.items():
            self._registers[register] = value
        self._registers[0x63] = self._fine & 0xFF
        self._half_read: set[int] = set()
        self._restart(t)

    def _restart(self, t: float) -> None:
        """Begin sampling anew: both sensors run off one oscillator and start together."""
        pace = self._pace * (1.0 + _FINE * self._fine)
        xl, g = self._registers[0x10] >> 4, self._registers[0x11] >> 4
        self._accel_hz = _RATES_HZ[xl] if xl < len(_RATES_HZ) else 0.0
        self._gyro_hz = _RATES_HZ[g] if g < len(_RATES_HZ) - 1 else 0.0
        self._accel_ticks = Ticks(t, self._accel_hz * pace)
        self._gyro_ticks = Ticks(t, self._gyro_hz * pace)
        self._accel_shown = self._accel_read = self._gyro_shown = self._gyro_read = 0
        self._set_ups += 1
        self._noise = Noise(stable_seed(self._seed, "noise", self._set_ups), 6)
        if not self._accel_hz:
            self._registers[_ACCEL:_OUT_END] = bytes(6)
        if not self._gyro_hz:
            self._registers[_GYRO:_ACCEL] = bytes(6)
        if not (self._accel_hz or self._gyro_hz):
            self._registers[_TEMPERATURE:_GYRO] = bytes(2)

    def _next(self, register: int) -> int:
        return super()._next(register) if self._registers[0x12] & 0x04 else register

    def _poke(self, t: float, register: int, value: int) -> None:
        if register in _USER_OFFSETS or register in _WRITABLE:
            self._registers[register] = value
        if register == 0x12 and value & 0x81:
            self._reset(t)
        elif register in (0x10, 0x11):
            self._restart(t)

    def _latch(self, t: float, count: int) -> None:
        if not (self._pointer < _OUT_END and self._pointer + count > _TEMPERATURE):
            return
        if self.frozen:
            return
        accel, gyro = self._accel_ticks.count(t), self._gyro_ticks.count(t)
        if accel > self._accel_shown:
            self._accel_shown = accel
            self._show(_ACCEL, self._accel_counts(accel))
            self._show_temperature(self._accel_ticks.time(accel))
        if gyro > self._gyro_shown:
            self._gyro_shown = gyro
            self._show(_GYRO, self._gyro_counts(gyro))
            if not self._accel_hz:
                self._show_temperature(self._gyro_ticks.time(gyro))

    def _show_temperature(self, t: float) -> None:
        self._show(_TEMPERATURE, (clip((self._feel(t).temperature_c - 25.0) * 256, -32768, 32767),))

    def _show(self, first: int, counts: tuple[int, ...]) -> None:
        for place, value in enumerate(counts):
            low = first + 2 * place
            if low not in self._half_read:
                struct.pack_into("<h", self._registers, low, value)

    def _accel_counts(self, count: int) -> tuple[int, int, int]:
        control = self._registers[0x10]
        share = _LPF2_SHARE[self._registers[0x17] >> 5] if control & 0x02 else 2
        corner = self._accel_hz / share
        felt = self._feel(self._accel_ticks.time(count) - 1.0 / (2.0 * math.pi * corner))
        noise = _ACCEL_DENSITY * math.sqrt(FIRST_ORDER * corner)
        made = through(self._accel_flaws, felt.accel_g, felt.temperature_c)
        test = (0.0, 0.4, -0.4, 0.0)[self._registers[0x14] & 0x03]
        trim = self._trim_g()
        lsb = _ACCEL_MG[control >> 2 & 0x03] * 1e-3
        drawn = self._noise.row(count)
        share_seen = settled(count)
        x, y, z = (
            clip(
                (share_seen * made[axis] + noise * drawn[axis] + test + trim[axis]) / lsb,
                -32768,
                32767,
            )
            if axis != self._saturated_axis
            else 32767
            for axis in range(3)
        )
        return x, y, z

    def _trim_g(self) -> Triple:
        if not self._registers[0x16] & 0x02:
            return 0.0, 0.0, 0.0
        weight = 2.0**-6 if self._registers[0x15] & 0x08 else 2.0**-10
        x, y, z = struct.unpack_from("3b", self._registers, _USER_OFFSETS[0])
        return x * weight, y * weight, z * weight

    def _gyro_counts(self, count: int) -> tuple[int, int, int]:
        corner = self._gyro_hz / 3.0
        felt = self._feel(self._gyro_ticks.time(count) - 1.0 / (2.0 * math.pi * corner))
        noise = _GYRO_DENSITY * math.sqrt(FIRST_ORDER * corner)
        made = through(self._gyro_flaws, felt.turn_dps, felt.temperature_c)
        test = (0.0, 50.0, 0.0, -50.0)[self._registers[0x14] >> 2 & 0x03]
        lsb = _GYRO_MDPS.get(self._registers[0x11] >> 1 & 0x07, 8.75) * 1e-3
        drawn = self._noise.row(count)[3:]
        x, y, z = (
            clip((settled(count) * made[axis] + noise * drawn[axis] + test) / lsb, -32768, 32767)
            for axis in range(3)
        )
        return x, y, z

    def _peek(self, t: float, register: int) -> int:
        if self._registers[0x01] and register != 0x01:
            return 0
        if register == 0x1E:
            return self._status(t)
        if _TEMPERATURE <= register < _OUT_END:
            self._note_output_read(t, register)
        return self._registers[register]

    def _status(self, t: float) -> int:
        accel = self._accel_ticks.count(t) > self._accel_read
        gyro = self._gyro_ticks.count(t) > self._gyro_read
        return accel | gyro << 1 | (accel or gyro) << 2

    def _note_output_read(self, t: float, register: int) -> None:
        """A high byte read frees its pair and clears data-ready; a low byte holds its pair."""
        low = register & ~1
        if register == low:
            if self._registers[0x12] & 0x40:
                self._half_read.add(low)
            return
        self._half_read.discard(low)
        if register >= _ACCEL:
            self._accel_read = self._accel_ticks.count(t)
        elif register >= _GYRO:
            self._gyro_read = self._gyro_ticks.count(t)
