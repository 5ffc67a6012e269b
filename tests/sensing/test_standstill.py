"""When the arm counts as standing still, and how soon it no longer does."""

import math

import numpy as np
import pytest

from benchmate.sensing.standstill import Standstill

RATE = 200.0
NOISE = math.radians(0.05)


def watched(angles, lengths=None, unseen_s=0.03):
    """Give after each angle whether the arm is calm."""
    still = Standstill(RATE, unseen_s)
    calm = []
    for angle, length in zip(
        angles, lengths if lengths is not None else [0.0] * len(angles), strict=True
    ):
        still.see(float(angle), NOISE, float(length))
        calm.append(still.calm)
    return np.array(calm)


def at_rest(seconds, seed=1):
    return 0.3 + NOISE * np.random.default_rng(seed).normal(size=round(seconds * RATE))


def test_an_arm_at_rest_is_calm_after_a_quarter_of_a_second_and_stays_so():
    calm = watched(at_rest(60.0))
    assert not calm[:49].any()
    assert calm[60:].mean() > 0.97


def test_a_noisy_chip_takes_longer_to_be_believed():
    assert not watched(at_rest(1.0), unseen_s=0.1)[:119].any()


@pytest.mark.parametrize("dps", [1.0, 5.0, -20.0])
def test_an_arm_that_turns_is_left_before_it_has_gone_far(dps):
    turning = math.radians(dps) * np.arange(200) / RATE
    calm = watched(
        np.concatenate(
            [at_rest(2.0), 0.3 + turning + NOISE * np.random.default_rng(3).normal(size=200)]
        )
    )
    last = int(np.flatnonzero(calm)[-1]) - 400
    assert last < 199
    assert abs(math.degrees(turning[last])) < 0.25


def test_one_sample_far_off_is_not_taken_for_rest_and_rest_goes_on():
    angles = at_rest(2.0)
    angles[300] += 6.0 * NOISE
    calm = watched(angles)
    assert not calm[300]
    assert calm[340:].mean() > 0.9


def test_gravitys_length_shows_a_start_that_the_angle_hides():
    lengths = np.random.default_rng(5).normal(size=400)
    lengths[300:] += 3.0
    calm = watched(at_rest(2.0), lengths)
    assert calm[250:300].mean() > 0.9
    assert not calm[310:340].any()


def test_a_move_that_is_told_ends_it_at_once():
    still = Standstill(RATE, 0.03)
    for angle in at_rest(1.0):
        still.see(float(angle), NOISE)
    still.leave()
    assert not still.lasts
    assert not still.calm
