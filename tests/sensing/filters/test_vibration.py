"""Braked strokes: the box rings by some hundredths of g, and the angle says how sure it is."""

import functools
import importlib.util
import sys
from pathlib import Path

import numpy as np
import pytest

from benchmate.sensing.filters.vibration import LEAST_G2, LONGEST_S, MOST_G2, VibrationNoise

STEP_S = 0.008
QUIET_G2 = 1e-6


@pytest.fixture(scope="module")
def strokes():
    """Give what is made of eight strokes braked anyhow, a knock of that size at each brake."""
    path = Path(__file__).parents[1] / "braked.py"
    spec = importlib.util.spec_from_file_location("braked", path)
    braked = importlib.util.module_from_spec(spec)
    sys.modules["braked"] = braked
    spec.loader.exec_module(braked)

    @functools.cache
    def make(chip, size_g):
        at = braked.Braked(chip, seed=1)
        rng = np.random.default_rng(7)
        made = braked.Strokes(rng)
        made.stay(1.0)
        for _ in range(8):
            made.braked(
                rng.uniform(2.0, 9.0),
                rng.uniform(0.06, 0.14),
                size_g,
                rng.uniform(11.0, 35.0),
                rng.uniform(-0.7, 0.7),
            )
            made.stay(0.8)
        return at.follow(made), made.stops

    return make


def at_brakes(seen, stops, begins=-0.1, ends=0.4):
    return np.any([(seen.t > s + begins) & (seen.t < s + ends) for s in stops], axis=0)


def within(seen, part, sds):
    return float(np.mean(np.abs(seen.arm - seen.true)[part] < sds * np.hypot(seen.sd, 0.01)[part]))


@pytest.mark.parametrize("size_g", [0.01, 0.02, 0.05])
def test_a_quiet_chip_owns_to_a_knock_at_the_brake(strokes, size_g):
    seen, stops = strokes("adxl355", size_g)
    part = at_brakes(seen, stops)
    assert within(seen, part, 2.0) >= 0.95
    assert within(seen, part, 3.0) >= 0.97


def test_a_knock_is_not_taken_for_a_turn_of_the_arm(strokes):
    # 0.02 g across the arm would be 1.1 deg.
    seen, stops = strokes("adxl355", 0.02)
    off = np.abs(seen.arm - seen.true)[at_brakes(seen, stops)]
    assert np.percentile(off, 95) < 0.3
    assert off.max() < 0.8


@pytest.mark.parametrize("size_g", [0.0, 0.02, 0.05])
def test_once_it_has_died_the_angle_is_as_sure_as_ever(strokes, size_g):
    seen, stops = strokes("adxl355", size_g)
    held = at_brakes(seen, stops, 0.6, 0.75)
    assert np.abs(seen.arm - seen.true)[held].max() < 0.05
    assert seen.noise[held].max() < 0.1


def test_a_chip_with_a_gyro_is_not_shaken(strokes):
    seen, stops = strokes("lsm6dso", 0.05)
    part = at_brakes(seen, stops)
    assert np.abs(seen.arm - seen.true)[part].max() < 0.1
    assert seen.noise[part].max() < 0.1


def test_innovations_as_large_as_they_should_be_are_no_vibration():
    noise = VibrationNoise()
    rng = np.random.default_rng(3)
    for innovation in rng.normal(size=1000).clip(-4.9, 4.9) * QUIET_G2**0.5:
        assert not noise.update(float(innovation), QUIET_G2, STEP_S)
    assert noise.variance_g2 == 0.0


def test_a_knock_is_told_once_and_fades():
    noise = VibrationNoise()
    assert noise.update(0.03, QUIET_G2, STEP_S)
    begun = noise.variance_g2
    assert LEAST_G2 <= begun <= MOST_G2
    assert not noise.update(0.03, QUIET_G2, STEP_S)
    for _ in range(50):
        noise.update(0.0, QUIET_G2, STEP_S)
    assert noise.variance_g2 < 0.05 * begun
    assert noise.update(0.03, QUIET_G2, STEP_S)


def test_what_goes_on_is_the_arm_s_own_move():
    noise = VibrationNoise()
    for _ in range(round(LONGEST_S / STEP_S) + 1):
        noise.update(0.03, QUIET_G2, STEP_S)
    assert noise.variance_g2 == 0.0
