"""The bus, and the chip on it, reached as the live bend reaches them."""

import errno
import os
import pwd
from collections.abc import Iterator
from pathlib import Path

from benchmate.checks.finding import Finding
from benchmate.clock import Clock
from benchmate.sensing import open_chip
from benchmate.sensing.bus import Bus
from benchmate.sensing.sample import MAGNET_CURES, Sample, SensorFault
from benchmate.shop.parts import Sensor

FIRST_SAMPLE_S = 1.0
"""A chip that gives nothing for so long gives nothing."""


def look_at_sensor(sensor: Sensor, clock: Clock) -> Iterator[Finding]:
    """Open the bus, set the chip up, and wait for one sample."""
    bus = look_at_bus(sensor.bus)
    yield bus
    if bus.mark == "works":
        yield look_at_chip(sensor, clock)
    else:
        yield Finding("missing", "sensor", f"{sensor.chip}: not looked at while the bus is missing")


def look_at_bus(number: int, devices: Path = Path("/dev")) -> Finding:
    """Open and close the bus; say what the system lacks when that fails."""
    import smbus2

    device = devices / f"i2c-{number}"
    try:
        smbus2.SMBus(number).close()
    except OSError as error:
        if device.is_symlink() and not device.exists():
            told = f"{device} points to {device.readlink()}, which isn't there"
            return Finding("wrong", "bus", f"{told}; take the link away, or restart the Pi")
        if not device.exists():
            others = ", ".join(sorted(each.name for each in devices.glob("i2c-*"))) or "none"
            return Finding(
                "missing",
                "bus",
                f"no {device} (there: {others}); switch I2C on with"
                " 'sudo raspi-config nonint do_i2c 0', or set sensor bus in bench.yaml",
            )
        if not os.access(device, os.R_OK | os.W_OK):
            return Finding("wrong", "bus", f"{device} may not be opened; {_group_of(device)}")
        if error.errno in (errno.ENXIO, errno.ENODEV):
            told = f"{device} has no adapter behind it"
            return Finding("wrong", "bus", f"{told}; switch I2C on anew, or restart the Pi")
        return Finding("wrong", "bus", f"{device}: {error.strerror or error}; restart the Pi")
    return Finding("works", "bus", f"I2C bus {number}")


def look_at_chip(sensor: Sensor, clock: Clock, what: str = "sensor") -> Finding:
    """Check identity, set the chip up, read the settings back, take one sample."""
    bus = Bus(number=sensor.bus)
    try:
        chip = open_chip(sensor, bus, clock)
        chip.start()
        until = clock.now() + FIRST_SAMPLE_S
        sample = chip.read()
        while sample is None and clock.now() < until:
            clock.sleep(1 / chip.rate_hz)
            sample = chip.read()
    except SensorFault as fault:
        return Finding("missing" if fault.what == "bus" else "wrong", what, fault.detail)
    finally:
        bus.close()
    where = f"{chip.kind} at 0x{chip.address:02x}"
    if sample is None:
        return Finding("wrong", what, f"{where} answers but gives no sample; unplug it once")
    if sample.magnet == "lost":
        return Finding("wrong", what, f"{where} sees no magnet; set it 0.5 to 3 mm over its middle")
    if (cure := MAGNET_CURES.get(sample.magnet)) is not None:
        return Finding("wrong", what, f"{where}: its magnet is too {sample.magnet}; {cure}")
    return Finding("works", what, f"{where}, {chip.rate_hz:g} samples a second{_reads(sample)}")


def _reads(sample: Sample) -> str:
    if sample.accel_g is not None:
        x, y, z = sample.accel_g
        return f", reads {x:.2f} {y:.2f} {z:.2f} g"
    return f", reads {sample.angle_deg:.1f} deg" if sample.angle_deg is not None else ""


def _group_of(device: Path) -> str:
    try:
        group, user = device.group(), pwd.getpwuid(os.getuid()).pw_name
    except KeyError:
        return f"give it to a group with 'sudo chgrp i2c {device}'"
    return f"add yourself with 'sudo usermod -aG {group} {user}' and log in anew"
