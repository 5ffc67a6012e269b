"""The ADXL355, as a conversation on the bus."""

import pytest

from benchmate.sensing import open_chip
from benchmate.sensing.sample import SensorFault
from benchmate.shop.parts import Sensor

A = 0x1D
TRIM = b"\x11\x22\x33\x44\x55"
SETTINGS = [(0x28, 0x04), (0x2C, 0x81), (0x2E, 0x00), (0x2D, 0x00)]
SET_UP = [
    *[("w", A, register, value) for register, value in SETTINGS],
    *[("r", A, register, bytes([value])) for register, value in SETTINGS],
    ("r", A, 0x08, bytes(9)),
]


@pytest.fixture
def sensor():
    return Sensor(chip="adxl355", rate_hz=208.0)


def test_it_starts_with_a_reset_whose_trim_came_back_the_same(script, clock, sensor):
    talk = script(
        ("r", A, 0x00, b"\xad\x1d\xed"),
        ("r", A, 0x50, TRIM),
        ("w", A, 0x2F, 0x52),
        ("r", A, 0x50, TRIM),
        *SET_UP,
    )
    chip = open_chip(sensor, talk.bus(), clock)
    chip.start()
    assert talk.done()
    assert (chip.identity, chip.rate_hz) == ("ad1ded", 250.0)
    assert clock.now() == pytest.approx(0.02 + 0.1)


def test_a_trim_that_failed_to_load_is_reset_again(script, clock, sensor):
    talk = script(
        ("r", A, 0x00, b"\xad\x1d\xed"),
        ("r", A, 0x50, TRIM),
        ("w", A, 0x2F, 0x52),
        ("r", A, 0x50, bytes(5)),
        ("w", A, 0x2F, 0x52),
        ("r", A, 0x50, TRIM),
        *SET_UP,
    )
    open_chip(sensor, talk.bus(), clock).start()
    assert talk.done()


def test_a_trim_that_never_loads_is_told(script, clock, sensor):
    again = [("w", A, 0x2F, 0x52), ("r", A, 0x50, bytes(5))]
    talk = script(("r", A, 0x00, b"\xad\x1d\xed"), ("r", A, 0x50, TRIM), *again * 5)
    with pytest.raises(SensorFault, match="factory trim"):
        open_chip(sensor, talk.bus(), clock).start()


def test_a_sample_is_20_bits_high_byte_first_256000_counts_a_g(script, clock, sensor):
    # 256000 = 0x3E800, held at the left of three bytes: 3E 80 00.
    talk = script(
        ("r", A, 0x04, b"\x01"),
        ("r", A, 0x08, bytes.fromhex("3e8000 c18000 000010")),
        ("r", A, 0x06, b"\x07\x5d"),
    )
    sample = open_chip(sensor, talk.bus(), clock).read()
    assert sample.raw == (256000, -256000, 1)
    assert sample.accel_g == pytest.approx((1.0, -1.0, 3.90625e-6))
    # 0x75D = 1885, which the data sheet puts at 25 degrees Celsius.
    assert sample.temperature_c == 25.0


def test_nothing_new_without_data_ready(script, clock, sensor):
    talk = script(("r", A, 0x04, b"\x02"))
    assert open_chip(sensor, talk.bus(), clock).read() is None


def test_an_axis_past_two_g_is_saturated(script, clock, sensor):
    talk = script(
        ("r", A, 0x04, b"\x01"),
        ("r", A, 0x08, bytes.fromhex("000000 800000 000000")),
        ("r", A, 0x06, b"\x07\x5d"),
    )
    assert open_chip(sensor, talk.bus(), clock).read().saturated


def test_verify_is_one_burst(script, clock, sensor):
    talk = script(("r", A, 0x28, bytes.fromhex("04600000810000")))
    open_chip(sensor, talk.bus(), clock).verify()
    assert talk.done()


def test_a_chip_back_in_standby_is_told(script, clock, sensor):
    talk = script(("r", A, 0x28, bytes.fromhex("00600000810100")))
    with pytest.raises(SensorFault, match="was reset"):
        open_chip(sensor, talk.bus(), clock).verify()


def test_a_self_test_left_on_is_told_as_that(script, clock, sensor):
    talk = script(("r", A, 0x28, bytes.fromhex("04600000810003")))
    with pytest.raises(SensorFault, match=r"its self-test is on .register 0x2e reads 0x03"):
        open_chip(sensor, talk.bus(), clock).verify()
