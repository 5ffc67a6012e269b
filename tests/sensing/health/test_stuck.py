"""A repeated reading is no sample; a chip that only repeats itself is frozen."""

import numpy as np
import pytest

from benchmate.sensing import chip_facts, open_chip
from benchmate.sensing.bus import Bus
from benchmate.sensing.health.stuck import StuckDetector
from benchmate.sensing.sample import Sample, SensorFault
from benchmate.shop.parts import Arm, Bench, Sensor
from benchmate.sim.bench import SimBench
from benchmate.sim.clock import QuickClock

FINE = ["lsm6dso", "lsm6dsox", "adxl355"]
CHIPS = [*FINE, "adxl345"]


class GoneError(Exception):
    """Raised by settings that are not as written."""


def stands():
    pass


def gone():
    raise GoneError


def repeats(chip, verify=stands):
    return StuckDetector(chip_facts(Sensor(chip=chip)), verify)


def sample(t, *raw):
    return Sample(t, raw or (1, 2, 3))


@pytest.mark.parametrize("chip", FINE)
def test_a_fine_chips_first_repeat_is_no_sample_and_its_next_fresh_one_is(chip):
    seen = repeats(chip)
    assert seen.fresh(sample(0.0)) is not None
    assert seen.fresh(sample(0.005)) is None
    fresh = sample(0.01, 1, 2, 4)
    assert seen.fresh(fresh) is fresh


def test_a_coarse_chip_may_repeat_itself_as_often_as_its_noise_does():
    seen = repeats("adxl345")
    allowed = chip_facts(Sensor(chip="adxl345")).longest_noise_run()
    assert allowed > 3
    passed = [seen.fresh(sample(i / 200.0)) is not None for i in range(10)]
    assert passed == [i + 1 < allowed for i in range(10)]


def test_an_encoder_that_was_never_seen_to_dither_may_stand_on_one_code_for_ever():
    seen = repeats("as5600")
    assert all(seen.fresh(sample(i / 200.0)) is not None for i in range(1000))


def dithering(seen, noise_counts, seconds=12.0, seed=1):
    """Show an encoder standing in twelve places; give its clock and whether all was passed on."""
    rng = np.random.default_rng(seed)
    each = round(seconds * 200.0 / 12)
    true = np.repeat(100.0 + 7.3 * np.arange(12), each)
    counts = np.round(true + noise_counts * rng.normal(size=len(true))).astype(int)
    return len(counts) / 200.0, all(
        seen.fresh(sample(i / 200.0, int(count))) is not None for i, count in enumerate(counts)
    )


@pytest.mark.parametrize("seed", range(5))
def test_an_encoder_known_by_its_dither_is_frozen_without_it_within_half_a_second(seed):
    seen = repeats("as5600")
    t, passed = dithering(seen, 0.49, seed=seed)
    assert passed
    stuck = (seen.fresh(sample(t + i / 200.0, 185)) for i in range(100))
    with pytest.raises(SensorFault, match="frozen"):
        list(stuck)


@pytest.mark.parametrize("noise_counts", [0.0, 0.2, 0.3, 0.49, 1.0])
def test_an_encoder_of_whatever_noise_is_not_called_frozen_while_it_lives(noise_counts):
    seen = repeats("as5600")
    assert dithering(seen, noise_counts, seconds=600.0)[1]


@pytest.mark.parametrize("chip", CHIPS)
def test_a_chip_that_only_repeats_itself_is_told_as_frozen_with_its_cure(chip):
    seen = repeats(chip)
    for i in range(16):
        seen.fresh(sample(i / 200.0))
    with pytest.raises(SensorFault, match="frozen; unplug it") as raised:
        seen.fresh(sample(0.08))
    assert raised.value.what == "sensor"


def test_frozen_it_stays_until_it_shows_something_else():
    seen = repeats("lsm6dso")
    seen.fresh(sample(0.0))
    for t in (0.1, 0.4, 3.0):
        with pytest.raises(SensorFault):
            seen.fresh(sample(t))
    assert seen.fresh(sample(3.1, 0, 0, 0)) is not None


def test_settings_that_went_are_told_first():
    seen = repeats("lsm6dso", gone)
    seen.fresh(sample(0.0))
    with pytest.raises(GoneError):
        seen.fresh(sample(0.2))


@pytest.mark.parametrize("chip", CHIPS)
def test_a_frozen_chip_gives_the_driver_no_sample_to_turn_the_arm_on_with(chip):
    clock = QuickClock()
    bench = Bench(bench="quay", sensor=Sensor(chip=chip), arm=Arm(radius_mm=80.0))
    world = SimBench(bench, clock, 1)
    driver = open_chip(bench.sensor, Bus(world.bus, 1), clock)
    driver.start()
    passed = []

    def read_for(seconds):
        until = clock.now() + seconds
        while clock.now() < until:
            passed.append(driver.read())
            clock.sleep(0.4 / driver.rate_hz)

    read_for(1.0)
    before = sum(s is not None for s in passed)
    assert before == pytest.approx(driver.rate_hz, rel=0.06)
    world.faults.freeze()
    passed.clear()
    with pytest.raises(SensorFault, match="frozen"):
        read_for(0.5)
    # The one that was ready already, and what the noise of a coarse chip allows.
    allowed = driver.facts.longest_noise_run()
    assert sum(s is not None for s in passed) <= allowed


@pytest.mark.parametrize("chip", FINE)
def test_noise_as_the_data_sheet_has_it_repeats_nothing_in_minutes(chip):
    facts = chip_facts(Sensor(chip=chip))
    rng = np.random.default_rng(5)
    n = round(120 * facts.rate_hz)
    spreads = [noise / facts.accel_step_g for noise in facts.accel_noise_g]
    if facts.has_gyro:
        spreads += [facts.gyro_noise_dps / facts.gyro_step_dps] * 3
    counts = np.round(rng.normal(size=(n, len(spreads))) * spreads).astype(int)
    seen = repeats(chip)
    raws = counts.tolist()
    assert all(seen.fresh(sample(i / 200.0, *raw)) is not None for i, raw in enumerate(raws))
