"""The ADXL345: the accelerometer on every cheap module; coarse, so it must be averaged.

Registers and codes: Analog Devices, ADXL345 data sheet Rev. E, "Register Map" and
"Register Definitions". The chip has no reset command: every register relied on is written.
"""

import math
from struct import unpack

from benchmate.sensing.chips.accelerometer import AccelerometerSpec, Registers
from benchmate.sensing.chips.driver import ChipFacts, delay_s, nearest_rate
from benchmate.sensing.sample import Sample, Vector
from benchmate.shop.parts import Sensor

USUAL_ADDRESS = 0x53

DEVID = 0x00
IDENTITY = b"\xe5"
OFSX, OFSY, OFSZ = 0x1E, 0x1F, 0x20
BW_RATE = 0x2C
POWER_CTL = 0x2D
INT_ENABLE = 0x2E
INT_MAP = 0x2F
INT_SOURCE = 0x30
DATA_FORMAT = 0x31
DATA = 0x32
"""X Y Z: 6 bytes, low byte first, latched by one burst."""
FIFO_CTL = 0x38

STANDBY = 0x00
MEASURE = 0x08
DATA_READY = 0x80
FULL_RESOLUTION_4G = 0x09
SELF_TEST = 0x80
FIFO_BYPASS = 0x00

USUAL_HZ = 200.0
RATES = {100.0: 0x0A, 200.0: 0x0B, 400.0: 0x0C}
"""Data rate [Hz] to BW_RATE: 3200 Hz / 2^(15 - code), low-power bit clear."""

# Full resolution is 256 counts a g whatever the range (data sheet table 1: 3.9 mg a count), so
# 4 g costs nothing and a knock doesn't clip.
STEP_G = 1 / 256
END_STOP = 4 * 256 - 2

DENSITY_XY_G = 290e-6
DENSITY_Z_G = 430e-6


def facts(sensor: Sensor) -> ChipFacts:
    """Give what is known of the chip at the rate that it will run at."""
    rate = nearest_rate(sensor.rate_hz, RATES, USUAL_HZ)
    band = math.sqrt(rate / 2)
    # Rounding to counts adds its own noise, 1/sqrt(12) of one.
    xy, z = (
        math.hypot(density * band, STEP_G / 12**0.5) for density in (DENSITY_XY_G, DENSITY_Z_G)
    )
    return ChipFacts(
        kind=sensor.chip,
        address=USUAL_ADDRESS if sensor.address is None else sensor.address,
        rate_hz=rate,
        accel_noise_g=(xy, xy, z),
        slow_noise_g=100e-6,
        accel_step_g=STEP_G,
        offset_g=40e-3,
        gain=0.04,
        offset_drift_g_per_c=0.4e-3,
        z_drifts_more=3.0,
        delay_s=delay_s(rate / 2, rate),
    )


def _to_standby(at: Registers) -> None:
    """Stop it, and undo what a program before us may have left: there is no reset command."""
    at.write(POWER_CTL, STANDBY)
    at.set({OFSX: 0, OFSY: 0, OFSZ: 0, FIFO_CTL: FIFO_BYPASS})


def _settings(rate_hz: float) -> dict[int, int]:
    return {
        BW_RATE: RATES[rate_hz],
        INT_ENABLE: 0x00,
        INT_MAP: 0x00,
        DATA_FORMAT: FULL_RESOLUTION_4G,
        POWER_CTL: MEASURE,
    }


def _decode(t: float, data: bytes) -> Sample:
    raw = unpack("<3h", data)
    x, y, z = raw
    return Sample(
        t=t,
        raw=raw,
        accel_g=Vector(x * STEP_G, y * STEP_G, z * STEP_G),
        saturated=max(raw) >= END_STOP or min(raw) <= -END_STOP,
    )


SPEC = AccelerometerSpec(
    facts=facts,
    identity=(DEVID, IDENTITY),
    prepare=_to_standby,
    settings=_settings,
    self_test=(DATA_FORMAT, SELF_TEST),
    ready=(INT_SOURCE, DATA_READY),
    data=(DATA, 6),
    decode=_decode,
)
