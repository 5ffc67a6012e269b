"""An I2C bus with the calls, the limits and the errors of ``smbus2.SMBus``."""

import ctypes
import errno
import os
from collections.abc import Sequence
from types import TracebackType
from typing import Protocol

from benchmate.sim.wire import Wires

_BLOCK_MAX = 32
_READ = 0x0001
_PLAIN_I2C = 0x00000001
_EMULATED_SMBUS = 0x0EFF0008
"""What a Pi's adapter offers beside plain messages, as ``smbus2.I2cFunc`` numbers it."""
_MESSAGES_MAX = 42


class Message(Protocol):
    """What is used of a ``smbus2.i2c_msg``."""

    addr: int
    flags: int
    len: int
    buf: object


class SimBus:
    """The bus that a simulated bench hands out where ``smbus2.SMBus`` is expected."""

    def __init__(
        self,
        wires: Wires,
        number: int,
        bus: int | str | None = None,
        *,
        force: bool = False,
        plain_i2c: bool = True,
    ) -> None:
        self.fd: int | None = None
        self.funcs = 0
        self.force = force
        self._wires = wires
        self._number = number
        self._plain_i2c = plain_i2c
        if bus is not None:
            self.open(bus)

    def open(self, bus: int | str) -> None:
        """Open the bus; FileNotFoundError for any but the bench's own."""
        if not isinstance(bus, (int, str)):
            raise TypeError(f"Unexpected type(bus)={type(bus)}")
        path = f"/dev/i2c-{bus}" if isinstance(bus, int) else bus
        if path != f"/dev/i2c-{self._number}":
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT), path)
        self.fd = self._number
        self.funcs = _EMULATED_SMBUS | (_PLAIN_I2C if self._plain_i2c else 0)

    def close(self) -> None:
        """Close the bus."""
        self.fd = None

    def __enter__(self) -> "SimBus":
        """Give the bus itself."""
        return self

    def __exit__(
        self,
        exc_type: type[BaseException] | None,
        exc_val: BaseException | None,
        exc_tb: TracebackType | None,
    ) -> None:
        """Close the bus."""
        self.close()

    def write_quick(self, i2c_addr: int, force: bool | None = None) -> None:
        """Call the address and nothing more."""
        self._move(i2c_addr, b"", force=force)

    def read_byte(self, i2c_addr: int, force: bool | None = None) -> int:
        """Read one byte from where the chip's pointer stands."""
        return self._move(i2c_addr, None, 1, force=force)[0]

    def write_byte(self, i2c_addr: int, value: int, force: bool | None = None) -> None:
        """Write one byte: the chip's pointer."""
        self._move(i2c_addr, _octets(value), force=force)

    def read_byte_data(self, i2c_addr: int, register: int, force: bool | None = None) -> int:
        """Read one register."""
        return self._move(i2c_addr, _octets(register), 1, force=force)[0]

    def write_byte_data(
        self, i2c_addr: int, register: int, value: int, force: bool | None = None
    ) -> None:
        """Write one register."""
        self._move(i2c_addr, _octets(register, value), force=force)

    def read_word_data(self, i2c_addr: int, register: int, force: bool | None = None) -> int:
        """Read two registers, the first one being the low byte."""
        return int.from_bytes(self._move(i2c_addr, _octets(register), 2, force=force), "little")

    def write_word_data(
        self, i2c_addr: int, register: int, value: int, force: bool | None = None
    ) -> None:
        """Write two registers, the low byte first."""
        self._move(i2c_addr, _octets(register, value, value >> 8), force=force)

    def read_i2c_block_data(
        self, i2c_addr: int, register: int, length: int, force: bool | None = None
    ) -> list[int]:
        """Read up to 32 registers."""
        if length > _BLOCK_MAX:
            raise ValueError(f"Desired block length over {_BLOCK_MAX} bytes")
        return list(self._move(i2c_addr, _octets(register), length, force=force))

    def write_i2c_block_data(
        self, i2c_addr: int, register: int, data: Sequence[int], force: bool | None = None
    ) -> None:
        """Write up to 32 registers."""
        if len(data) > _BLOCK_MAX:
            raise ValueError(f"Data length cannot exceed {_BLOCK_MAX} bytes")
        self._move(i2c_addr, _octets(register, *data), force=force)

    def i2c_rdwr(self, *i2c_msgs: Message) -> None:
        """Move ``smbus2.i2c_msg`` messages in one go; as on a Pi, one read at most, and last."""
        self._check_open()
        reads = [bool(message.flags & _READ) for message in i2c_msgs]
        if not self._plain_i2c or any(reads[:-1]):
            raise OSError(errno.EOPNOTSUPP, os.strerror(errno.EOPNOTSUPP))
        if not 0 < len(i2c_msgs) <= _MESSAGES_MAX:
            raise OSError(errno.EINVAL, os.strerror(errno.EINVAL))
        for message in i2c_msgs[:-2] if reads[-1] else i2c_msgs:
            self._wires.to(message.addr).transfer(message.addr, _sent(message))
        if not reads[-1]:
            return
        last = i2c_msgs[-1]
        before = _sent(i2c_msgs[-2]) if len(i2c_msgs) > 1 else None
        answer = self._wires.to(last.addr).transfer(last.addr, before, last.len)
        ctypes.memmove(last.buf, answer, len(answer))  # type: ignore[arg-type] # a ctypes pointer

    def _move(
        self, address: int, data: bytes | None, count: int = 0, *, force: bool | None
    ) -> bytes:
        self._check_open()
        if not 0 <= address <= 0x7F:
            raise OSError(errno.EINVAL, os.strerror(errno.EINVAL))
        # Only this way of calling asks the kernel whose the address is; plain messages do not.
        forced = self.force if force is None else force
        wire = self._wires.to(address)
        if wire.busy and address == wire.address and not forced:
            raise OSError(errno.EBUSY, os.strerror(errno.EBUSY))
        return wire.transfer(address, data, count)

    def _check_open(self) -> None:
        if self.fd is None:
            raise TypeError("argument must be an int, or have a fileno() method.")


def _octets(*values: int) -> bytes:
    """Cut each value to a byte, as the C structures of the real bus do."""
    return bytes(value & 0xFF for value in values)


def _sent(message: Message) -> bytes:
    return ctypes.string_at(message.buf, message.len)  # type: ignore[arg-type] # a ctypes pointer
