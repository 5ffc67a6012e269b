"""The drivers through the kernel's own I2C interface: /dev/i2c-N, its ioctls, its errors."""

import os
import random
import stat
import struct
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from smbus2 import SMBus

from benchmate.clock import MonotonicClock
from benchmate.sensing.bus import Bus
from benchmate.sensing.chips.driver import ChipDriver
from benchmate.sensing.chips.registry import open_chip
from benchmate.sensing.sample import Sample, SensorFault
from benchmate.shop.parts import ChipKind, Sensor

LSM6DSO, ADXL345, AS5600 = 0x6A, 0x53, 0x36
DICE = random.Random(7)


def noise() -> int:
    return DICE.randint(-3, 3)


def lsm6dso(bus: SMBus) -> None:
    """Play an LSM6DSO that lies at 30 degrees: 0.5 g and 0.866 g at 0.122 mg a count."""
    bus.write_byte_data(LSM6DSO, 0x0F, 0x6C)
    if bus.read_byte_data(LSM6DSO, 0x12) & 0x01:
        bus.write_byte_data(LSM6DSO, 0x12, 0x04)
    data = struct.pack("<6h", noise(), noise(), noise(), 4098 + noise(), 7098 + noise(), noise())
    bus.write_i2c_block_data(LSM6DSO, 0x22, list(data))
    bus.write_byte_data(LSM6DSO, 0x1E, 0x07)


def adxl345(bus: SMBus) -> None:
    """Play an ADXL345 that lies at 30 degrees: 0.5 g and 0.866 g at 256 counts a g."""
    bus.write_byte_data(ADXL345, 0x00, 0xE5)
    data = struct.pack("<3h", 128 + noise(), 222 + noise(), noise())
    bus.write_i2c_block_data(ADXL345, 0x32, list(data))
    bus.write_byte_data(ADXL345, 0x30, 0x83)


def as5600(bus: SMBus) -> None:
    """Play an AS5600 whose magnet stands at 30 degrees: 341 of 4096 counts."""
    counts = 341 + noise()
    bus.write_i2c_block_data(AS5600, 0x0C, [counts >> 8, counts & 0xFF])
    bus.write_byte_data(AS5600, 0x1A, 0x40)
    bus.write_byte_data(AS5600, 0x0B, 0x20)


CHIPS = {"lsm6dso": lsm6dso, "adxl345": adxl345, "as5600": as5600}
Play = Callable[[Callable[[SMBus], None]], None]


@pytest.fixture
def bus(stub_bus: int) -> Iterator[Bus]:
    opened = Bus(number=stub_bus)
    yield opened
    opened.close()


def driver(kind: ChipKind, bus: Bus) -> ChipDriver:
    return open_chip(Sensor(chip=kind, bus=bus.number), bus, MonotonicClock())


def first_sample(chip: ChipDriver) -> Sample:
    for _ in range(10_000):
        if (sample := chip.read()) is not None:
            return sample
    raise AssertionError("no sample in ten thousand reads")


@pytest.mark.parametrize("kind", CHIPS)
def test_a_chip_is_set_up_and_read_through_the_kernel(kind: ChipKind, bus: Bus, play: Play) -> None:
    play(CHIPS[kind])
    chip = driver(kind, bus)
    chip.start()
    sample = first_sample(chip)
    if sample.accel_g is None:
        assert sample.angle_deg == pytest.approx(30.0, abs=0.5)
    else:
        assert tuple(sample.accel_g) == pytest.approx((0.5, 0.866, 0.0), abs=0.02)
    chip.verify()


@pytest.mark.parametrize(("kind", "address", "register"), [("lsm6dso", 0x6A, 0x10)])
def test_settings_that_another_hand_changed_are_seen(
    kind: ChipKind, address: int, register: int, bus: Bus, play: Play
) -> None:
    play(CHIPS[kind])
    chip = driver(kind, bus)
    chip.start()
    with SMBus(bus.number) as other:
        other.write_byte_data(address, register, 0x00)
    with pytest.raises(SensorFault):
        chip.verify()


def test_an_address_where_nobody_answers_is_said_with_what_to_look_at(bus: Bus) -> None:
    with pytest.raises(SensorFault) as told:
        bus.read_byte(0x1E, 0x00)
    assert told.value.what == "bus"
    assert "no answer: check the sensor's cable" in told.value.detail


def test_another_chip_at_the_address_is_told(bus: Bus) -> None:
    with SMBus(bus.number) as other:
        other.write_byte_data(ADXL345, 0x00, 0x33)
    with pytest.raises(SensorFault) as told:
        driver("adxl345", bus).start()
    assert told.value.what == "sensor"


@pytest.mark.skipif(os.geteuid() != 0, reason="makes a device node, which takes root")
def test_a_device_with_no_adapter_behind_it_is_said(stub_bus: int) -> None:
    # The kernel's own number for I2C devices (Documentation/admin-guide/devices.txt).
    node = Path("/dev/i2c-77")
    os.mknod(node, 0o600 | stat.S_IFCHR, os.makedev(89, 77))
    try:
        with pytest.raises(SensorFault) as told:
            Bus(number=77).read_byte(LSM6DSO, 0x0F)
    finally:
        node.unlink()
    assert "has no adapter behind it" in told.value.detail
