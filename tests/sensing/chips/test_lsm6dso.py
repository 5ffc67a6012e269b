"""The LSM6DSO, as a conversation on the bus."""

import pytest

from benchmate.sensing import chip_facts, open_chip
from benchmate.sensing.sample import SensorFault
from benchmate.shop.parts import Sensor

A = 0x6A
SETTINGS = [
    (0x12, 0x44),
    (0x18, 0xE2),
    (0x13, 0x00),
    (0x14, 0x00),
    (0x15, 0x00),
    (0x16, 0x00),
    (0x17, 0x00),
    (0x10, 0x5A),
    (0x11, 0x50),
]
START = [
    ("r", A, 0x0F, b"\x6c"),
    ("w", A, 0x12, 0x01),
    ("r", A, 0x12, b"\x05"),
    ("r", A, 0x12, b"\x04"),
    *[("w", A, register, value) for register, value in SETTINGS],
    *[("r", A, register, bytes([value])) for register, value in SETTINGS],
    ("r", A, 0x22, bytes(12)),
]
SPAN = bytes([0x5A, 0x50, 0x44, 0x00, 0x00, 0x00, 0x00, 0x00, 0xE2])


@pytest.fixture
def sensor():
    return Sensor(chip="lsm6dso")


def test_it_starts_by_identity_reset_settings_read_back_and_a_wait(script, clock, sensor):
    talk = script(*START)
    chip = open_chip(sensor, talk.bus(), clock)
    chip.start()
    assert talk.done()
    assert (chip.kind, chip.address, chip.identity) == ("lsm6dso", 0x6A, "6c")
    assert clock.now() == pytest.approx(0.02 + 0.02 + 0.1)


@pytest.mark.parametrize(
    ("wanted", "rate", "accel"),
    [(100, 104, 0x4A), (208, 208, 0x5A), (400, 417, 0x6A), (5, 104, 0x4A)],
)
def test_the_nearest_rate_is_set_for_both_halves(script, clock, wanted, rate, accel):
    values = {0x10: accel, 0x11: accel & 0xF0}
    swapped = {register: bytes([value]) for register, value in values.items()}
    talk = script(
        *[
            (way, a, register, (values if way == "w" else swapped).get(register, value))
            for way, a, register, value in START
        ]
    )
    chip = open_chip(Sensor(chip="lsm6dso", rate_hz=wanted), talk.bus(), clock)
    assert chip.rate_hz == rate
    chip.start()
    assert talk.done()


def test_a_sample_is_one_burst_gyro_first_low_byte_first(script, clock, sensor):
    # One count: 8.75 mdps at 250 dps, 0.122 mg at 4 g (data sheet, table 2).
    burst = bytes.fromhex("0100 ffff 0080 0020 00e0 ff7f".replace(" ", ""))
    talk = script(("r", A, 0x1E, b"\x07"), ("r", A, 0x22, burst), ("r", A, 0x20, b"\x80\x02"))
    clock.sleep(12.5)
    sample = open_chip(sensor, talk.bus(), clock).read()
    assert sample.t == 12.5
    assert sample.raw == (1, -1, -32768, 8192, -8192, 32767)
    assert sample.gyro_dps == pytest.approx((0.00875, -0.00875, -286.72))
    assert sample.accel_g == pytest.approx((0.999424, -0.999424, 3.997574))
    assert sample.temperature_c == pytest.approx(27.5)
    assert sample.saturated


@pytest.mark.parametrize("status", [0x00, 0x01, 0x02, 0x04])
def test_nothing_new_until_both_halves_are(script, clock, sensor, status):
    talk = script(("r", A, 0x1E, bytes([status])))
    assert open_chip(sensor, talk.bus(), clock).read() is None
    assert talk.done()


def test_the_temperature_is_asked_for_once_a_second(script, clock, sensor):
    def one(n):
        return [("r", A, 0x1E, b"\x03"), ("r", A, 0x22, bytes([n] * 12))]

    talk = script(
        *one(1), ("r", A, 0x20, b"\x00\x00"), *one(2), *one(3), ("r", A, 0x20, b"\x00\x01")
    )
    chip = open_chip(sensor, talk.bus(), clock)
    assert chip.read().temperature_c == 25.0
    clock.sleep(0.5)
    assert chip.read().temperature_c == 25.0
    clock.sleep(0.5)
    assert chip.read().temperature_c == 26.0
    assert talk.done()


def test_a_repeat_is_no_sample(script, clock, sensor):
    one = [("r", A, 0x1E, b"\x03"), ("r", A, 0x22, bytes(range(12)))]
    talk = script(*one, ("r", A, 0x20, b"\x00\x00"), *one)
    chip = open_chip(sensor, talk.bus(), clock)
    assert chip.read() is not None
    assert chip.read() is None
    assert talk.done()


def test_verify_is_one_burst_and_passes_while_settings_stand(script, clock, sensor):
    talk = script(("r", A, 0x10, SPAN))
    open_chip(sensor, talk.bus(), clock).verify()
    assert talk.done()


def test_a_chip_back_at_its_reset_values_is_told_as_reset(script, clock, sensor):
    talk = script(("r", A, 0x10, bytes.fromhex("0000040000000000e0")))
    with pytest.raises(SensorFault, match="was reset") as raised:
        open_chip(sensor, talk.bus(), clock).verify()
    assert raised.value.what == "sensor"


def test_self_test_left_on_is_told(script, clock, sensor):
    talk = script(("r", A, 0x10, SPAN[:4] + b"\x01" + SPAN[5:]))
    with pytest.raises(SensorFault, match=r"its self-test is on .register 0x14 reads 0x01"):
        open_chip(sensor, talk.bus(), clock).verify()


@pytest.mark.parametrize(
    ("identity", "told"),
    [(b"\x6b", "another chip answers .identity 6b, lsm6dso has 6c"), (b"\x00", "check the wiring")],
)
def test_another_chip_at_the_address_is_refused(script, clock, sensor, identity, told):
    talk = script(("r", A, 0x0F, identity))
    with pytest.raises(SensorFault, match=told):
        open_chip(sensor, talk.bus(), clock).start()


def test_a_reset_that_never_ends_is_told(script, clock, sensor):
    talk = script(START[0], START[1], *[("r", A, 0x12, b"\x05")] * 5)
    with pytest.raises(SensorFault, match="never ends its reset"):
        open_chip(sensor, talk.bus(), clock).start()


def test_a_setting_that_will_not_take_is_told(script, clock, sensor):
    broken = [*START[:-1]]
    broken[-1] = ("r", A, 0x11, b"\x00")
    talk = script(*broken)
    with pytest.raises(SensorFault, match="register 0x11 reads 0x00 after 0x50"):
        open_chip(sensor, talk.bus(), clock).start()


def test_the_x_is_the_same_chip_and_keeps_its_name():
    assert chip_facts(Sensor(chip="lsm6dsox")) == chip_facts(Sensor(chip="lsm6dso"))._replace(
        kind="lsm6dsox"
    )


def test_the_other_address_is_obeyed():
    assert chip_facts(Sensor(chip="lsm6dso", address=0x6B)).address == 0x6B
