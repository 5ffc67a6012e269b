"""The ADXL345, as a conversation on the bus."""

import pytest

from benchmate.sensing import open_chip
from benchmate.sensing.sample import SensorFault
from benchmate.shop.parts import Sensor

A = 0x53
QUIET = [(0x1E, 0), (0x1F, 0), (0x20, 0), (0x38, 0)]
SETTINGS = [(0x2C, 0x0B), (0x2E, 0x00), (0x2F, 0x00), (0x31, 0x09), (0x2D, 0x08)]


def writes_then_reads(settings):
    return [
        *[("w", A, register, value) for register, value in settings],
        *[("r", A, register, bytes([value])) for register, value in settings],
    ]


@pytest.fixture
def sensor():
    return Sensor(chip="adxl345", rate_hz=208.0)


def test_it_starts_from_standby_with_every_register_written(script, clock, sensor):
    talk = script(
        ("r", A, 0x00, b"\xe5"),
        ("w", A, 0x2D, 0x00),
        *writes_then_reads(QUIET),
        *writes_then_reads(SETTINGS),
        ("r", A, 0x32, bytes(6)),
    )
    chip = open_chip(sensor, talk.bus(), clock)
    chip.start()
    assert talk.done()
    assert (chip.identity, chip.rate_hz) == ("e5", 200.0)
    assert clock.now() == pytest.approx(0.1)


def test_a_sample_is_256_counts_a_g_right_justified_and_signed(script, clock, sensor):
    talk = script(("r", A, 0x30, b"\x83"), ("r", A, 0x32, bytes.fromhex("000100ff8000")))
    sample = open_chip(sensor, talk.bus(), clock).read()
    assert sample.raw == (256, -256, 128)
    assert sample.accel_g == (1.0, -1.0, 0.5)
    assert sample.gyro_dps is None
    assert not sample.saturated


def test_a_clipped_axis_is_saturated(script, clock, sensor):
    talk = script(("r", A, 0x30, b"\x80"), ("r", A, 0x32, bytes.fromhex("ff0300000000")))
    assert open_chip(sensor, talk.bus(), clock).read().saturated


def test_nothing_new_without_data_ready(script, clock, sensor):
    talk = script(("r", A, 0x30, b"\x02"))
    assert open_chip(sensor, talk.bus(), clock).read() is None
    assert talk.done()


def test_verify_looks_past_the_interrupt_source_in_its_span(script, clock, sensor):
    talk = script(("r", A, 0x2C, bytes.fromhex("0b0800008309")))
    open_chip(sensor, talk.bus(), clock).verify()


@pytest.mark.parametrize(
    ("span", "register"),
    [("0a0000000200", "0x2c"), ("0b0000000209", "0x2d"), ("0b0800000208", "0x31")],
)
def test_power_up_values_standby_and_another_range_are_told(script, clock, sensor, span, register):
    talk = script(("r", A, 0x2C, bytes.fromhex(span)))
    with pytest.raises(SensorFault, match=f"was reset .register {register}"):
        open_chip(sensor, talk.bus(), clock).verify()


def test_a_self_test_left_on_is_told_as_that(script, clock, sensor):
    talk = script(("r", A, 0x2C, bytes.fromhex("0b0800000289")))
    with pytest.raises(SensorFault, match=r"its self-test is on .register 0x31") as raised:
        open_chip(sensor, talk.bus(), clock).verify()
    assert "end any other program that uses the sensor; it is set up again" in str(raised.value)


def test_bytes_that_are_all_ones_are_the_wiring_and_no_self_test(script, clock, sensor):
    talk = script(("r", A, 0x2C, b"\xff" * 6))
    with pytest.raises(SensorFault, match="reads 0xff throughout: check the wiring"):
        open_chip(sensor, talk.bus(), clock).verify()


def test_the_quieter_cousin_at_the_same_address_is_refused(script, clock, sensor):
    talk = script(("r", A, 0x00, b"\xad"))
    with pytest.raises(SensorFault, match="identity ad, adxl345 has e5"):
        open_chip(sensor, talk.bus(), clock).start()
