import pytest

from benchmate.sim.chips.adxl355 import Adxl355

START = 100.0


@pytest.fixture
def chip(acting):
    return Adxl355(acting, START, seed=5)


def poke(chip, register, *values, t=START):
    chip.write(t, bytes((register, *values)))


def peek(chip, register, count=1, t=START):
    chip.write(t, bytes((register,)))
    return chip.read(t, count)


def set_up(chip, t=START):
    for register, value in ((0x28, 0x04), (0x2C, 0x81), (0x2D, 0x00)):
        poke(chip, register, value, t=t)


def counts(three_bytes):
    return int.from_bytes(three_bytes, "big", signed=True) >> 4


def burst(chip, t):
    data = peek(chip, 0x08, 9, t=t)
    return tuple(counts(data[k : k + 3]) for k in (0, 3, 6))


def test_says_who_it_is_and_wakes_in_standby(chip):
    assert peek(chip, 0x00, 4) == b"\xad\x1d\xed\x01"
    assert peek(chip, 0x2C, 2) == b"\x81\x01"
    assert peek(chip, 0x04, t=START + 5) == b"\0"
    assert peek(chip, 0x08, 9, t=START + 5) == bytes(9)


@pytest.mark.parametrize(("code", "counts_a_g"), [(1, 256_000), (2, 128_000), (3, 64_000)])
def test_shows_gravity_on_the_range_that_its_code_names(chip, code, counts_a_g):
    set_up(chip)
    poke(chip, 0x2C, 0x80 | code)
    assert burst(chip, START + 1)[2] == pytest.approx(counts_a_g, rel=0.1)


def test_leaves_the_lowest_nibble_empty(chip):
    set_up(chip)
    data = peek(chip, 0x08, 9, t=START + 1)
    assert [data[k] & 0x0F for k in (2, 5, 8)] == [0, 0, 0]


def test_data_ready_comes_with_each_sample_and_goes_when_data_is_read(chip):
    set_up(chip)
    assert peek(chip, 0x04, t=START + 0.9 / 250)[0] & 1 == 0
    assert peek(chip, 0x04, t=START + 1.0)[0] & 1 == 1
    burst(chip, START + 1.0)
    assert peek(chip, 0x04, t=START + 1.0)[0] & 1 == 0


def test_repeats_a_sample_that_is_read_again_too_early(chip):
    set_up(chip)
    first = burst(chip, START + 1.0)
    assert burst(chip, START + 1.0) == first
    assert burst(chip, START + 1.0 + 1.1 / 250) != first


def test_clips_at_twenty_bits(chip, acting):
    acting.felt = acting.felt._replace(accel_g=(3.0, -3.0, 0.0))
    set_up(chip)
    assert burst(chip, START + 1)[:2] == (2**19 - 1, -(2**19))


def test_a_reset_loads_its_trim_and_gives_the_same_shadow_bytes(chip):
    shadow = peek(chip, 0x50, 5)
    set_up(chip)
    poke(chip, 0x2F, 0x52)
    assert peek(chip, 0x04, t=START + 0.001)[0] & 0x10
    assert peek(chip, 0x04, t=START + 0.006)[0] & 0x10 == 0
    assert peek(chip, 0x50, 5, t=START + 0.006) == shadow
    assert peek(chip, 0x2D) == b"\x01"


def test_its_offset_registers_count_sixteen_to_one(chip):
    set_up(chip)
    before = sum(burst(chip, START + 1 + k / 200)[0] for k in range(50)) / 50
    poke(chip, 0x1E, 0x01, 0x00)
    after = sum(burst(chip, START + 2 + k / 200)[0] for k in range(50)) / 50
    assert after - before == pytest.approx(4096, abs=30)


def test_its_noise_is_that_of_the_data_sheet(chip):
    set_up(chip)
    x = [burst(chip, START + 1.0 + k / 200)[1] / 256_000 for k in range(2000)]
    mean = sum(x) / len(x)
    rms = (sum((v - mean) ** 2 for v in x) / len(x)) ** 0.5
    assert rms == pytest.approx(22.5e-6 * (1.57 * 62.5) ** 0.5, rel=0.15)


def test_tells_its_temperature(chip, acting):
    acting.felt = acting.felt._replace(temperature_c=35.0)
    set_up(chip)
    told = int.from_bytes(peek(chip, 0x06, 2, t=START + 1), "big")
    assert 25 - (told - 1885) / 9.05 == pytest.approx(35.0, abs=0.1)


def test_its_high_pass_takes_gravity_away(chip):
    poke(chip, 0x28, 0x14)
    poke(chip, 0x2D, 0x00)
    assert abs(burst(chip, START + 1)[2]) < 0.1 * 256_000


def test_the_fifo_holds_thirty_two_sets_and_marks_each_x(chip):
    set_up(chip)
    assert peek(chip, 0x05, t=START + 2) == bytes((96,))
    assert peek(chip, 0x04, t=START + 2)[0] & 0x06 == 0x06
    data = peek(chip, 0x11, 27, t=START + 2)
    assert [data[k] & 0x03 for k in range(2, 27, 3)] == [1, 0, 0] * 3
    assert peek(chip, 0x05, t=START + 2) == bytes((87,))


def test_an_empty_fifo_says_so(chip):
    assert peek(chip, 0x11, 3, t=START + 2)[2] & 0x03 == 0x02
