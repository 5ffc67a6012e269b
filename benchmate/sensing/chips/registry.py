"""Which chips there are. A new one is a new file and a line here."""

from collections.abc import Callable

from benchmate.clock import Clock
from benchmate.sensing.bus import Bus
from benchmate.sensing.chips import adxl345, adxl355, as5600, lsm6dso
from benchmate.sensing.chips.accelerometer import Accelerometer, AccelerometerSpec
from benchmate.sensing.chips.driver import ChipDriver, ChipFacts
from benchmate.shop.parts import Sensor

_ACCELEROMETERS: dict[str, AccelerometerSpec] = {
    "lsm6dso": lsm6dso.SPEC,
    "lsm6dsox": lsm6dso.SPEC,
    "adxl345": adxl345.SPEC,
    "adxl355": adxl355.SPEC,
}
_OTHERS: dict[
    str, tuple[Callable[[Sensor, Bus, Clock], ChipDriver], Callable[[Sensor], ChipFacts]]
] = {
    "as5600": (as5600.As5600Driver, as5600.facts),
}

ENCODERS: tuple[str, ...] = ("as5600",)
"""Those that sit on the pivot and need no gravity: for benders that lie flat."""


def open_chip(sensor: Sensor, bus: Bus, clock: Clock) -> ChipDriver:
    """Give the driver for the chip that the bench names; nothing is read before ``start``."""
    if sensor.chip in _ACCELEROMETERS:
        return Accelerometer(_ACCELEROMETERS[sensor.chip], sensor, bus, clock)
    driver, _ = _OTHERS[sensor.chip]
    return driver(sensor, bus, clock)


def chip_facts(sensor: Sensor) -> ChipFacts:
    """Give what the data sheet says of the bench's chip at the rate that it will run at."""
    if sensor.chip in _ACCELEROMETERS:
        return _ACCELEROMETERS[sensor.chip].facts(sensor)
    _, facts = _OTHERS[sensor.chip]
    return facts(sensor)
