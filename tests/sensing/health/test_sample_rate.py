"""A rate that is off is told, and a reader that comes late in bursts is no reason to."""

import random

import pytest

from benchmate.sensing.health.sample_rate import SampleRateMonitor

RATE = 208.0


def even(pace, seconds, share, t0=0.0):
    """See samples evenly; give when the rate was first found off, and what was found last."""
    first, found = None, None
    for i in range(round(seconds * RATE * share)):
        t = t0 + i / (RATE * share)
        found = pace.see(t)
        if found is not None and first is None:
            first = t - t0
    return first, found


@pytest.mark.parametrize("share", [0.9, 0.95, 1.0, 1.05, 1.1])
def test_what_a_chips_clock_may_be_off_is_nothing(share):
    assert even(SampleRateMonitor(RATE), 10.0, share) == (None, None)


@pytest.mark.parametrize("share", [0.65, 0.8, 0.86, 1.14, 1.3])
def test_more_is_found_within_a_second_and_a_little(share):
    first, found = even(SampleRateMonitor(RATE), 5.0, share)
    assert first < 1.5
    assert found.rate_hz == pytest.approx(RATE * share, rel=0.01)


@pytest.mark.parametrize("share", [0.3, 0.5, 1.5])
def test_a_gross_one_within_half_a_second_of_samples_that_were_right(share):
    pace = SampleRateMonitor(RATE)
    even(pace, 2.0, 1.0)
    first, _ = even(pace, 1.0, share, t0=2.0)
    assert first < 0.5


def test_what_was_found_stands_through_a_pause_until_a_second_says_better():
    pace = SampleRateMonitor(RATE)
    even(pace, 3.0, 0.8)
    pace.pause()
    assert pace.see(4.0).rate_hz == pytest.approx(0.8 * RATE, rel=0.01)
    assert even(pace, 2.0, 1.0, t0=4.1)[1] is None


@pytest.mark.parametrize("seed", range(40))
def test_a_reader_that_comes_late_in_bursts_is_no_slow_chip(seed):
    """A chip without a queue: what came while nobody read is lost but for the last."""
    dice = random.Random(seed)
    pace = SampleRateMonitor(RATE)
    read, shown, busy_until = 0.0, 0, 0.0
    while read < 60.0:
        read += 0.25 / RATE
        if dice.random() < 0.001:
            busy_until = read + 0.5
        if read < busy_until and dice.random() < 0.1:
            read += dice.choice((0.003, 0.006, 0.012, 0.03, 0.12))
            pace.late()
        if int(read * RATE) > shown:
            shown = int(read * RATE)
            assert pace.see(read) is None


def test_a_reader_that_always_comes_late_is_told_as_that():
    pace = SampleRateMonitor(RATE)
    told = []
    for i in range(200):
        pace.late()
        told.append(pace.see(i * 0.02))
    found = told[-1]
    assert found.busy
    assert found.rate_hz == pytest.approx(1 / 0.02, rel=0.02)
    assert told[100] is None
