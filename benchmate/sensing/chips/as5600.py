"""The AS5600: a magnetic encoder on the pivot, for arms that swing flat.

Registers and codes: ams, AS5600 data sheet v1-06, "Register Description". Register 0xFF burns
the chip's settings for good and is never written. An automatic increment is held back at the
high byte of an angle, so status, angle and gain are each read by themselves.
"""

from benchmate.clock import Clock
from benchmate.sensing.bus import Bus
from benchmate.sensing.chips.driver import ChipFacts, check_settings, write_settings
from benchmate.sensing.health.stuck import StuckDetector
from benchmate.sensing.sample import Magnet, Sample
from benchmate.shop.parts import Sensor

USUAL_ADDRESS = 0x36

CONF_HIGH, CONF_LOW = 0x07, 0x08
STATUS = 0x0B
RAW_ANGLE = 0x0C
AGC = 0x1A

MAGNET_DETECTED = 0x20
MAGNET_WEAK = 0x10
MAGNET_STRONG = 0x08
TOO_BOTH = MAGNET_WEAK | MAGNET_STRONG

CONF_HIGH_KEPT = 0xC0
"""Blank bits that may hold factory data."""
FASTEST_FILTER = 0x03
"""SF = 11: its 0.043 deg of noise is half a step, which lets averages see below one."""
NO_HYSTERESIS_NO_LOW_POWER = 0x00

STEP_DEG = 360 / 4096
NOISE_DEG = 0.043
SETTLING_S = 0.29e-3
SLOWEST_HZ, USUAL_HZ, FASTEST_HZ = 100.0, 125.0, 500.0
SETTLE_S = 0.1


def facts(sensor: Sensor) -> ChipFacts:
    """Give what is known of the chip at the rate that it is read at; it has no rate of its own."""
    wanted = USUAL_HZ if sensor.rate_hz is None else sensor.rate_hz
    rate = min(max(wanted, SLOWEST_HZ), FASTEST_HZ)
    return ChipFacts(
        kind=sensor.chip,
        address=USUAL_ADDRESS if sensor.address is None else sensor.address,
        rate_hz=rate,
        angle_step_deg=STEP_DEG,
        angle_noise_deg=NOISE_DEG,
        # It measures every 0.15 ms whether read or not: nothing waits.
        delay_s=SETTLING_S / 2,
    )


class As5600Driver:
    """The chip at one address of one bus."""

    def __init__(self, sensor: Sensor, bus: Bus, clock: Clock) -> None:
        self.facts = facts(sensor)
        self.kind = self.facts.kind
        self.address = self.facts.address
        self.rate_hz = self.facts.rate_hz
        self.identity = ""
        self._settings: dict[int, int] = {}
        self._bus = bus
        self._clock = clock
        self._repeats = StuckDetector(self.facts, self.verify)

    def start(self) -> None:
        """Write and read back the settings (there is no identity register), wait for the filter."""
        kept = self._bus.read_byte(self.address, CONF_HIGH) & CONF_HIGH_KEPT
        self._settings = {
            CONF_HIGH: kept | FASTEST_FILTER,
            CONF_LOW: NO_HYSTERESIS_NO_LOW_POWER,
        }
        write_settings(self.kind, self._bus, self.address, self._settings)
        self.identity = self.kind
        self._clock.sleep(SETTLE_S)

    def read(self) -> Sample | None:
        """Give the angle as it is now; the chip doesn't tell a new one from an old one.

        None where the status can't be one, or a chip known to dither does so no more.
        """
        status = self._bus.read_byte(self.address, STATUS)
        if status & TOO_BOTH == TOO_BOTH:
            # No magnet is both: ``verify`` soon tells what is wrong, if it stays so.
            return None
        t = self._clock.now()
        high, low = self._bus.read_block(self.address, RAW_ANGLE, 2)
        agc = self._bus.read_byte(self.address, AGC)
        counts = (high & 0x0F) << 8 | low
        sample = Sample(
            t=t, raw=(counts,), angle_deg=counts * STEP_DEG, magnet=_magnet(status), agc=agc
        )
        return sample if sample.magnet == "lost" else self._repeats.fresh(sample)

    def verify(self) -> None:
        """Read the settings back in one burst; SensorFault when they aren't as written."""
        check_settings(self.kind, self._bus, self.address, self._settings)


def _magnet(status: int) -> Magnet:
    if not status & MAGNET_DETECTED:
        return "lost"
    if status & MAGNET_WEAK:
        return "weak"
    return "strong" if status & MAGNET_STRONG else "good"
