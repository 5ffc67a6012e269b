"""One swing of the arm: where the sensor sits, or what was wrong with the swing."""

import json
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmate.sensing import chip_facts
from benchmate.sensing.calibration.error_model import from_factory
from benchmate.sensing.mount.alignment import Mount, Swing, fit_mount
from benchmate.sensing.sample import Sample, SensorFault
from benchmate.shop.parts import Sensor

LSM = Sensor(chip="lsm6dso")
FACTS = chip_facts(LSM)


def off_deg(a, b):
    return math.degrees(math.acos(min(1.0, abs(float(np.dot(a, b))))))


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10_000), tilt=st.floats(-60.0, 60.0))
def test_the_pivots_axis_is_found_at_any_attitude(arms, seed, tilt):
    rng = np.random.default_rng(seed)
    box = arms.any_box(FACTS, 80.0, rng, tilt, errors=False)
    mount = fit_mount(box.samples(arms.swing(208.0), rng), LSM)
    assert off_deg(mount.normal, box.pivot) < 0.2
    # Gravity turns against the box as the arm bends.
    assert np.dot(mount.normal, box.pivot) < 0.0
    assert mount.leverage == pytest.approx(math.cos(math.radians(tilt)), abs=2e-3)
    assert mount.height_g == pytest.approx(-math.sin(math.radians(tilt)), abs=2e-3)
    assert mount.arc_deg == pytest.approx(95.0, abs=0.5)
    assert mount.residual_deg < 0.1
    assert np.cross(mount.normal, mount.along) == pytest.approx(mount.across)


@pytest.mark.parametrize("chip", ["lsm6dso", "adxl345", "adxl355"])
def test_the_swing_tells_where_the_box_stands_on_the_arm(arms, chip):
    sensor = Sensor(chip=chip)
    facts = chip_facts(sensor)
    rng = np.random.default_rng(7)
    box = arms.any_box(facts, 80.0, rng, errors=False)
    known = from_factory(facts._replace(gain=1e-6, skew=1e-6, offset_g=1e-6))
    mount = fit_mount(box.samples(arms.swing(facts.rate_hz), rng), sensor, "", known)
    place = np.array([np.dot(box.place, mount.along), np.dot(box.place, mount.across)])
    assert np.array(mount.lever_s2) * 9806.65 == pytest.approx(80.0 * place, abs=8.0)
    assert math.sqrt(mount.lever_covariance[0]) * 9806.65 < 8.0


def test_the_swing_tells_the_gyros_gain(arms):
    rng = np.random.default_rng(3)
    box = arms.any_box(FACTS, 80.0, rng, errors=False)
    box.gyro_gain = 1.02
    known = from_factory(FACTS._replace(gain=1e-5, skew=1e-5, offset_g=1e-5))
    mount = fit_mount(box.samples(arms.swing(208.0), rng), LSM, "", known)
    assert mount.gyro_gain == pytest.approx(1.02, abs=2e-3)
    assert mount.gyro_gain_sd < 2e-3


def test_a_programs_jitter_is_no_gyro_gain(arms):
    rng = np.random.default_rng(3)
    box = arms.any_box(FACTS, 80.0, rng, errors=False)
    known = from_factory(FACTS._replace(gain=1e-5, skew=1e-5, offset_g=1e-5))
    # Looked for every 2 ms, samples are found up to that much late.
    polled = [
        s._replace(t=math.ceil(s.t / 0.002) * 0.002) for s in box.samples(arms.swing(208.0), rng)
    ]
    mount = fit_mount(polled, LSM, "", known)
    assert mount.gyro_gain == pytest.approx(1.0, abs=1e-3)


def test_the_first_move_is_the_way_of_bending_whatever_follows(arms):
    rng = np.random.default_rng(5)
    box = arms.any_box(FACTS, 80.0, rng, errors=False)
    there = arms.stay(1.0, 208.0).then(arms.turn_by(20.0, 1.0, 208.0))
    beyond = there.then(arms.turn_by(-90.0, 3.0, 208.0)).then(arms.stay(1.0, 208.0))
    mount = fit_mount(box.samples(beyond, rng), LSM)
    assert np.dot(mount.normal, box.pivot) < 0.0


def test_an_arm_swung_past_half_a_turn_is_no_trouble(arms):
    rng = np.random.default_rng(6)
    box = arms.any_box(FACTS, 80.0, rng, errors=False)
    mount = fit_mount(box.samples(arms.swing(208.0, arc=210.0), rng), LSM)
    assert mount.arc_deg == pytest.approx(210.0, abs=0.5)


@pytest.mark.parametrize("arc", [10.0, 28.0])
def test_a_swing_too_short_to_see_a_plane_is_refused(arms, arc):
    rng = np.random.default_rng(1)
    box = arms.any_box(FACTS, 80.0, rng, errors=False)
    with pytest.raises(SensorFault, match=f"swung {arc:.0f} deg, too short") as raised:
        fit_mount(box.samples(arms.swing(208.0, arc=arc), rng), LSM)
    assert raised.value.what == "alignment"


@pytest.mark.parametrize("lean", [75.0, 85.0, -80.0])
def test_a_pivot_near_to_upright_is_refused_with_how_little_gravity_says(arms, lean):
    rng = np.random.default_rng(2)
    box = arms.any_box(FACTS, 80.0, rng, lean, errors=False)
    with pytest.raises(SensorFault, match=r"use an encoder on the pivot \(as5600\)") as raised:
        fit_mount(box.samples(arms.swing(208.0), rng), LSM)
    assert f"within {90 - abs(lean):.0f} deg of upright" in raised.value.detail
    assert f"only {math.cos(math.radians(lean)):.0%}" in raised.value.detail


def test_an_arm_that_moves_from_the_start_is_refused(arms):
    rng = np.random.default_rng(2)
    box = arms.any_box(FACTS, 80.0, rng)
    with pytest.raises(SensorFault, match="moved from the start"):
        fit_mount(box.samples(arms.creep(90.0, 30.0, 208.0), rng), LSM)


def test_a_box_that_slips_out_of_its_plane_in_the_swing_is_refused(arms):
    rng = np.random.default_rng(2)
    box = arms.any_box(FACTS, 80.0, rng)
    motion = arms.swing(208.0)
    samples = box.samples(motion, rng)
    tilt = math.radians(8.0)
    box.pivot = math.cos(tilt) * box.pivot + math.sin(tilt) * box.up
    half = len(samples) // 2
    with pytest.raises(SensorFault, match="slipped or was knocked"):
        fit_mount(samples[:half] + box.samples(motion, rng)[half:], LSM)


def test_gaps_end_stops_and_too_few_samples_are_refused(arms):
    rng = np.random.default_rng(2)
    samples = arms.any_box(FACTS, 80.0, rng).samples(arms.swing(208.0), rng)
    with pytest.raises(SensorFault, match="samples were missing"):
        fit_mount(samples[:600] + samples[700:], LSM)
    with pytest.raises(SensorFault, match="end stop"):
        fit_mount([*samples[:600], samples[600]._replace(saturated=True), *samples[601:]], LSM)
    with pytest.raises(SensorFault, match="too few"):
        fit_mount(samples[:20], LSM)


def test_it_comes_back_from_the_store_as_it_went_in(arms):
    rng = np.random.default_rng(4)
    mount = fit_mount(arms.any_box(FACTS, 80.0, rng).samples(arms.swing(208.0), rng), LSM, "6c")
    assert Mount.from_plain(json.loads(json.dumps(mount.to_plain()))) == mount
    assert (mount.chip, mount.address, mount.identity) == ("lsm6dso", 0x6A, "6c")
    with pytest.raises(ValueError, match="along"):
        Mount.from_plain({**mount.to_plain(), "along": [1.0, 2.0]})


@pytest.mark.parametrize("sense", [1, -1])
def test_an_encoder_learns_its_sense_and_where_it_starts(arms, sense):
    sensor = Sensor(chip="as5600")
    motion = arms.swing(208.0)
    samples = [
        Sample(float(t), (0,), angle_deg=float((340.0 + sense * a) % 360.0))
        for t, a in zip(motion.t, motion.angle, strict=True)
    ]
    mount = fit_mount(samples, sensor)
    assert (mount.sense, mount.leverage) == (sense, 1.0)
    assert mount.start_deg == pytest.approx(340.0)


def test_a_swing_gathers_samples_and_ends_as_the_fit_does(arms):
    rng = np.random.default_rng(4)
    samples = arms.any_box(FACTS, 80.0, rng).samples(arms.swing(208.0), rng)
    swing = Swing(LSM, "6c")
    for sample in samples:
        swing.see(sample)
    assert swing.end() == fit_mount(samples, LSM, "6c")


def test_a_swing_that_never_ends_is_refused(arms):
    rng = np.random.default_rng(4)
    (first, *_) = arms.any_box(FACTS, 80.0, rng).samples(arms.stay(0.1, 208.0), rng)
    swing = Swing(LSM)
    swing.see(first)
    with pytest.raises(SensorFault, match="two minutes"):
        swing.see(first._replace(t=first.t + 121.0))
