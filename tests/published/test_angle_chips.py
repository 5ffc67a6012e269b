"""Scales and signs of each chip against figures that its maker prints.

Each check names its source; figures are typed as printed.
"""

import errno

import pytest

from benchmate.sensing import open_chip
from benchmate.sensing.bus import Bus
from benchmate.shop.parts import Sensor
from benchmate.sim.chips.as5600 import As5600
from benchmate.sim.chips.chip import Felt


class Registers:
    """A chip that shows these registers, and the clock at zero."""

    def __init__(self, shown: dict[int, bytes]) -> None:
        self.shown = shown

    def read_byte_data(self, address: int, register: int) -> int:
        return self.shown[register][0]

    def read_i2c_block_data(self, address: int, register: int, n: int) -> list[int]:
        if len(self.shown[register]) != n:
            raise OSError(errno.EIO, "short")
        return list(self.shown[register])

    def now(self) -> float:
        return 0.0

    def sleep(self, seconds: float) -> None:
        raise AssertionError("nothing here waits")


def read(chip, shown):
    registers = Registers(shown)
    return open_chip(Sensor(chip=chip), Bus(lambda _: registers), registers).read()


def lsm6dso(words):
    burst = b"".join(word.to_bytes(2, "little") for word in words)
    return read("lsm6dso", {0x1E: b"\x03", 0x22: burst, 0x20: b"\x00\x00"})


@pytest.mark.parametrize(
    ("word", "dps"), [(0x0000, 0.0), (0x2CA4, 100.0), (0x5949, 200.0), (0xD35C, -100.0)]
)
def test_lsm6dso_rates_as_the_makers_examples(word, dps):
    """STMicroelectronics, AN4650 (DocID027415 Rev 5), table 20, for a chip with the same scale.

    "Output data registers content vs. angular rate (FS_G = +/- 250 dps)": 0, 100 dps 2CA4h, 200 dps
    5949h, as quoted and confirmed on community.st.com ("Output data from LSM6DS3 appnote doesn't
    make sense"). The negative row is from memory. Agreement within half a count, 0.005 dps.
    """
    assert lsm6dso([word, 0, 0, 0, 0, 0]).gyro_dps.x == pytest.approx(dps, abs=0.005)


@pytest.mark.parametrize(
    ("word", "mg"), [(0x1669, 350.0), (0x4009, 1000.0), (0xE997, -350.0), (0xBFF7, -1000.0)]
)
def test_lsm6dso_accelerations_as_the_makers_examples(word, mg):
    """STMicroelectronics, AN4682, "Examples of output data", FS = 2 g: 350 mg 1669h, -350 mg E997h.

    Quoted and worked out on community.st.com ("Interpretation of output of LSM6DS33"); AN5125 Rev
    2, section 4.5.2, has the first as well. The 1 g rows are from memory. At 4 g a count is worth
    twice as much, so the same word shows twice the acceleration.
    """
    shown = lsm6dso([0, 0, 0, word, 0, 0]).accel_g.x
    assert 1000.0 * shown == pytest.approx(2.0 * mg, abs=0.2)


def test_lsm6dso_temperature():
    """Data sheet DS12140, "Temperature sensor characteristics": 256 counts a degree, 0 at 25 C."""
    sample = read("lsm6dso", {0x1E: b"\x03", 0x22: bytes(12), 0x20: (256).to_bytes(2, "little")})
    assert sample.temperature_c == 26.0


@pytest.mark.parametrize(("word", "g"), [(256, 1.0), (0xFF00, -1.0), (128, 0.5), (0, 0.0)])
def test_adxl345_counts_in_full_resolution(word, g):
    """Analog Devices, ADXL345 data sheet Rev. E, table 1: 256 LSB/g in full resolution.

    Two's complement, right justified. No example is printed: the rows are worked out from the
    scale.
    """
    burst = word.to_bytes(2, "little") + bytes(4)
    assert read("adxl345", {0x30: b"\x80", 0x32: burst}).accel_g.x == g


@pytest.mark.parametrize(
    ("burst", "g"),
    [("3e8000", 1.0), ("c18000", -1.0), ("1f4000", 0.5), ("7ffff0", 2.048), ("800000", -2.048)],
)
def test_adxl355_counts_at_2_g(burst, g):
    """Analog Devices, ADXL355 data sheet: 256,000 LSB/g at 2 g, 20 bits in two's complement.

    Left justified in three bytes, high byte first. No example was found printed: the rows are
    worked out from the scale.
    """
    shown = {0x04: b"\x01", 0x08: bytes.fromhex(burst) + bytes(6), 0x06: b"\x07\x5d"}
    assert read("adxl355", shown).accel_g.x == pytest.approx(g, abs=1e-5)


@pytest.mark.parametrize(("counts", "celsius"), [(1885, 25.0), (1794, 35.0552), (1976, 14.9448)])
def test_adxl355_temperature(counts, celsius):
    """The kernel's driver (adxl355_core.c): 1885 counts at 25 C, -9.05 a degree.

    The first row is its point; no example is printed, the others are worked out from its slope.
    """
    shown = {0x04: b"\x01", 0x08: bytes(9), 0x06: counts.to_bytes(2, "big")}
    assert read("adxl355", shown).temperature_c == pytest.approx(celsius, abs=1e-3)


@pytest.mark.parametrize(("counts", "deg"), [(0, 0.0), (1024, 90.0), (2048, 180.0), (3072, 270.0)])
def test_as5600_counts_as_the_makers_figure(counts, deg):
    """ams, AS5600 data sheet v1-06, page 30, figure 35, "Raw Angle in Clockwise Direction".

    With DIR to GND, as the wiring says, the magnet turned clockwise as seen from the top: raw
    angle 0, 1024, 2048, 3072 at 0, 90, 180, 270 degrees. So ours grows clockwise too.
    """
    shown = {0x0B: b"\x20", 0x0C: counts.to_bytes(2, "big"), 0x1A: b"\x40"}
    assert read("as5600", shown).angle_deg == deg


def test_as5600_last_count():
    """The same data sheet: 12 bits a turn, high byte first; the row is worked out from that."""
    shown = {0x0B: b"\x20", 0x0C: (4095).to_bytes(2, "big"), 0x1A: b"\x40"}
    assert read("as5600", shown).angle_deg == pytest.approx(359.912, abs=5e-4)


@pytest.mark.parametrize("deg", [0.0, 90.0, 180.0, 270.0])
def test_the_rehearsed_as5600_counts_the_way_of_the_makers_figure(deg):
    """The same figure for the chip that rehearsals turn: its shaft angle grows clockwise.

    Within its off-centre magnet's error, less than 2 degrees.
    """
    felt = Felt((0.0, 0.0, 1.0), (0.0, 0.0, 0.0), deg, 21.0)
    chip = As5600(lambda _: felt, 0.0, seed=5)
    chip.write(1.0, b"\x0c")
    raw = int.from_bytes(chip.read(1.0, 2), "big")
    assert abs((raw - deg / 90 * 1024 + 2048) % 4096 - 2048) < 2.0 / 360 * 4096
