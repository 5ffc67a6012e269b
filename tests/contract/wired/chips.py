"""LSM6DSO and ADXL345 by their registers, behind what smbus2.SMBus looks like."""

import time
from typing import Any, ClassVar

from bender import Bender
from smbus2 import I2cFunc

NACK = (121, "Remote I/O error")


class Chip:
    """Registers with a pointer that moves on by itself."""

    address: int
    resets: ClassVar[dict[int, int]]

    def __init__(self, bender: Bender) -> None:
        self.bender = bender
        self.registers = dict(self.resets)
        self.began = time.monotonic()
        self.read_count = -1
        self.held: bytes = b""
        self.held_count = -1

    def power_cycle(self) -> None:
        self.registers = dict(self.resets)
        self.held_count = self.read_count = -1
        self.began = time.monotonic()

    def write(self, register: int, values: list[int]) -> None:
        for offset, value in enumerate(values):
            self.put(register + offset, value)

    def put(self, register: int, value: int) -> None:
        if register in self.resets:
            self.registers[register] = value

    def read(self, register: int, count: int) -> list[int]:
        return [self.get(register + offset) for offset in range(count)]

    def get(self, register: int) -> int:
        return self.registers.get(register, 0)

    def rate_hz(self) -> float:
        raise NotImplementedError

    def newest(self) -> int:
        rate = self.rate_hz()
        return int((time.monotonic() - self.began) * rate) if rate else -1

    def data(self) -> bytes:
        count = self.newest()
        if self.bender.fault == "frozen" and self.held:
            return self.held
        if count != self.held_count and count > 0:
            self.held_count = count
            self.held = self.sample(self.began + count / self.rate_hz())
        return self.held if count > 0 else bytes(12)

    def sample(self, t: float) -> bytes:
        raise NotImplementedError


def little(value: float, bits: int) -> bytes:
    top = 1 << (bits - 1)
    return max(-top, min(top - 1, round(value))).to_bytes(2, "little", signed=True)


class Lsm6dso(Chip):
    """Accelerometer and gyro, 0x6A."""

    address = 0x6A
    resets: ClassVar = {
        0x01: 0, 0x02: 0x3F, **dict.fromkeys(range(0x07, 0x0F), 0), 0x10: 0, 0x11: 0, 0x12: 4,
        **dict.fromkeys(range(0x13, 0x18), 0), 0x18: 0xE0, 0x19: 0,
        **dict.fromkeys(range(0x56, 0x60), 0), 0x63: 0, 0x73: 0, 0x74: 0, 0x75: 0,
    }  # fmt: skip
    rates = (0.0, 12.5, 26.0, 52.0, 104.0, 208.0, 416.0, 833.0, 1667.0, 3333.0, 6667.0, 1.6)
    gains = (0.061e-3, 0.488e-3, 0.122e-3, 0.244e-3)
    gyro_gains: ClassVar = {0: 8.75e-3, 1: 4.375e-3, 2: 17.5e-3, 4: 35e-3, 6: 70e-3}

    def rate_hz(self) -> float:
        return self.rates[self.registers[0x10] >> 4]

    def put(self, register: int, value: int) -> None:
        if register == 0x12 and value & 1:
            self.power_cycle()
            return
        if register == 0x10 and value >> 4 != self.registers[0x10] >> 4:
            self.began = time.monotonic()
        super().put(register, value)

    def get(self, register: int) -> int:
        if register == 0x0F:
            return 0x6C
        if register == 0x1E:
            return 3 if self.newest() > self.read_count else 0
        if register in (0x20, 0x21):
            return (0x00, 0x01)[register - 0x20]
        if 0x22 <= register <= 0x2D:
            value = self.data()[register - 0x22]
            if register == 0x2D:
                self.read_count = self.newest()
            return value
        return super().get(register)

    def sample(self, t: float) -> bytes:
        acceleration, turning = self.bender.felt(t)
        chance, noise = self.bender.chance, self.bender.noise
        gyro_gain = self.gyro_gains[self.registers[0x11] >> 1 & 7]
        gain = self.gains[self.registers[0x10] >> 2 & 3]
        raw = b"".join(
            little((rate + 0.3 + chance.gauss(0.0, 0.04 * noise)) / gyro_gain, 16)
            for rate in turning
        )
        return raw + b"".join(
            little((g + chance.gauss(0.0, 0.6e-3 * noise)) / gain, 16) for g in acceleration
        )


class Adxl345(Chip):
    """Accelerometer, 0x53."""

    address = 0x53
    resets: ClassVar = {
        **dict.fromkeys(range(0x1D, 0x2B), 0), 0x2C: 0x0A, 0x2D: 0, 0x2E: 0, 0x2F: 0, 0x31: 0,
        0x38: 0,
    }  # fmt: skip

    def rate_hz(self) -> float:
        if not self.registers[0x2D] & 8:
            return 0.0
        return 0.09765625 * 2.0 ** (self.registers[0x2C] & 15)

    def put(self, register: int, value: int) -> None:
        if register in (0x2C, 0x2D):
            self.began = time.monotonic()
            self.held_count = self.read_count = -1
        super().put(register, value)

    def _queued(self) -> int:
        waiting = self.newest() - max(self.read_count, 0)
        return max(0, min(waiting, 33))

    def read(self, register: int, count: int) -> list[int]:
        if 0x32 <= register <= 0x37:
            latched = self._pop()
            return [
                latched[r - 0x32] if 0x32 <= r <= 0x37 else self.get(r)
                for r in range(register, register + count)
            ]
        return super().read(register, count)

    def _pop(self) -> bytes:
        if not self.registers[0x38] >> 6:
            self.read_count = self.newest()
            return self.data()[:6]
        waiting = self._queued()
        if waiting and self.bender.fault != "frozen":
            self.read_count = self.newest() - waiting + 1
            self.held = self.sample(self.began + self.read_count / self.rate_hz())
        return (self.held or bytes(6))[:6]

    def get(self, register: int) -> int:
        if register == 0x00:
            return 0xE5
        if register == 0x30:
            waiting = self._queued()
            enough = waiting >= (self.registers[0x38] & 31)
            return (0x80 if waiting else 0) | (0x02 if enough else 0)
        if register == 0x39:
            return min(self._queued(), 32) if self.registers[0x38] >> 6 else 0
        return super().get(register)

    def sample(self, t: float) -> bytes:
        acceleration, _ = self.bender.felt(t)
        full = self.registers[0x31] & 8
        span = self.registers[0x31] & 3
        per_g, bits = (256.0, 10 + span) if full else (256.0 / 2**span, 10)
        chance, noise = self.bender.chance, self.bender.noise
        return b"".join(
            little((g + chance.gauss(0.0, 4e-3 * noise)) * per_g, bits) for g in acceleration
        )


class Wire:
    """What smbus2.SMBus is to its users, with or without plain I2C messages."""

    def __init__(self, bender: Bender, bus: Any) -> None:
        if bus != 1:
            raise FileNotFoundError(2, "No such file or directory", f"/dev/i2c-{bus}")
        self.bender = bender
        kind = {"lsm6dso": Lsm6dso, "adxl345": Adxl345}[bender.chip]
        self.chip = kind(bender)
        self.pec = 0
        blocks = I2cFunc.SMBUS_READ_I2C_BLOCK | I2cFunc.SMBUS_BYTE_DATA
        self.funcs = (I2cFunc.I2C | blocks) if bender.plain_messages else blocks

    def __enter__(self) -> "Wire":
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def open(self, bus: Any) -> None:
        pass

    def close(self) -> None:
        pass

    def _answering(self, address: int) -> Chip:
        bender = self.bender
        with bender.lock:
            bender.advance()
            kind = bender.fault
            if bender.browned_out and kind != "pulled":
                bender.browned_out = False
                self.chip.power_cycle()
                if kind == "brownout":
                    bender.fault = ""
        if kind in ("nack", "pulled") or address != self.chip.address:
            raise OSError(*NACK)
        if kind == "timeout":
            time.sleep(1.0)
            raise OSError(110, "Connection timed out")
        return self.chip

    def _get(self, address: int, register: int, count: int) -> list[int]:
        chip = self._answering(address)
        time.sleep((count + 3) * 9 / 400_000)
        with self.bender.lock:
            values = chip.read(register, count)
        return [255] * count if self.bender.fault == "ones" else values

    def _put(self, address: int, register: int, values: list[int]) -> None:
        chip = self._answering(address)
        with self.bender.lock:
            chip.write(register, list(values))

    def read_byte_data(self, i2c_addr: int, register: int, force: Any = None) -> int:
        return self._get(i2c_addr, register, 1)[0]

    def write_byte_data(self, i2c_addr: int, register: int, value: int, force: Any = None) -> None:
        self._put(i2c_addr, register, [value])

    def read_word_data(self, i2c_addr: int, register: int, force: Any = None) -> int:
        low, high = self._get(i2c_addr, register, 2)
        return low | high << 8

    def read_i2c_block_data(
        self, i2c_addr: int, register: int, length: int, force: Any = None
    ) -> list[int]:
        if length > 32:
            raise ValueError("Desired block length over 32 bytes")
        return self._get(i2c_addr, register, length)

    def write_i2c_block_data(
        self, i2c_addr: int, register: int, data: list[int], force: Any = None
    ) -> None:
        self._put(i2c_addr, register, data)

    def i2c_rdwr(self, *messages: Any) -> None:
        if not self.bender.plain_messages:
            raise OSError(95, "Operation not supported")
        register = None
        for message in messages:
            if message.flags & 1:
                for index, value in enumerate(self._get(message.addr, register or 0, message.len)):
                    message.buf[index] = bytes([value])
            else:
                register, *values = list(message)
                if values:
                    self._put(message.addr, register, values)
