"""The I2C bus: one owner, bounded retries, and errors in words.

Only the calls that every SMBus adapter and every smbus2-compatible object has are used, with at
most 32 bytes a read, so adapters without plain I2C messages do as well.
"""

import errno
from collections.abc import Callable
from typing import Any

from benchmate.sensing.sample import SensorFault

LONGEST_READ = 32
"""Bytes that one SMBus block carries (System Management Bus Specification 3.1, 6.5.7)."""

# Causes and cures by errno, after the kernel's own list of what I2C drivers return
# (Documentation/i2c/fault-codes.rst).
_CURES = {
    errno.EREMOTEIO: "no answer: check the sensor's cable, its supply and its address",
    errno.ENXIO: "no answer: check the sensor's cable, its supply and its address",
    errno.ENODEV: "no answer: check the sensor's cable, its supply and its address",
    errno.ETIMEDOUT: "the bus is stuck: unplug the sensor's cable, wait a second, plug it in again",
    errno.EIO: "the transfer broke off: look for a loose or long cable",
    errno.EAGAIN: "another master took the bus: only one program and one Pi may use it",
    errno.EBUSY: "a kernel driver holds the address: remove its overlay from config.txt",
    errno.EOPNOTSUPP: "this adapter can't do the transfer: use the Pi's own bus",
}
_GONE = "its device has no adapter behind it: switch I2C on anew, or start the machine again"
_OPENING = {
    errno.ENOENT: "there is no such bus: switch I2C on (sudo raspi-config nonint do_i2c 0)",
    errno.EACCES: "not allowed: add yourself to the group i2c and log in anew",
    errno.ENXIO: _GONE,
    errno.ENODEV: _GONE,
}
# The adapter itself is in doubt after these, so the next call opens it afresh.
_REOPEN = {errno.ETIMEDOUT, errno.EIO, errno.EBADF}


def _smbus(number: int) -> Any:
    # Looked up when it is needed: who put another object in its place is obeyed.
    import smbus2

    return smbus2.SMBus(number)


class Bus:
    """One I2C bus, opened at the first transfer. Not for two threads: one owner reads and writes.

    ``retries`` counts reads that were asked twice, ``failures`` transfers that failed for good.
    """

    def __init__(self, open_bus: Callable[[int], Any] = _smbus, number: int = 1) -> None:
        self.number = number
        self.transfers = 0
        self.retries = 0
        self.failures = 0
        self._open_bus = open_bus
        self._device: Any = None

    def read_byte(self, address: int, register: int) -> int:
        """Read one register."""
        return self.read_block(address, register, 1)[0]

    def read_block(self, address: int, register: int, n: int) -> bytes:
        """Read ``n`` registers (1 to 32) from ``register`` on, in one transfer.

        Reads change nothing that can't be read again, so a failed one is asked once more, at once.
        SensorFault("bus") when that fails too.
        """
        if not 1 <= n <= LONGEST_READ:
            raise ValueError(f"a block holds 1 to {LONGEST_READ} bytes, not {n}")
        try:
            return self._read(address, register, n)
        except OSError:
            self.retries += 1
        try:
            return self._read(address, register, n)
        except OSError as error:
            raise self._fault(address, error) from error

    def write_byte(self, address: int, register: int, value: int) -> None:
        """Write one register; never asked twice. SensorFault("bus") when it fails."""
        device = self._opened()
        self.transfers += 1
        try:
            device.write_byte_data(address, register, value)
        except OSError as error:
            raise self._fault(address, error) from error

    def close(self) -> None:
        """Close the bus; the next transfer opens it again."""
        device, self._device = self._device, None
        if device is not None:
            device.close()

    def _read(self, address: int, register: int, n: int) -> bytes:
        device = self._opened()
        self.transfers += 1
        if n == 1:
            return bytes((device.read_byte_data(address, register),))
        block = bytes(device.read_i2c_block_data(address, register, n))
        if len(block) != n:
            raise OSError(errno.EIO, f"{len(block)} bytes came where {n} were asked for")
        return block

    def _opened(self) -> Any:
        if self._device is None:
            try:
                self._device = self._open_bus(self.number)
            except OSError as error:
                told = _OPENING.get(error.errno or 0, error.strerror or str(error))
                raise SensorFault("bus", f"I2C bus {self.number}: {told}") from error
        return self._device

    def _fault(self, address: int, error: OSError) -> SensorFault:
        self.failures += 1
        if error.errno in _REOPEN:
            self._drop()
        told = _CURES.get(error.errno or 0, error.strerror or str(error))
        return SensorFault("bus", f"0x{address:02x} on I2C bus {self.number}: {told}")

    def _drop(self) -> None:
        try:
            self.close()
        except OSError:
            self._device = None
