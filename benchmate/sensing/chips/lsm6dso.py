"""The LSM6DSO and LSM6DSOX: accelerometer and gyro on one die.

Registers and codes: STMicroelectronics, LSM6DSO data sheet DS12140, section 9, and the maker's
own driver (github.com/STMicroelectronics/lsm6dso-pid, lsm6dso_reg.h).
"""

import math
from struct import unpack

from benchmate.sensing.chips.accelerometer import AccelerometerSpec, Registers
from benchmate.sensing.chips.driver import ChipFacts, delay_s, nearest_rate
from benchmate.sensing.sample import Sample, SensorFault, Vector
from benchmate.shop.parts import Sensor

USUAL_ADDRESS = 0x6A

WHO_AM_I = 0x0F
IDENTITY = b"\x6c"
CTRL1_XL = 0x10
CTRL2_G = 0x11
CTRL3_C = 0x12
CTRL4_C = 0x13
CTRL5_C = 0x14
CTRL6_C = 0x15
CTRL7_G = 0x16
CTRL8_XL = 0x17
CTRL9_XL = 0x18
STATUS = 0x1E
OUT_TEMP = 0x20
OUT_GYRO = 0x22
"""Gyro X Y Z, then accelerometer X Y Z: 12 bytes, low byte first."""

SW_RESET = 0x01
BDU_AND_INCREMENT = 0x44
ACCEL_AND_GYRO_READY = 0x03
I3C_OFF = 0xE2
SELF_TESTS = 0x0F
"""Of the gyro in bits 3 and 2 of CTRL5_C, of the accelerometer in bits 1 and 0."""

USUAL_HZ = 208.0
RATES = {104.0: 4, 208.0: 5, 417.0: 6}
"""Data rate [Hz] to the code in bits 7 to 4 of CTRL1_XL and CTRL2_G."""
ACCEL_4G_LPF2 = 0x0A
"""FS code 2 is 4 g (code 1 would be 16 g); bit 1 puts the second low-pass, rate/4, in the way."""
GYRO_250_DPS = 0x00

# Data sheet table 2, linear acceleration and angular rate sensitivity. At 4 g one count is still
# a fifth of the noise, and a knock on the bender that would clip at 2 g doesn't.
ACCEL_STEP_G = 0.122e-3
GYRO_STEP_DPS = 8.75e-3
END_STOP = 32767 - 16

ACCEL_DENSITY_G = 70e-6
GYRO_DENSITY_DPS = 3.8e-3
RESET_S = 0.02


def facts(sensor: Sensor) -> ChipFacts:
    """Give what is known of the chip at the rate that it will run at."""
    rate = nearest_rate(sensor.rate_hz, RATES, USUAL_HZ)
    accel_band, gyro_band = rate / 4, rate * 0.32
    return ChipFacts(
        kind=sensor.chip,
        address=USUAL_ADDRESS if sensor.address is None else sensor.address,
        rate_hz=rate,
        accel_noise_g=(ACCEL_DENSITY_G * math.sqrt(1.57 * accel_band),) * 3,
        slow_noise_g=30e-6,
        accel_step_g=ACCEL_STEP_G,
        gyro_noise_dps=GYRO_DENSITY_DPS * math.sqrt(1.57 * gyro_band),
        gyro_step_dps=GYRO_STEP_DPS,
        offset_g=20e-3,
        gain=0.01,
        offset_drift_g_per_c=0.1e-3,
        delay_s=delay_s(accel_band, rate),
        gyro_bias_dps=1.0,
    )


def _reset(at: Registers) -> None:
    at.write(CTRL3_C, SW_RESET)
    for _ in range(5):
        at.clock.sleep(RESET_S)
        if not at.flags(CTRL3_C) & SW_RESET:
            return
    where = f"{at.facts.kind} at 0x{at.facts.address:02x}"
    raise SensorFault("sensor", f"{where} never ends its reset: unplug it once")


def _settings(rate_hz: float) -> dict[int, int]:
    rate_code = RATES[rate_hz] << 4
    return {
        CTRL3_C: BDU_AND_INCREMENT,
        CTRL9_XL: I3C_OFF,
        CTRL4_C: 0x00,
        CTRL5_C: 0x00,
        CTRL6_C: 0x00,
        CTRL7_G: 0x00,
        CTRL8_XL: 0x00,
        CTRL1_XL: rate_code | ACCEL_4G_LPF2,
        CTRL2_G: rate_code | GYRO_250_DPS,
    }


def _decode(t: float, data: bytes) -> Sample:
    raw = unpack("<6h", data)
    gx, gy, gz, ax, ay, az = raw
    return Sample(
        t=t,
        raw=raw,
        accel_g=Vector(ax * ACCEL_STEP_G, ay * ACCEL_STEP_G, az * ACCEL_STEP_G),
        gyro_dps=Vector(gx * GYRO_STEP_DPS, gy * GYRO_STEP_DPS, gz * GYRO_STEP_DPS),
        saturated=max(raw) >= END_STOP or min(raw) <= -END_STOP,
    )


def _temperature_c(at: Registers) -> float:
    (counts,) = unpack("<h", at.read(OUT_TEMP, 2))
    # Data sheet table 4: 256 counts a degree, 0 at 25 degrees Celsius.
    return float(counts / 256 + 25)


SPEC = AccelerometerSpec(
    facts=facts,
    identity=(WHO_AM_I, IDENTITY),
    prepare=_reset,
    settings=_settings,
    self_test=(CTRL5_C, SELF_TESTS),
    ready=(STATUS, ACCEL_AND_GYRO_READY),
    data=(OUT_GYRO, 12),
    decode=_decode,
    temperature_c=_temperature_c,
)
