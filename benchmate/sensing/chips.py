"""Which chips there are. A new one is a new file and a line here."""

from collections.abc import Callable

from benchmate.clock import Clock
from benchmate.sensing import adxl345, adxl355, as5600, lsm6dso
from benchmate.sensing.bus import Bus
from benchmate.sensing.chip import Chip, ChipFacts
from benchmate.shop.parts import Sensor

_CHIPS: dict[str, tuple[Callable[[Sensor, Bus, Clock], Chip], Callable[[Sensor], ChipFacts]]] = {
    "lsm6dso": (lsm6dso.Lsm6dso, lsm6dso.facts),
    "lsm6dsox": (lsm6dso.Lsm6dso, lsm6dso.facts),
    "adxl345": (adxl345.Adxl345, adxl345.facts),
    "adxl355": (adxl355.Adxl355, adxl355.facts),
    "as5600": (as5600.As5600, as5600.facts),
}


def open_chip(sensor: Sensor, bus: Bus, clock: Clock) -> Chip:
    """Give the driver for the chip that the bench names; nothing is read before ``start``."""
    driver, _ = _CHIPS[sensor.chip]
    return driver(sensor, bus, clock)


def chip_facts(sensor: Sensor) -> ChipFacts:
    """Give what the data sheet says of the bench's chip at the rate that it will run at."""
    _, facts = _CHIPS[sensor.chip]
    return facts(sensor)
