import struct

import pytest

from benchmate.sim.chips.adxl345 import Adxl345

START = 100.0
SET_UP = ((0x2D, 0x00), (0x31, 0x08), (0x2C, 0x0C), (0x2E, 0x00), (0x38, 0x00), (0x2D, 0x08))


@pytest.fixture
def chip(acting):
    return Adxl345(acting, START, seed=5)


def poke(chip, register, *values, t=START):
    chip.write(t, bytes((register, *values)))


def peek(chip, register, count=1, t=START):
    chip.write(t, bytes((register,)))
    return chip.read(t, count)


def set_up(chip, *more, t=START):
    for register, value in (*SET_UP[:-1], *more, SET_UP[-1]):
        poke(chip, register, value, t=t)


def burst(chip, t):
    return struct.unpack("<3h", peek(chip, 0x32, 6, t=t))


def test_says_who_it_is_and_wakes_in_standby(chip):
    assert peek(chip, 0x00) == b"\xe5"
    assert peek(chip, 0x2C, 2) == b"\x0a\x00"
    assert peek(chip, 0x32, 6, t=START + 5) == bytes(6)


def test_in_standby_only_the_watermark_is_set_as_nothing_waited_for_is_there_at_once(chip):
    assert peek(chip, 0x30, t=START + 5) == b"\x02"


@pytest.mark.parametrize("span", [0, 1, 2, 3])
def test_in_full_resolution_a_g_has_as_many_counts_on_every_range(chip, span):
    set_up(chip, (0x31, 0x08 | span))
    assert burst(chip, START + 1)[2] == pytest.approx(256, abs=35)


def test_with_ten_bits_a_g_has_half_as_many_counts_on_each_wider_range(chip):
    counts = []
    for span in range(4):
        set_up(chip, (0x31, span))
        counts.append(burst(chip, START + 1)[2])
    assert counts == [pytest.approx(256 / 2**span, rel=0.15) for span in range(4)]


def test_left_justified_counts_stand_at_the_top_of_the_word(chip):
    set_up(chip, (0x31, 0x04))
    z = burst(chip, START + 1)[2]
    assert z % 64 == 0
    assert z / 64 == pytest.approx(256, abs=35)


def test_clips_at_the_end_of_its_range(chip, acting):
    acting.felt = acting.felt._replace(accel_g=(5.0, -5.0, 0.0))
    set_up(chip)
    assert burst(chip, START + 1)[:2] == (511, -512)


def test_the_offset_registers_count_four_to_one(chip):
    set_up(chip)
    before = sum(burst(chip, START + 1 + k / 300)[0] for k in range(100)) / 100
    poke(chip, 0x1E, 0xF6)
    after = sum(burst(chip, START + 2 + k / 300)[0] for k in range(100)) / 100
    assert after - before == pytest.approx(-40, abs=1)


def test_data_ready_sets_whatever_is_enabled_and_clears_by_reading_data(chip):
    set_up(chip)
    assert peek(chip, 0x30, t=START + 1)[0] & 0x80
    burst(chip, START + 1)
    assert not peek(chip, 0x30, t=START + 1)[0] & 0x80
    assert peek(chip, 0x30, t=START + 1.0035)[0] & 0x80


def test_a_sample_that_nobody_read_in_time_is_an_overrun(chip):
    set_up(chip)
    assert peek(chip, 0x30, t=START + 1)[0] & 0x01
    burst(chip, START + 1)
    assert not peek(chip, 0x30, t=START + 1)[0] & 0x01


def test_a_sample_that_was_seen_waiting_but_not_read_is_overrun_by_the_next(chip):
    set_up(chip)
    burst(chip, START + 1)
    seen = [peek(chip, 0x30, t=START + 1 + k * 0.0005)[0] for k in range(1, 12)]
    ready = [byte & 0x80 > 0 for byte in seen]
    overrun = [byte & 0x01 > 0 for byte in seen]
    assert overrun.index(True) - ready.index(True) == pytest.approx(5, abs=1)


def test_a_still_axis_takes_many_values_at_400_hz(chip):
    set_up(chip)
    assert len({burst(chip, START + 1 + k / 300)[0] for k in range(300)}) > 4


def test_the_stream_keeps_the_newest_samples_and_each_burst_takes_one(chip):
    set_up(chip, (0x38, 0x90))
    assert peek(chip, 0x39, t=START + 1) == b"\x20"
    first = peek(chip, 0x32, 6, t=START + 1)
    second = peek(chip, 0x32, 6, t=START + 1)
    assert first != second
    assert peek(chip, 0x39, t=START + 1)[0] == 31


def test_a_burst_past_the_data_shows_the_fifo_after_the_sample_left(chip):
    set_up(chip, (0x38, 0x90))
    waiting = peek(chip, 0x39, t=START + 0.03)[0]
    assert peek(chip, 0x32, 8, t=START + 0.03)[6:] == bytes((0x90, waiting - 1))


def test_touching_a_single_data_byte_takes_the_whole_sample(chip):
    set_up(chip, (0x38, 0x90))
    waiting = peek(chip, 0x39, t=START + 0.03)[0]
    peek(chip, 0x34, 1, t=START + 0.03)
    assert peek(chip, 0x39, t=START + 0.03)[0] == waiting - 1


def test_the_fifo_mode_keeps_the_oldest_and_stops(chip, acting):
    set_up(chip, (0x38, 0x40))
    burst(chip, START + 0.5)
    acting.felt = acting.felt._replace(accel_g=(0.0, 0.0, -1.0))
    peek(chip, 0x30, t=START + 9)
    assert peek(chip, 0x39, t=START + 9) == b"\x20"
    assert peek(chip, 0x30, t=START + 9)[0] & 0x03 == 0x03


def test_writing_bypass_empties_the_fifo(chip):
    set_up(chip, (0x38, 0x90))
    peek(chip, 0x39, t=START + 1)
    poke(chip, 0x38, 0x00, t=START + 1)
    assert peek(chip, 0x39, t=START + 1) == b"\0"


def test_its_self_test_stays_on_until_the_format_is_written(chip):
    chip.leave_self_test_on()
    assert peek(chip, 0x31) == b"\x80"
    set_up(chip)
    assert peek(chip, 0x31) == b"\x08"


def test_on_a_pi_its_x_and_y_come_out_large(acting):
    gains = []
    for seed in range(20):
        chip = Adxl345(acting, START, seed)
        set_up(chip)
        ends = []
        for g in (1.0, -1.0):
            acting.felt = acting.felt._replace(accel_g=(g, 0.0, 0.0))
            ends.append(sum(burst(chip, START + 2 - g + k / 300)[0] for k in range(50)) / 50)
        gains.append((ends[0] - ends[1]) / 2)
    assert sum(gains) / len(gains) == pytest.approx(265, abs=3)
