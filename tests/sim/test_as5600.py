import pytest

from benchmate.sim.chips.as5600 import As5600

START = 100.0


@pytest.fixture
def chip(acting):
    return As5600(acting, START, seed=5)


def peek(chip, register, count=1, t=START):
    chip.write(t, bytes((register,)))
    return chip.read(t, count)


def raw_deg(chip, t=START + 1):
    return int.from_bytes(peek(chip, 0x0C, 2, t=t), "big") * 360 / 4096


def test_sees_its_magnet_well(chip):
    assert peek(chip, 0x0B) == b"\x20"
    assert 40 < peek(chip, 0x1A)[0] < 90
    assert int.from_bytes(peek(chip, 0x1B, 2), "big") > 1000


def test_follows_the_shaft_to_within_its_magnets_eccentricity(chip, acting):
    errors = []
    for deg in range(0, 360, 10):
        acting.felt = acting.felt._replace(shaft_deg=float(deg))
        errors.append((raw_deg(chip) - deg + 180) % 360 - 180)
    assert max(map(abs, errors)) < 2.0
    assert max(errors) - min(errors) > 0.5


def test_a_full_turn_brings_the_same_reading_back(chip, acting):
    before = raw_deg(chip)
    acting.felt = acting.felt._replace(shaft_deg=acting.felt.shaft_deg - 720.0)
    assert raw_deg(chip, START + 2) == pytest.approx(before, abs=0.2)


def test_reading_on_from_a_high_byte_gives_the_same_pair_again(chip):
    data = peek(chip, 0x0C, 4, t=START + 1)
    assert data[2] == data[0]
    assert abs(data[3] - data[1]) < 4
    assert chip.read(START + 1, 2) == data[:2]


def test_a_low_byte_belongs_to_the_high_byte_read_before(chip, acting):
    acting.felt = acting.felt._replace(shaft_deg=0.0)
    at_zero = raw_deg(chip)
    high = peek(chip, 0x0C, t=START + 1)
    acting.felt = acting.felt._replace(shaft_deg=11.0)
    low = peek(chip, 0x0D, t=START + 2)
    assert int.from_bytes(high + low, "big") * 360 / 4096 == pytest.approx(at_zero, abs=0.3)


@pytest.mark.parametrize("register", [0x09, 0x0A, 0x10, 0x20, 0xFE])
def test_does_not_acknowledge_an_address_that_no_register_has(chip, register):
    with pytest.raises(OSError, match="121"):
        chip.write(START, bytes((register,)))
    assert chip.read(START, 1) == b"\0"


def test_nothing_may_burn_it(chip):
    with pytest.raises(RuntimeError, match="burns"):
        chip.write(START, b"\xff\x40")


def test_forgets_its_settings_without_power(chip):
    chip.write(START, b"\x07\x03\x00")
    assert peek(chip, 0x07, 2) == b"\x03\x00"
    chip.power_up(START + 1)
    assert peek(chip, 0x07, 2) == b"\x00\x00"


def test_dithers_with_the_quick_filter_and_hardly_with_the_slow_one(chip):
    def values(t):
        return len({raw_deg(chip, t + k * 0.01) for k in range(200)})

    slow = values(START + 1)
    chip.write(START, b"\x07\x03\x00")
    assert values(START + 5) > slow
    assert slow <= 3


def test_angle_is_what_the_zero_makes_of_the_raw_angle(chip):
    raw = int.from_bytes(peek(chip, 0x0C, 2, t=START + 1), "big")
    chip.write(START, bytes((0x01, (raw - 100) >> 8, (raw - 100) & 0xFF)))
    angle = int.from_bytes(peek(chip, 0x0E, 2, t=START + 1), "big")
    assert angle == pytest.approx(100, abs=3)


def test_without_magnet_says_so_and_shows_rubbish(chip):
    chip.lose_magnet()
    assert peek(chip, 0x0B) == b"\x10"
    assert peek(chip, 0x1A) == b"\x80"
    shown = [raw_deg(chip, START + k) for k in range(1, 20)]
    assert max(shown) - min(shown) > 90


def test_a_new_look_at_the_magnet_takes_as_long_as_the_power_mode_says(chip, acting):
    chip.write(START, b"\x08\x03")
    for t in (1.01, 1.09, 1.11):
        raw_deg(chip, START + t)
    first, second, third = acting.asked
    assert first == second
    assert third - first == pytest.approx(0.1)
