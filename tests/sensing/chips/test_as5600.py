"""The AS5600, as a conversation on the bus."""

import pytest

from benchmate.sensing import open_chip
from benchmate.sensing.sample import SensorFault
from benchmate.shop.parts import Sensor

A = 0x36


@pytest.fixture
def sensor():
    return Sensor(chip="as5600")


def start(high):
    kept = bytes([high & 0xC0 | 0x03])
    return [
        ("r", A, 0x07, bytes([high])),
        ("w", A, 0x07, kept[0]),
        ("w", A, 0x08, 0x00),
        ("r", A, 0x07, kept),
        ("r", A, 0x08, b"\x00"),
    ]


@pytest.mark.parametrize("high", [0x00, 0x80, 0xFF])
def test_it_starts_by_setting_its_filter_and_keeps_the_factory_bits(script, clock, sensor, high):
    talk = script(*start(high))
    chip = open_chip(sensor, talk.bus(), clock)
    chip.start()
    assert talk.done()
    assert clock.now() == pytest.approx(0.1)


def test_status_raw_angle_and_gain_are_three_reads(script, clock, sensor):
    talk = script(("r", A, 0x0B, b"\x20"), ("r", A, 0x0C, b"\x04\x00"), ("r", A, 0x1A, b"\x40"))
    sample = open_chip(sensor, talk.bus(), clock).read()
    assert talk.done()
    assert sample.raw == (1024,)
    assert sample.angle_deg == 90.0
    assert (sample.magnet, sample.agc) == ("good", 64)
    assert sample.accel_g is None


@pytest.mark.parametrize(
    ("status", "magnet"),
    [(0x20, "good"), (0x10, "lost"), (0x00, "lost"), (0x30, "weak"), (0x28, "strong")],
)
def test_it_says_what_the_chip_says_of_its_magnet(script, clock, sensor, status, magnet):
    talk = script(
        ("r", A, 0x0B, bytes([status])), ("r", A, 0x0C, b"\x0f\xff"), ("r", A, 0x1A, b"\x40")
    )
    assert open_chip(sensor, talk.bus(), clock).read().magnet == magnet


def test_a_magnet_both_too_weak_and_too_strong_is_no_reading(script, clock, sensor):
    talk = script(("r", A, 0x0B, b"\xff"))
    assert open_chip(sensor, talk.bus(), clock).read() is None
    assert talk.done()


def test_settings_lost_with_the_supply_are_told(script, clock, sensor):
    talk = script(*start(0x00), ("r", A, 0x07, b"\x00\x00"))
    chip = open_chip(sensor, talk.bus(), clock)
    chip.start()
    with pytest.raises(SensorFault, match="was reset"):
        chip.verify()
