"""What every chip offers, what is known of it beforehand, and how its registers are set."""

import math
from collections.abc import Mapping
from typing import NamedTuple, Protocol

from benchmate.sensing.bus import Bus
from benchmate.sensing.sample import Sample, SensorFault

MEAN_WAIT = 0.12
"""How long a sample waits to be read, in sampling intervals.

The reader asks a little ahead of the chip and, where it was too early, again a quarter later: the
wait creeps down from a quarter to nothing and begins again.
"""
WAIT_SD = 0.03
"""How far a bend's mean wait is from that, 1 sd: clocks and the system's own lateness."""


class ChipFacts(NamedTuple):
    """What the data sheet says of a chip at the rate it runs at; noises are of one sample, 1 sd."""

    kind: str
    address: int
    rate_hz: float
    accel_noise_g: tuple[float, float, float] = (0.0, 0.0, 0.0)
    slow_noise_g: float = 0.0
    """What averaging for seconds leaves of the accelerometer's noise (its 1/f floor), 1 sd."""
    accel_step_g: float = 0.0
    """One count of the accelerometer."""
    gyro_noise_dps: float = 0.0
    gyro_step_dps: float = 0.0
    """One count of the gyro; 0 where the chip has none."""
    angle_step_deg: float = 0.0
    """One count of an encoder; 0 where the chip is none."""
    angle_noise_deg: float = 0.0
    offset_g: float = 0.0
    """Zero-g offset of an uncalibrated chip, 1 sd."""
    gain: float = 0.0
    """Gain error of an uncalibrated chip's axis, 1 sd, as a part of 1."""
    skew: float = 0.01
    """What one axis shows of another in an uncalibrated chip, 1 sd, as a part of 1."""
    offset_drift_g_per_c: float = 0.0
    """What the zero-g offset drifts in a degree Celsius, 1 sd."""
    z_drifts_more: float = 1.0
    """How many times as much that of the z axis drifts."""
    gyro_bias_dps: float = 0.0
    """Zero-rate offset of the gyro, 1 sd."""

    delay_s: float = 0.0
    """How old what a sample shows is on the whole: the chip's filter and the wait for a read."""

    @property
    def has_gyro(self) -> bool:
        """Tell whether the chip measures rate."""
        return self.gyro_step_dps > 0.0

    @property
    def is_encoder(self) -> bool:
        """Tell whether the chip gives an angle itself."""
        return self.angle_step_deg > 0.0

    def longest_noise_run(self) -> int | None:
        """Give how many equal samples in a row noise allows once in 1e9; None: any number.

        Two roundings of a value with noise of s counts agree with a chance of at most
        1 / (2 s sqrt(pi)), the density of their difference at zero.
        """
        if self.is_encoder:
            return None
        spreads = [noise / self.accel_step_g for noise in self.accel_noise_g]
        if self.has_gyro:
            spreads += [self.gyro_noise_dps / self.gyro_step_dps] * 3
        log_chance = sum(min(-0.1, -math.log(2 * s * math.sqrt(math.pi))) for s in spreads)
        return math.ceil(math.log(1e-9) / log_chance)


class ChipDriver(Protocol):
    """A sensor on the bus."""

    @property
    def kind(self) -> str:
        """Give the chip's name as bench.yaml writes it."""
        ...

    @property
    def address(self) -> int:
        """Give its 7-bit address."""
        ...

    @property
    def rate_hz(self) -> float:
        """Give how many samples a second it makes."""
        ...

    @property
    def identity(self) -> str:
        """Give what its identity registers said, empty before ``start``."""
        ...

    @property
    def facts(self) -> ChipFacts:
        """Give what is known of it beforehand."""
        ...

    def start(self) -> None:
        """Check identity, reset, write and read back settings, wait out the first samples."""
        ...

    def read(self) -> Sample | None:
        """Give the newest sample, None when there is none since the last read."""
        ...

    def verify(self) -> None:
        """Read the settings back in one burst; SensorFault when they aren't as written."""
        ...


def nearest_rate(wanted_hz: float | None, rates: Mapping[float, int], usual_hz: float) -> float:
    """Give the rate [Hz] that is nearest to the wanted one by ratio; None: the usual one.

    A chip's usual rate is one that a bus of 100 kHz and a busy computer hold, each sample being two
    or three transfers: a hundred and some where one sample says enough, else two hundred.
    """
    if wanted_hz is None:
        return usual_hz
    return min(rates, key=lambda rate: abs(math.log(rate / wanted_hz)))


def delay_s(corner_hz: float, rate_hz: float) -> float:
    """Give how old a sample is: a first-order corner's delay and the wait to be read."""
    return 1.0 / (math.tau * corner_hz) + MEAN_WAIT / rate_hz


def signed(value: int, bits: int) -> int:
    """Read a two's complement number of so many bits."""
    return value - (1 << bits) if value >> (bits - 1) else value


def check_identity(chip: str, bus: Bus, address: int, found: bytes, right: bytes) -> None:
    """Refuse a chip whose identity bytes aren't the right ones."""
    if found == right:
        return
    if set(found) <= {0x00} or set(found) <= {0xFF}:
        raise _wiring(bus, address, found[0])
    where = f"0x{address:02x} on I2C bus {bus.number}"
    raise SensorFault(
        "sensor",
        f"{where}: another chip answers (identity {found.hex()}, {chip} has {right.hex()}): "
        "set chip and address under sensor in bench.yaml",
    )


def write_settings(chip: str, bus: Bus, address: int, settings: Mapping[int, int]) -> None:
    """Write registers in order, read each one back; SensorFault names one that won't take."""
    for register, value in settings.items():
        bus.write_byte(address, register, value)
    for register, value in settings.items():
        found = bus.read_byte(address, register)
        if found != value:
            raise SensorFault(
                "sensor",
                f"{chip} at 0x{address:02x}: register 0x{register:02x} reads 0x{found:02x} after "
                f"0x{value:02x} was written: check supply and wiring",
            )


def check_settings(
    chip: str,
    bus: Bus,
    address: int,
    settings: Mapping[int, int],
    self_test: tuple[int, int] | None = None,
) -> None:
    """Read the span of the settings in one burst and compare; SensorFault when one differs.

    ``self_test`` names the register and the bits that switch the chip's self-test on.
    """
    first = min(settings)
    burst = bus.read_block(address, first, max(settings) - first + 1)
    off = [register for register, value in settings.items() if burst[register - first] != value]
    if not off:
        return
    register, found = off[0], burst[off[0] - first]
    where = f"{chip} at 0x{address:02x}"
    if set(burst) == {0xFF}:
        raise _wiring(bus, address, 0xFF)
    reads = f"register 0x{register:02x} reads 0x{found:02x}, was set to 0x{settings[register]:02x}"
    if self_test is not None and off == [self_test[0]] and found & self_test[1]:
        raise SensorFault(
            "sensor",
            f"{where}: its self-test is on ({reads}): end any other program that uses the sensor; "
            "it is set up again",
        )
    raise SensorFault(
        "sensor",
        f"{where} was reset ({reads}): look for a weak supply or a loose plug; it is set up again",
    )


def _wiring(bus: Bus, address: int, reads: int) -> SensorFault:
    where = f"0x{address:02x} on I2C bus {bus.number}"
    return SensorFault("sensor", f"{where}: reads {reads:#04x} throughout: check the wiring")
