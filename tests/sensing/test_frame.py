"""A second sensor on the frame takes a rocking bench out of the arm angle."""

import dataclasses

import numpy as np
import pytest

from benchmate.sensing import chip_facts
from benchmate.sensing.estimator import ArmAngleEstimator
from benchmate.sensing.frame import frame_mount, without_rocking
from benchmate.sensing.mount.alignment import fit_mount
from benchmate.sensing.sample import ArmEstimate, SensorFault
from benchmate.shop.parts import Arm, Sensor

ARM = Sensor(chip="lsm6dso")
FRAME = Sensor(chip="lsm6dso", address=0x6B)
FACTS = chip_facts(ARM)


def test_rocking_is_taken_out_and_the_bend_is_not(arms):
    rng = np.random.default_rng(1)
    on_arm = arms.any_box(FACTS, 80.0, rng, errors=False)
    # Turned about the pivot and 5 degrees out of the plane, as hands clamp it.
    on_frame = dataclasses.replace(on_arm, radius_mm=0.0)
    on_frame.up = arms.turned(on_arm.up, on_arm.pivot, 0.7)
    on_frame.up = arms.turned(on_frame.up, np.cross(on_arm.pivot, on_frame.up), 0.087)
    mount = fit_mount(on_arm.samples(arms.swing(208.0), rng), ARM)
    rest = on_frame.samples(arms.stay(0.5, 208.0), rng)
    framed = frame_mount(mount, rest, FRAME)
    arm, frame = (
        ArmAngleEstimator(mount, FACTS, Arm(radius_mm=80.0)),
        ArmAngleEstimator(framed, FACTS, Arm(radius_mm=0.0)),
    )

    press = arms.press(rng, 208.0, stop=30.0).motion
    turn = 2 * np.pi * 0.8
    since = np.maximum(press.t - 1.0, 0.0)
    rock = 1.5 * (1.0 - np.cos(turn * since))
    rate = 1.5 * turn * np.sin(turn * since)
    push = np.where(press.t > 1.0, 1.5 * turn**2 * np.cos(turn * since), 0.0)
    rocked = arms.Motion(press.t, press.angle + rock, press.rate + rate, press.acceleration + push)
    alone, both = [], []
    for a, f in zip(
        on_arm.stream(rocked, rng),
        on_frame.stream(arms.Motion(press.t, rock, rate, push), rng),
        strict=True,
    ):
        reading = arm.step(a)
        alone.append(reading.arm_deg)
        both.append(without_rocking(reading, frame.step(f)).arm_deg)
    zero = slice(104, 200)
    without, with_frame = (np.array(v) - np.mean(v[zero]) - press.angle for v in (alone, both))
    assert np.std(without[300:]) > 0.8
    assert np.std(with_frame[300:]) < 0.1


def test_the_doubts_of_both_count():
    arm = ArmEstimate(10.0, 45.0, 5.0, 0.03, 0.03)
    frame = ArmEstimate(9.99, 1.0, 2.0, 0.04, 0.04)
    assert without_rocking(arm, frame) == pytest.approx((10.0, 43.98, 3.0, 0.05, 0.05))


def test_a_box_the_other_way_round_is_refused(arms):
    rng = np.random.default_rng(1)
    on_arm = arms.any_box(FACTS, 80.0, rng, errors=False)
    mount = fit_mount(on_arm.samples(arms.swing(208.0), rng), ARM)
    other = dataclasses.replace(on_arm, up=on_arm.pivot, radius_mm=0.0)
    with pytest.raises(SensorFault, match="89 deg out of the arm's plane"):
        frame_mount(mount, other.samples(arms.stay(0.5, 208.0), rng), FRAME)


def test_a_frame_that_moves_is_refused(arms):
    rng = np.random.default_rng(1)
    on_arm = arms.any_box(FACTS, 80.0, rng, errors=False)
    mount = fit_mount(on_arm.samples(arms.swing(208.0), rng), ARM)
    with pytest.raises(SensorFault, match="the frame moved"):
        frame_mount(mount, on_arm.samples(arms.turn_by(5.0, 0.5, 208.0), rng), FRAME)
