"""The ADXL355: a quiet accelerometer, the best of these at rest.

Registers and codes: Analog Devices, ADXL354/ADXL355 data sheet, "Register Map", and the kernel's
driver (drivers/iio/accel/adxl355_core.c).
"""

import math

from benchmate.clock import Clock
from benchmate.sensing.bus import Bus
from benchmate.sensing.chip import (
    ChipFacts,
    check_identity,
    check_settings,
    delay_s,
    nearest_rate,
    signed,
    write_settings,
)
from benchmate.sensing.repeats import Repeats
from benchmate.sensing.sample import Sample, SensorFault, Vector
from benchmate.shop.parts import Sensor

USUAL_ADDRESS = 0x1D

DEVID_AD = 0x00
IDENTITY = b"\xad\x1d\xed"
STATUS = 0x04
TEMP2 = 0x06
XDATA3 = 0x08
"""X Y Z: 9 bytes, high byte first, 20 bits at the left of each three."""
FILTER = 0x28
RANGE = 0x2C
POWER_CTL = 0x2D
SELF_TEST = 0x2E
RESET = 0x2F
SHADOW = 0x50
"""Five bytes of trim, the same after every reset unless their loading failed."""

DATA_RDY = 0x01
RANGE_2G = 0x81
MEASURE = 0x00
RESET_CODE = 0x52

RATES = {125.0: 5, 250.0: 4, 500.0: 3}
"""Data rate [Hz] to FILTER: 4000 Hz / 2^code, low-pass at a quarter of the rate."""

STEP_G = 1 / 256000
END_STOP = (1 << 19) - 64
DENSITY_G = 22.5e-6
TEMPERATURE_EVERY_S = 1.0
RESET_S = 0.02
SETTLE_S = 0.1
RESETS = 5


def facts(sensor: Sensor) -> ChipFacts:
    """Give what is known of the chip at the rate that it will run at."""
    rate = nearest_rate(sensor.rate_hz, RATES)
    return ChipFacts(
        kind=sensor.chip,
        address=USUAL_ADDRESS if sensor.address is None else sensor.address,
        rate_hz=rate,
        accel_noise_g=(DENSITY_G * math.sqrt(1.57 * rate / 4),) * 3,
        slow_noise_g=10e-6,
        accel_step_g=STEP_G,
        offset_g=25e-3,
        gain=0.01,
        offset_drift_g_per_c=0.075e-3,
        delay_s=delay_s(rate / 4, rate),
    )


class Adxl355:
    """The chip at one address of one bus."""

    def __init__(self, sensor: Sensor, bus: Bus, clock: Clock) -> None:
        self.facts = facts(sensor)
        self.kind = self.facts.kind
        self.address = self.facts.address
        self.rate_hz = self.facts.rate_hz
        self.identity = ""
        self._settings = {
            FILTER: RATES[self.rate_hz],
            RANGE: RANGE_2G,
            SELF_TEST: 0x00,
            POWER_CTL: MEASURE,
        }
        self._bus = bus
        self._clock = clock
        self._repeats = Repeats(self.facts, self.verify)
        self._temperature_c: float | None = None
        self._temperature_due = -math.inf

    def start(self) -> None:
        """Check identity, reset, write and read back settings, wait out the first samples."""
        found = self._bus.read_block(self.address, DEVID_AD, 3)
        check_identity(self.kind, self._bus, self.address, found, IDENTITY)
        self._reset()
        write_settings(self.kind, self._bus, self.address, self._settings)
        self.identity = found.hex()
        self._clock.sleep(SETTLE_S)
        self._bus.read_block(self.address, XDATA3, 9)

    def read(self) -> Sample | None:
        """Give the newest sample, None when there is none since the last read, or a repeat."""
        if not self._bus.read_byte(self.address, STATUS) & DATA_RDY:
            return None
        t = self._clock.now()
        b = self._bus.read_block(self.address, XDATA3, 9)
        x, y, z = (signed(b[i] << 12 | b[i + 1] << 4 | b[i + 2] >> 4, 20) for i in (0, 3, 6))
        if t >= self._temperature_due:
            self._read_temperature(t)
        sample = Sample(
            t=t,
            raw=(x, y, z),
            accel_g=Vector(x * STEP_G, y * STEP_G, z * STEP_G),
            temperature_c=self._temperature_c,
            saturated=max(x, y, z) >= END_STOP or min(x, y, z) <= -END_STOP,
        )
        return self._repeats.fresh(sample)

    def verify(self) -> None:
        """Read the settings back in one burst; SensorFault when they aren't as written."""
        check_settings(self.kind, self._bus, self.address, self._settings)

    def _reset(self) -> None:
        # A reset that fails to load the trim leaves wrong gains behind; the shadow bytes tell.
        before = self._bus.read_block(self.address, SHADOW, 5)
        for _ in range(RESETS):
            self._bus.write_byte(self.address, RESET, RESET_CODE)
            self._clock.sleep(RESET_S)
            if self._bus.read_block(self.address, SHADOW, 5) == before:
                return
        raise SensorFault(
            "sensor",
            f"{self.kind} at 0x{self.address:02x} loads its factory trim differently each time: "
            "take its supply away and give it back",
        )

    def _read_temperature(self, t: float) -> None:
        high, low = self._bus.read_block(self.address, TEMP2, 2)
        # Data sheet, "Temperature": 1885 counts at 25 degrees Celsius, -9.05 a degree.
        self._temperature_c = 25 + (1885 - ((high & 0x0F) << 8 | low)) / 9.05
        self._temperature_due = t + TEMPERATURE_EVERY_S
