"""The driver of every accelerometer here: what differs between them is a description each."""

import math
from collections.abc import Callable, Mapping
from typing import NamedTuple

from benchmate.clock import Clock
from benchmate.sensing.bus import Bus
from benchmate.sensing.chips.driver import ChipFacts, check_identity, check_settings, write_settings
from benchmate.sensing.health.stuck import StuckDetector
from benchmate.sensing.sample import Sample
from benchmate.shop.parts import Sensor

SETTLE_S = 0.1
TEMPERATURE_EVERY_S = 1.0


class Registers(NamedTuple):
    """One chip's registers on its bus."""

    facts: ChipFacts
    bus: Bus
    clock: Clock

    def read(self, register: int, count: int = 1) -> bytes:
        """Give the bytes from a register on, in one burst."""
        return self.bus.read_block(self.facts.address, register, count)

    def flags(self, register: int) -> int:
        """Give one register's byte."""
        return self.bus.read_byte(self.facts.address, register)

    def write(self, register: int, value: int) -> None:
        """Write one register."""
        self.bus.write_byte(self.facts.address, register, value)

    def set(self, settings: Mapping[int, int]) -> None:
        """Write registers in order and read each back; SensorFault names one that won't take."""
        write_settings(self.facts.kind, self.bus, self.facts.address, settings)


class AccelerometerSpec(NamedTuple):
    """One kind of accelerometer, by its data sheet."""

    facts: Callable[[Sensor], ChipFacts]
    """What is known of it at the rate that the sensor asks for."""
    identity: tuple[int, bytes]
    """Register, and what it and those after it hold."""
    prepare: Callable[[Registers], None]
    """Bring it to where its settings may be written: by its reset, or to standby."""
    settings: Callable[[float], Mapping[int, int]]
    """By rate [Hz]: registers in the order to write them, near enough for one burst to hold all."""
    self_test: tuple[int, int]
    """Register, and the bits that switch the self-test on."""
    ready: tuple[int, int]
    """Register, and the bits that all stand when a sample waits."""
    data: tuple[int, int]
    """First register and length of the burst that is one sample."""
    decode: Callable[[float, bytes], Sample]
    """Make a sample of the time at which it was read and the burst."""
    temperature_c: Callable[[Registers], float] | None = None
    """Read the thermometer, where it has one."""


class Accelerometer:
    """The chip at one address of one bus."""

    def __init__(self, spec: AccelerometerSpec, sensor: Sensor, bus: Bus, clock: Clock) -> None:
        self.facts = spec.facts(sensor)
        self.kind = self.facts.kind
        self.address = self.facts.address
        self.rate_hz = self.facts.rate_hz
        self.identity = ""
        self._spec = spec
        self._settings = spec.settings(self.rate_hz)
        self._at = Registers(self.facts, bus, clock)
        self._repeats = StuckDetector(self.facts, self.verify)
        self._temperature_c: float | None = None
        self._temperature_due = -math.inf

    def start(self) -> None:
        """Check identity, reset, write and read back settings, wait out the first samples."""
        at, (register, right) = self._at, self._spec.identity
        found = at.read(register, len(right))
        check_identity(self.kind, at.bus, self.address, found, right)
        self._spec.prepare(at)
        at.set(self._settings)
        self.identity = found.hex()
        at.clock.sleep(SETTLE_S)
        at.read(*self._spec.data)

    def read(self) -> Sample | None:
        """Give the newest sample, None when there is none since the last read, or a repeat."""
        at, (register, bits) = self._at, self._spec.ready
        if at.flags(register) & bits != bits:
            return None
        t = at.clock.now()
        sample = self._spec.decode(t, at.read(*self._spec.data))
        if self._spec.temperature_c is not None:
            if t >= self._temperature_due:
                self._temperature_c = self._spec.temperature_c(at)
                self._temperature_due = t + TEMPERATURE_EVERY_S
            sample = sample._replace(temperature_c=self._temperature_c)
        return self._repeats.fresh(sample)

    def verify(self) -> None:
        """Read the settings back in one burst; SensorFault when they aren't as written."""
        check_settings(self.kind, self._at.bus, self.address, self._settings, self._spec.self_test)
