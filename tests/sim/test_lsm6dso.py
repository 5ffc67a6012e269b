import itertools
import struct

import pytest

from benchmate.sim.chips.lsm6dso import Lsm6dso

START = 100.0
SET_UP = ((0x12, 0x44), (0x18, 0xE2), (0x10, 0x52), (0x17, 0x00), (0x11, 0x50), (0x15, 0x00))


@pytest.fixture
def chip(acting):
    return Lsm6dso(acting, START, seed=5)


def poke(chip, register, *values, t=START):
    chip.write(t, bytes((register, *values)))


def peek(chip, register, count=1, t=START):
    chip.write(t, bytes((register,)))
    return chip.read(t, count)


def set_up(chip, t=START):
    for register, value in SET_UP:
        poke(chip, register, value, t=t)


def burst(chip, t):
    return struct.unpack("<6h", peek(chip, 0x22, 12, t=t))


def test_says_who_it_is(chip):
    assert peek(chip, 0x0F) == b"\x6c"


def test_wakes_with_its_reset_values(chip):
    assert peek(chip, 0x10, 9) == bytes((0, 0, 0x04, 0, 0, 0, 0, 0, 0xE0))
    assert peek(chip, 0x02) == b"\x3f"


def test_is_powered_down_until_given_a_rate(chip):
    assert peek(chip, 0x1E, t=START + 5) == b"\0"
    assert peek(chip, 0x20, 14, t=START + 5) == bytes(14)


def test_has_no_sample_before_the_first_period_is_over(chip):
    set_up(chip)
    assert peek(chip, 0x1E, t=START + 0.9 / 208)[0] & 3 == 0
    assert peek(chip, 0x1E, t=START + 1.1 / 208)[0] & 3 == 3


def test_data_ready_clears_with_the_high_bytes_and_sets_with_the_next_sample(chip):
    set_up(chip)
    burst(chip, START + 1.0)
    assert peek(chip, 0x1E, t=START + 1.0) == b"\0"
    assert peek(chip, 0x1E, t=START + 1.0 + 1.1 / 208)[0] & 3 == 3


def test_reading_low_bytes_alone_leaves_data_ready(chip):
    set_up(chip)
    peek(chip, 0x28, t=START + 1.0)
    assert peek(chip, 0x1E, t=START + 1.0)[0] & 1


def test_repeats_a_sample_that_is_read_again_too_early(chip):
    set_up(chip)
    first = burst(chip, START + 1.0)
    assert burst(chip, START + 1.0) == first
    assert burst(chip, START + 1.0 + 1.1 / 208) != first


@pytest.mark.parametrize(("code", "g"), [(0x52, 2), (0x56, 16), (0x5A, 4), (0x5E, 8)])
def test_shows_gravity_on_the_range_that_its_code_names(chip, code, g):
    set_up(chip)
    poke(chip, 0x10, code)
    lsb = {2: 0.061e-3, 4: 0.122e-3, 8: 0.244e-3, 16: 0.488e-3}[g]
    assert burst(chip, START + 1.0)[5] * lsb == pytest.approx(1.0, abs=0.07)


@pytest.mark.parametrize(("code", "mdps"), [(0x50, 8.75), (0x52, 4.375), (0x54, 17.5)])
def test_shows_turning_on_the_range_that_its_code_names(chip, acting, code, mdps):
    acting.felt = acting.felt._replace(turn_dps=(60.0, 0.0, 0.0))
    set_up(chip)
    poke(chip, 0x11, code)
    assert burst(chip, START + 1.0)[0] * mdps / 1000 == pytest.approx(60.0, abs=3.0)


def test_clips_at_the_end_of_its_range(chip, acting):
    acting.felt = acting.felt._replace(accel_g=(3.0, -3.0, 0.0))
    set_up(chip)
    assert burst(chip, START + 1.0)[3:5] == (32767, -32768)


def test_needs_time_to_settle_after_a_new_rate(chip):
    set_up(chip)
    early = burst(chip, START + 1.1 / 208)[5]
    late = burst(chip, START + 1.0)[5]
    assert early < 0.9 * late


def test_holds_a_half_read_pair_when_block_update_is_on(chip, acting):
    set_up(chip)
    low = peek(chip, 0x2C, t=START + 1.0)[0]
    whole = struct.unpack("<h", bytes((low,)) + peek(chip, 0x2D, t=START + 1.0))[0]
    low = peek(chip, 0x2C, t=START + 2.0)
    acting.felt = acting.felt._replace(accel_g=(0.0, 0.0, -1.0))
    high = peek(chip, 0x2D, t=START + 3.0)
    assert struct.unpack("<h", low + high)[0] == pytest.approx(whole, abs=200)


def test_mixes_samples_in_a_half_read_pair_when_block_update_is_off(chip, acting):
    set_up(chip)
    poke(chip, 0x12, 0x04)
    peek(chip, 0x2C, t=START + 2.0)
    acting.felt = acting.felt._replace(accel_g=(0.0, 0.0, -1.0))
    assert peek(chip, 0x2D, t=START + 3.0)[0] >= 0x80


def test_repeats_one_register_when_the_address_does_not_increment(chip):
    poke(chip, 0x12, 0x00)
    assert peek(chip, 0x0F, 3) == b"\x6c\x6c\x6c"


def test_a_soft_reset_takes_everything_back(chip):
    set_up(chip)
    poke(chip, 0x12, 0x01)
    assert peek(chip, 0x10, 3) == b"\0\0\x04"
    assert peek(chip, 0x22, 12, t=START + 1.0) == bytes(12)


def test_ignores_writes_to_what_is_read_only(chip):
    poke(chip, 0x0F, 0x00)
    assert peek(chip, 0x0F) == b"\x6c"


def test_samples_as_much_off_its_rate_as_its_trim_tells(acting):
    for seed in range(5):
        chip = Lsm6dso(acting, START, seed)
        set_up(chip)
        fine = struct.unpack("b", peek(chip, 0x63))[0]
        seen = sum(
            peek(chip, 0x1E, t=START + k / 2000)[0] & 1 and bool(burst(chip, START + k / 2000))
            for k in range(20_000)
        )
        assert seen / 10.0 == pytest.approx(208 * (1 + 0.0015 * fine), abs=0.2)


def test_its_noise_is_that_of_the_data_sheet_and_white(chip):
    set_up(chip)
    x = [burst(chip, START + 1.0 + k / 150)[3] * 0.061e-3 for k in range(2000)]
    mean = sum(x) / len(x)
    rms = (sum((v - mean) ** 2 for v in x) / len(x)) ** 0.5
    assert rms == pytest.approx(70e-6 * (1.57 * 52) ** 0.5, rel=0.15)
    beside = sum((a - mean) * (b - mean) for a, b in itertools.pairwise(x)) / len(x)
    assert beside == pytest.approx(0.0, abs=0.1 * rms**2)


def test_drifts_with_temperature_and_tells_it(chip, acting):
    set_up(chip)
    cold = [burst(chip, START + 1 + k / 100) for k in range(200)]
    acting.felt = acting.felt._replace(temperature_c=45.0)
    warm = [burst(chip, START + 9 + k / 100) for k in range(200)]
    shifts = [
        sum(sample[axis] for sample in warm) - sum(sample[axis] for sample in cold)
        for axis in (3, 4, 5)
    ]
    assert max(abs(shift) / 200 * 0.061 for shift in shifts) == pytest.approx(2.0, abs=1.9)
    told = struct.unpack("<h", peek(chip, 0x20, 2, t=START + 12))[0]
    assert told / 256 + 25 == pytest.approx(45.0)


def test_the_self_test_moves_all_axes_by_what_the_data_sheet_allows(chip):
    set_up(chip)
    before = burst(chip, START + 1.0)
    poke(chip, 0x14, 0x05)
    after = burst(chip, START + 2.0)
    moved = [b - a for a, b in zip(before, after, strict=True)]
    assert all(20 <= gyro * 8.75e-3 <= 80 for gyro in moved[:3])
    assert all(0.05 <= accel * 0.061e-3 <= 1.7 for accel in moved[3:5])


def test_is_deaf_while_it_boots_and_when_its_i2c_is_switched_off(chip):
    chip.power_up(START)
    with pytest.raises(OSError, match="121"):
        chip.read(START + 0.005, 1)
    assert peek(chip, 0x0F, t=START + 0.015) == b"\x6c"
    poke(chip, 0x13, 0x04, t=START + 0.015)
    with pytest.raises(OSError, match="121"):
        chip.read(START + 1.0, 1)
