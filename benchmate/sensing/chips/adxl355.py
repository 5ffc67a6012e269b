"""The ADXL355: a quiet accelerometer, the best of these at rest.

Registers and codes: Analog Devices, ADXL354/ADXL355 data sheet, "Register Map", and the kernel's
driver (drivers/iio/accel/adxl355_core.c).
"""

import math

from benchmate.sensing.chips.accelerometer import AccelerometerSpec, Registers
from benchmate.sensing.chips.driver import ChipFacts, delay_s, nearest_rate, signed
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
SELF_TEST_ON = 0x03

USUAL_HZ = 125.0
RATES = {125.0: 5, 250.0: 4, 500.0: 3}
"""Data rate [Hz] to FILTER: 4000 Hz / 2^code, low-pass at a quarter of the rate."""

STEP_G = 1 / 256000
END_STOP = (1 << 19) - 64
DENSITY_G = 22.5e-6
RESET_S = 0.02
RESETS = 5


def facts(sensor: Sensor) -> ChipFacts:
    """Give what is known of the chip at the rate that it will run at."""
    rate = nearest_rate(sensor.rate_hz, RATES, USUAL_HZ)
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


def _reset(at: Registers) -> None:
    # A reset that fails to load the trim leaves wrong gains behind; the shadow bytes tell.
    before = at.read(SHADOW, 5)
    for _ in range(RESETS):
        at.write(RESET, RESET_CODE)
        at.clock.sleep(RESET_S)
        if at.read(SHADOW, 5) == before:
            return
    raise SensorFault(
        "sensor",
        f"{at.facts.kind} at 0x{at.facts.address:02x} loads its factory trim differently each "
        "time: take its supply away and give it back",
    )


def _settings(rate_hz: float) -> dict[int, int]:
    return {FILTER: RATES[rate_hz], RANGE: RANGE_2G, SELF_TEST: 0x00, POWER_CTL: MEASURE}


def _decode(t: float, data: bytes) -> Sample:
    x, y, z = (signed(data[i] << 12 | data[i + 1] << 4 | data[i + 2] >> 4, 20) for i in (0, 3, 6))
    return Sample(
        t=t,
        raw=(x, y, z),
        accel_g=Vector(x * STEP_G, y * STEP_G, z * STEP_G),
        saturated=max(x, y, z) >= END_STOP or min(x, y, z) <= -END_STOP,
    )


def _temperature_c(at: Registers) -> float:
    high, low = at.read(TEMP2, 2)
    # Data sheet, "Temperature": 1885 counts at 25 degrees Celsius, -9.05 a degree.
    return 25 + (1885 - ((high & 0x0F) << 8 | low)) / 9.05


SPEC = AccelerometerSpec(
    facts=facts,
    identity=(DEVID_AD, IDENTITY),
    prepare=_reset,
    settings=_settings,
    self_test=(SELF_TEST, SELF_TEST_ON),
    ready=(STATUS, DATA_RDY),
    data=(XDATA3, 9),
    decode=_decode,
    temperature_c=_temperature_c,
)
