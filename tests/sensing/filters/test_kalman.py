"""The filter against the textbook's matrices, and what it may never do."""

import math

import numpy as np
import pytest
from scipy.stats import norm

from benchmate.sensing.filters.kalman import LENGTH, STROKE_ACCELERATION, STROKE_W, ArmKalmanFilter


def goes_on(dt):
    """Give the transition by its power series: acceleration is drawn back, critically damped."""
    flow = np.diag([1.0, 1.0, 1.0], 1)
    flow[3, 2:] = -(STROKE_W**2), -2.0 * STROKE_W
    total = term = np.eye(4)
    for order in range(1, 25):
        term = term @ flow * dt / order
        total = total + term
    return total


def test_without_a_lever_it_is_the_textbooks_kalman_filter():
    """Dense matrices by numpy, one prediction and one update at a time."""
    rng = np.random.default_rng(1)
    ours = ArmKalmanFilter(0.2, 0.1)
    x = np.array([0.2, 0.0, 0.0, 0.0])
    sd, w = STROKE_ACCELERATION, STROKE_W
    p = np.diag([0.01, (sd / w) ** 2, sd**2, (sd * w) ** 2])
    noise = 1e-6
    for _ in range(300):
        dt = rng.uniform(0.003, 0.02)
        f = goes_on(dt)
        drive = (
            4.0
            * w**3
            * sd**2
            * math.exp(-w * dt)
            * np.array(
                [
                    [dt**7 / 252, dt**6 / 72, dt**5 / 30, dt**4 / 24],
                    [dt**6 / 72, dt**5 / 20, dt**4 / 8, dt**3 / 6],
                    [dt**5 / 30, dt**4 / 8, dt**3 / 3, dt**2 / 2],
                    [dt**4 / 24, dt**3 / 6, dt**2 / 2, dt],
                ]
            )
        )
        shown = x[0] + rng.normal() * 1e-3
        x, p = f @ x, f @ p @ f.T + drive
        gain = p[:, 0] / (p[0, 0] + noise)
        ours.predict(dt)
        ours.update_angle(shown - ours.state[0], noise)
        x, p = x + gain * (shown - x[0]), p - np.outer(gain, p[0])
        assert ours.state == pytest.approx(x, rel=1e-7, abs=1e-9)
        assert np.array(ours.covariance) == pytest.approx(p, rel=1e-7, abs=1e-9)


LEVER = ((0.03, 0.02), (1e-6, 2e-7, 1e-6))


def test_what_is_known_of_the_lever_is_carried_and_never_changed():
    rng = np.random.default_rng(2)
    arm = ArmKalmanFilter(0.0, 0.01, LEVER, 0.01)
    for _ in range(500):
        arm.predict(0.005)
        arm.update_rate(rng.normal() * 0.2, 1e-6)
        arm.update_gravity((1.0 + rng.normal() * 0.01, rng.normal() * 0.01), 1.0, (1e-6, 1e-6))
    corner = np.array(arm.covariance)[-2:, -2:]
    assert corner == pytest.approx(np.array([[1e-6, 2e-7], [2e-7, 1e-6]]), rel=1e-9)
    assert len(arm.state) == 6


def test_an_hour_leaves_a_covariance_a_covariance():
    rng = np.random.default_rng(3)
    arm = ArmKalmanFilter(0.0, 0.01, LEVER, 0.02, 0.01)
    for _ in range(20_000):
        arm.predict(1.0 / 208.0, 1e-6)
        arm.update_rate(rng.normal() * 7e-4, 5e-7)
        arm.update_gravity((1.0 + rng.normal() * 6e-4, rng.normal() * 6e-4), 1.0, (4e-7, 4e-7))
    p = np.array(arm.covariance)
    assert p == pytest.approx(p.T, rel=1e-6, abs=1e-12)
    assert np.linalg.eigvalsh((p + p.T) / 2.0).min() > -1e-12
    assert arm.angle_sd < math.radians(0.05)


def test_left_alone_a_strokes_acceleration_and_jerk_are_what_they_are_on_the_whole():
    arm = ArmKalmanFilter(0.0, 0.01)
    for _ in range(2000):
        arm.predict(0.002)
    assert math.sqrt(arm.covariance[2][2]) == pytest.approx(STROKE_ACCELERATION, rel=0.03)
    assert math.sqrt(arm.covariance[3][3]) == pytest.approx(
        STROKE_ACCELERATION * STROKE_W, rel=0.03
    )


def test_a_wrong_length_of_gravity_is_learned_and_taken_for_no_turn():
    rng = np.random.default_rng(5)
    arm = ArmKalmanFilter(0.0, 0.01, LEVER, None, 0.01)
    for _ in range(800):
        arm.predict(1.0 / 208.0, 1e-6)
        arm.update_gravity((1.003 + rng.normal() * 2e-4, rng.normal() * 2e-4), 1.0, (4e-8, 4e-8))
    assert arm.state[LENGTH] == pytest.approx(0.003, abs=4e-4)
    assert abs(arm.state[0]) < math.radians(0.05)


def test_the_density_of_what_was_seen_is_the_normal_distributions():
    """Against scipy.stats.norm, a constant the same for all samples aside."""
    arm = ArmKalmanFilter(0.1, 0.02)
    arm.update_angle(0.03, 1e-4)
    expected = norm.logpdf(0.03, 0.0, math.sqrt(4e-4 + 1e-4)) + 0.5 * math.log(2.0 * math.pi)
    assert arm.log_likelihood == pytest.approx(expected)
