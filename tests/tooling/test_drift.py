"""A die that changed is found with the bend from which it did; a steady one is left alone."""

import numpy as np
import pytest

from benchmate.tooling.drift import LEARNING, SETTLING, Point, changes_in, drift_in, limit_for


def series(values, sd=0.25):
    return [Point(number, float(value), sd) for number, value in enumerate(values, 1)]


def steady(count, seed, sd=0.25):
    return np.random.default_rng(seed).normal(0, sd, count)


def test_a_step_is_found_with_its_bend_and_its_size():
    values = steady(72, 4)
    values[60:] += 0.6
    drift = drift_in(series(values))
    assert drift is not None
    assert abs(drift.since_seq - 61) <= 2
    assert drift.found_seq <= 68
    assert drift.size_deg == pytest.approx(0.6, abs=0.35)
    assert drift.sd_deg > 0


def test_a_step_down_is_one_as_well():
    values = steady(72, 4)
    values[60:] -= 0.6
    drift = drift_in(series(values))
    assert drift is not None
    assert drift.size_deg < -0.3


def test_few_steady_dies_are_called_changed():
    called = sum(len(changes_in(series(steady(200, seed)))) for seed in range(25))
    assert called <= 12  # 5,000 bends, one in 1,000 expected


def test_one_odd_bend_is_no_drift():
    values = steady(60, 8) * 0.5
    values[40] += 5.0
    assert drift_in(series(values)) is None


def test_too_few_bends_say_nothing():
    assert drift_in(series([0.0] * LEARNING)) is None
    assert drift_in(series([0.0, 5.0])) is None
    assert drift_in([]) is None


def test_the_first_strokes_of_a_printed_core_are_no_drift():
    settling = [2.0, 1.4, 0.9, 0.5, 0.2]
    values = [*settling, *(0.3 * steady(40, 3))]
    assert drift_in(series(values), settling=SETTLING) is None


def test_the_fewer_bends_behind_the_reference_the_higher_the_limit():
    limits = [limit_for(0.8, count, 1900.0) for count in (8, 20, 100, 1000)]
    assert limits == sorted(limits, reverse=True)
