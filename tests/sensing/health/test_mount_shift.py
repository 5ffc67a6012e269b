"""A blow that turns the box is told from the arm's own turning by what the gyro saw of it."""

import math

import pytest

from benchmate.sensing.health.mount_shift import MountShiftDetector
from benchmate.sensing.sample import Sample, Vector

BIAS = Vector(0.4, -0.3, 0.2)
STEP_S = 0.005


def gravity(deg: float) -> Vector:
    return Vector(math.cos(math.radians(deg)), math.sin(math.radians(deg)), 0.0)


def turned(by_deg: float, seen_deg: float, lasts_s: float = 1.0) -> float | None:
    """Stand, turn so far with the gyro seeing so much of it, and stand again."""
    knock = MountShiftDetector()
    steps = round(lasts_s / STEP_S)
    knock.see(Sample(0.0, (0,), gyro_dps=BIAS))
    assert knock.stands(gravity(30.0), BIAS, 0.0) is None
    x, y, z = BIAS
    rate = Vector(x, y, z + seen_deg / lasts_s)
    for step in range(1, steps + 1):
        knock.see(Sample(step * STEP_S, (step,), gyro_dps=rate))
    return knock.stands(gravity(30.0 + by_deg), BIAS, lasts_s)


@pytest.mark.parametrize("deg", [-90.0, -3.0, 0.0, 3.0, 90.0])
def test_an_arm_that_turns_is_no_knock(deg: float) -> None:
    assert turned(deg, deg) is None


def test_a_gyro_that_is_some_per_cent_off_cries_no_wolf() -> None:
    assert turned(120.0, 112.0) is None


@pytest.mark.parametrize("deg", [-6.0, 3.0, 20.0])
def test_a_turn_that_the_gyro_missed_is_a_knock_of_that_size(deg: float) -> None:
    assert turned(deg, 0.2 * deg) == pytest.approx(abs(deg))


def test_a_degree_is_left_to_the_estimator() -> None:
    assert turned(1.0, 0.0) is None


def test_after_a_long_way_the_gyros_own_drift_is_not_held_against_the_box() -> None:
    assert turned(10.0, 0.0, lasts_s=40.0) is None
