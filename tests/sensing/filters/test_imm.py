"""When an arm counts as standing, how soon it no longer does, and what the doubt between costs."""

import math

import numpy as np
import pytest

from benchmate.sensing.filters.imm import LONGEST_S, InteractingMultipleModel
from benchmate.sensing.filters.kalman import ANGLE, ArmKalmanFilter

RATE = 200.0
NOISE = math.radians(0.05)
LEAST_SD = NOISE / math.sqrt(LONGEST_S * RATE)


class Watched:
    """An encoder's angles [rad], each with what is believed after it."""

    def __init__(self, angles):
        modes = InteractingMultipleModel(lambda: ArmKalmanFilter(float(angles[0]), NOISE), LEAST_SD)
        standing, angle, sd, rate = [], [], [], []
        for shown in angles:
            modes.predict(1.0 / RATE)
            modes.see(lambda arm, at=shown: arm.update_angle(at - arm.state[ANGLE], NOISE**2))
            standing.append(modes.standing)
            angle.append(modes.angle)
            sd.append(modes.angle_sd)
            rate.append(modes.rate)
        self.standing, self.angle = np.array(standing), np.array(angle)
        self.sd, self.rate = np.array(sd), np.array(rate)


def shown(truth, seed=1):
    return truth + NOISE * np.random.default_rng(seed).normal(size=len(truth))


def at_rest(seconds):
    return np.full(round(seconds * RATE), 0.3)


def stroke(degrees=3.0, seconds=0.4):
    t = np.arange(round(seconds * RATE)) / (seconds * RATE)
    return 0.3 + math.radians(degrees) * (t - np.sin(2.0 * math.pi * t) / (2.0 * math.pi))


def test_an_arm_at_rest_soon_counts_as_standing_and_goes_on_so():
    watched = Watched(shown(at_rest(60.0)))
    assert (watched.standing[100:] > 0.5).mean() > 0.99
    assert np.sqrt(np.mean(watched.rate[400:] ** 2)) < math.radians(0.2)


def test_its_angle_is_averaged_and_its_doubt_is_as_small_as_the_average_allows():
    errors = [Watched(shown(at_rest(2.0), seed)).angle[-1] - 0.3 for seed in range(60)]
    sd = Watched(shown(at_rest(2.0))).sd[-1]
    assert np.std(errors) < 2.0 * NOISE / math.sqrt(2.0 * RATE)
    assert np.std(errors) < 1.3 * sd


def test_it_is_never_believed_better_than_an_average_over_the_longest_time():
    assert Watched(shown(at_rest(30.0))).sd.min() >= 0.9 * LEAST_SD


@pytest.mark.parametrize("dps", [1.0, 5.0, -20.0])
def test_an_arm_that_turns_is_followed_before_it_has_gone_far(dps):
    turning = 0.3 + math.radians(dps) * np.arange(300) / RATE
    truth = np.concatenate([at_rest(2.0), turning])
    watched = Watched(shown(truth, 3))
    assert np.degrees(np.abs(watched.angle - truth)[400:]).max() < 0.25
    assert watched.standing[-100:].mean() < 0.2


def test_a_stroke_is_seen_and_the_standstill_after_it():
    rested, pressed = at_rest(1.0), stroke()
    truth = np.concatenate([rested, pressed, np.full(100, pressed[-1])])
    watched = Watched(shown(truth, 4))
    assert watched.standing[200 + 40] < 1e-3
    assert watched.standing[-1] > 0.9
    assert np.abs(watched.angle - truth)[-1] < 2.0 * watched.sd[-1]


def test_one_sample_far_off_is_forgotten_again():
    angles = shown(at_rest(2.0))
    angles[300] += 6.0 * NOISE
    watched = Watched(angles)
    assert watched.standing[340:].mean() > 0.9
    assert abs(watched.angle[-1] - 0.3) < 3.0 * watched.sd[-1]


def test_its_doubt_is_honest_in_strokes_and_between_them():
    rng = np.random.default_rng(7)
    ratios = []
    for seed in range(40):
        parts, at = [at_rest(1.0)], 0.3
        for _ in range(4):
            pressed = stroke(rng.uniform(2.0, 4.0), rng.uniform(0.3, 0.5)) - 0.3 + at
            at = pressed[-1]
            parts += [pressed, np.full(round(rng.uniform(0.2, 0.5) * RATE), at)]
        truth = np.concatenate(parts)
        watched = Watched(shown(truth, 100 + seed))
        ratios.append((np.abs(watched.angle - truth) / watched.sd)[200:])
    inside = np.concatenate(ratios)
    assert (inside < 1.0).mean() == pytest.approx(0.68, abs=0.08)
    assert (inside < 2.0).mean() == pytest.approx(0.95, abs=0.04)
