"""Which samples are believed, what is said of the others, and when it is over."""

import dataclasses
import math

import numpy as np
import pytest

from benchmate.sensing import chip_facts
from benchmate.sensing.calibration.error_model import from_factory
from benchmate.sensing.calibration.multi_position import MultiPositionCalibration
from benchmate.sensing.health.monitor import HealthMonitor
from benchmate.sensing.mount.alignment import Mount, fit_mount
from benchmate.sensing.sample import Sample, SensorFault, Vector
from benchmate.shop.parts import Sensor

CHIPS = ["lsm6dso", "adxl345", "adxl355"]
UP = (0.0, 0.6, 0.8)


def facts_of(chip):
    return chip_facts(Sensor(chip=chip))


def still(chip, seconds, *, t0=0.0, gravity=UP, rate=1.0, seed=1):
    """A chip at rest, as its noise and its counts have it."""
    facts = facts_of(chip)
    rng = np.random.default_rng(seed)
    samples = []
    for i in range(round(seconds * facts.rate_hz * rate)):
        accel = np.array(gravity) + rng.normal(size=3) * facts.accel_noise_g
        counts = tuple(round(v / facts.accel_step_g) for v in accel)
        gyro = tuple(rng.normal(size=3) * facts.gyro_noise_dps) if facts.has_gyro else None
        samples.append(
            Sample(
                t=t0 + i / facts.rate_hz / rate,
                raw=counts,
                accel_g=Vector(*(c * facts.accel_step_g for c in counts)),
                gyro_dps=None if gyro is None else Vector(*gyro),
            )
        )
    return samples


def encoder(seconds, *, t0=0.0, **changed):
    facts = facts_of("as5600")
    return [
        Sample(t0 + i / facts.rate_hz, (1024,), angle_deg=90.0, magnet="good", agc=64)._replace(
            **changed
        )
        for i in range(round(seconds * facts.rate_hz))
    ]


def first_fault(health, samples):
    """Give the first fault told and its time."""
    for sample in samples:
        fault = health.see(sample)
        if fault is not None:
            return fault, sample.t
    return None, None


@pytest.mark.parametrize("chip", CHIPS)
def test_a_still_chip_is_healthy(chip):
    health = HealthMonitor(facts_of(chip))
    assert first_fault(health, still(chip, 30.0)) == (None, None)
    assert health.clears


def test_an_encoder_that_stands_still_is_healthy():
    assert first_fault(HealthMonitor(facts_of("as5600")), encoder(5.0)) == (None, None)


@pytest.mark.parametrize("chip", CHIPS)
def test_a_fault_stands_until_half_a_second_of_good_data(chip):
    health = HealthMonitor(facts_of(chip))
    health.fail(SensorFault("bus", "the cable is out"), 10.0)
    assert not health.clears
    told = [(s.t, health.see(s)) for s in still(chip, 1.0, t0=10.0)]
    assert all(fault is not None and fault.what == "bus" for t, fault in told if t < 10.5)
    assert all(fault is None for t, fault in told if t >= 10.5)
    assert health.clears


def test_a_hammer_blow_is_no_fault_but_an_axis_at_its_stop_is():
    health = HealthMonitor(facts_of("lsm6dso"))
    samples = still("lsm6dso", 2.0)
    samples[200] = samples[200]._replace(saturated=True)
    assert first_fault(health, samples) == (None, None)
    stopped = [s._replace(saturated=True) for s in still("lsm6dso", 1.0, t0=2.0)]
    fault, t = first_fault(health, stopped)
    assert "end stop" in fault.detail
    assert t - 2.0 < 0.5


@pytest.mark.parametrize("length", [0.7, 1.3])
@pytest.mark.parametrize("chip", CHIPS)
def test_gravity_that_is_not_1_g_at_rest_is_an_alignment_fault(chip, length):
    gravity = tuple(length * v for v in UP)
    fault, t = first_fault(HealthMonitor(facts_of(chip)), still(chip, 2.0, gravity=gravity))
    assert fault.what == "alignment"
    assert f"{length:.2f} g" in fault.detail
    assert t < 0.5


@pytest.mark.parametrize("chip", CHIPS)
def test_a_factory_fresh_chip_three_deviations_off_is_no_fault(chip):
    facts = facts_of(chip)
    length = 1.0 + 2.5 * math.hypot(facts.gain, facts.offset_g)
    gravity = tuple(length * v for v in UP)
    assert first_fault(HealthMonitor(facts), still(chip, 2.0, gravity=gravity)) == (None, None)


def calibrated(chip, *, temperature_c=None):
    """Give a good turn's calibration of a perfect chip."""
    left = np.diag([1e-3**2] * 9)
    return dataclasses.replace(
        from_factory(facts_of(chip)),
        covariance=tuple(map(tuple, left.tolist())),
        temperature_c=temperature_c,
    )


def warm(samples, temperature_c):
    return [s._replace(temperature_c=temperature_c) for s in samples]


LIMIT_MG = {"lsm6dso": 11, "adxl355": 11, "adxl345": 45}
"""By so much along gravity a zero may be off before it is told, as the page on sensors has it."""


@pytest.mark.parametrize("way", [1.0, -1.0])
@pytest.mark.parametrize("chip", CHIPS)
def test_a_calibrated_chips_shifted_zero_is_told_by_what_it_adds_to_gravity(chip, way):
    gravity = tuple((1.0 + way * 1e-3 * LIMIT_MG[chip]) * v for v in UP)
    health = HealthMonitor(facts_of(chip), calibration=calibrated(chip))
    fault, t = first_fault(health, still(chip, 2.0, gravity=gravity))
    assert fault.what == "alignment"
    assert "zero has shifted since it was calibrated; run benchmate align --turn" in fault.detail
    assert t < 0.8


@pytest.mark.parametrize("chip", CHIPS)
def test_what_a_calibration_leaves_is_no_shifted_zero(chip):
    for length in (0.996, 1.004):
        gravity = tuple(length * v for v in UP)
        health = HealthMonitor(facts_of(chip), calibration=calibrated(chip))
        assert first_fault(health, still(chip, 10.0, gravity=gravity)) == (None, None)


def test_what_is_judged_is_the_corrected_vector():
    offset = (0.0, 0.05, 0.05)
    shown = tuple(v + b for v, b in zip(UP, offset, strict=True))
    known = dataclasses.replace(calibrated("lsm6dso"), offsets_g=offset)
    samples = still("lsm6dso", 2.0, gravity=shown)
    assert first_fault(HealthMonitor(facts_of("lsm6dso"), calibration=known), samples) == (
        None,
        None,
    )


@pytest.mark.parametrize(("now_c", "told"), [(20.0, True), (45.0, False)])
def test_a_drift_that_warmth_explains_is_no_fault(now_c, told):
    gravity = tuple(1.012 * v for v in UP)
    health = HealthMonitor(
        facts_of("lsm6dso"), calibration=calibrated("lsm6dso", temperature_c=20.0)
    )
    fault, _ = first_fault(health, warm(still("lsm6dso", 2.0, gravity=gravity), now_c))
    assert (fault is not None) is told


@pytest.mark.parametrize("known", [True, False], ids=["calibrated", "bare"])
@pytest.mark.parametrize("chip", CHIPS)
def test_a_zero_that_jumps_within_a_session_is_told_against_the_rest_before(chip, known):
    health = HealthMonitor(facts_of(chip), calibration=calibrated(chip) if known else None)
    gravity = tuple(1.012 * v for v in UP)
    samples = still(chip, 1.0) + still(chip, 2.0, t0=1.0, gravity=gravity, seed=2)
    fault, t = first_fault(health, samples)
    assert fault.what == "alignment"
    assert "shifted" in fault.detail
    assert 1.0 < t < 1.8


def test_what_drifted_since_the_calibration_turns_with_the_arm_and_is_no_jump():
    """Ten degrees at 0.8 mg each along x and y: gravity shows the one, then the other."""
    health = HealthMonitor(facts_of("adxl345"), calibration=calibrated("adxl345"))
    samples = still("adxl345", 1.0, gravity=(1.008, -0.008, 0.0))
    samples += still("adxl345", 1.0, t0=1.2, gravity=(0.008, 0.992, 0.0), seed=2)
    assert first_fault(health, samples) == (None, None)


@pytest.mark.parametrize("chip", CHIPS)
def test_one_standstill_alone_convinces_nobody(chip):
    facts = facts_of(chip)
    samples = still(chip, 3.0)
    for i, s in enumerate(samples):
        if 1.02 <= s.t < 1.26:
            samples[i] = s._replace(accel_g=Vector(*(1.02 * v for v in s.accel_g)))
    assert first_fault(HealthMonitor(facts, calibration=calibrated(chip)), samples) == (None, None)


def test_a_zero_that_creeps_with_warmth_for_minutes_is_no_jump():
    facts = facts_of("adxl345")
    health = HealthMonitor(facts)
    for minute in range(10):
        gravity = tuple((1.0 + 0.0012 * minute) * v for v in UP)
        samples = still("adxl345", 2.0, t0=60.0 * minute, gravity=gravity, seed=minute)
        assert first_fault(health, samples) == (None, None)


def test_gravity_found_wrong_at_rest_stands_while_the_arm_moves_and_ends_with_a_good_rest():
    health = HealthMonitor(facts_of("lsm6dso"))
    wrong = tuple(1.3 * v for v in UP)
    first_fault(health, still("lsm6dso", 1.0, gravity=wrong))
    moving = [
        s._replace(accel_g=Vector(0.0, math.sin(s.t), math.cos(s.t)))
        for s in still("lsm6dso", 2.0, t0=1.0)
    ]
    assert all(health.see(s) is not None and not health.finds_good(s) for s in moving)
    after = [(s.t, health.see(s)) for s in still("lsm6dso", 2.0, t0=3.0)]
    assert after[-1][1] is None
    assert next(t for t, fault in after if fault is None) < 4.1


def test_shaking_is_no_knock():
    health = HealthMonitor(facts_of("lsm6dso"))
    shaken = [
        s._replace(accel_g=Vector(*(v * (1.0 + 0.3 * math.sin(40.0 * s.t)) for v in s.accel_g)))
        for s in still("lsm6dso", 2.0)
    ]
    assert first_fault(health, shaken) == (None, None)


@pytest.mark.parametrize(("dps", "told"), [(-285.0, True), (90.0, False)])
def test_a_rate_that_no_hand_gives_an_arm_is_a_fault_at_once(dps, told):
    mount = Mount(chip="lsm6dso", address=0x6A, identity="6c", shown_normal=(1.0, 0.0, 0.0))
    samples = still("lsm6dso", 1.0)
    samples[100] = samples[100]._replace(gyro_dps=Vector(dps, 0.0, 0.0))
    fault, t = first_fault(HealthMonitor(facts_of("lsm6dso"), mount), samples)
    assert (fault is not None, t) == (told, samples[100].t if told else None)


@pytest.mark.parametrize(("tilt_deg", "told"), [(0.5, False), (3.0, True), (-3.0, True)])
def test_a_box_turned_out_of_its_plane_is_told_once_it_was_aligned(tilt_deg, told):
    mount = Mount(
        chip="lsm6dso",
        address=0x6A,
        identity="6c",
        shown_normal=(1.0, 0.0, 0.0),
    )
    tilt = math.radians(tilt_deg)
    gravity = (math.sin(tilt), 0.6 * math.cos(tilt), 0.8 * math.cos(tilt))
    fault, _ = first_fault(
        HealthMonitor(facts_of("lsm6dso"), mount), still("lsm6dso", 1.0, gravity=gravity)
    )
    assert (fault is not None) is told
    if fault is not None:
        assert fault.what == "alignment"
        assert "out of the plane" in fault.detail


@pytest.mark.parametrize(("tilt_deg", "told"), [(2.5, False), (3.5, True)])
def test_an_adxl345s_z_axis_may_drift_out_of_the_plane_by_ten_degrees_of_warmth(tilt_deg, told):
    mount = Mount(chip="adxl345", address=0x53, identity="e5", shown_normal=(0.0, 0.0, 1.0))
    tilt = math.radians(tilt_deg)
    gravity = (math.cos(tilt), 0.0, math.sin(tilt))
    health = HealthMonitor(facts_of("adxl345"), mount)
    fault, _ = first_fault(health, still("adxl345", 1.0, gravity=gravity))
    assert (fault is not None) is told


def test_a_calibrated_mount_knows_the_plane_as_the_chip_shows_it(arms):
    rng = np.random.default_rng(2)
    facts = facts_of("adxl345")
    box = arms.any_box(facts, 80.0, rng)
    box.offset = 0.05 * box.pivot
    turn = MultiPositionCalibration(Sensor(chip="adxl345"))
    for sample in box.stream(arms.full_turn(rng, facts.rate_hz), rng):
        turn.see(sample)
    swung = box.samples(arms.swing(facts.rate_hz), rng)
    mount = fit_mount(swung, Sensor(chip="adxl345"), "", turn.end())
    assert first_fault(HealthMonitor(facts, mount), swung) == (None, None)


def test_a_lost_magnet_is_told_at_once():
    samples = encoder(1.0) + encoder(1.0, t0=1.0, magnet="lost")
    fault, t = first_fault(HealthMonitor(facts_of("as5600")), samples)
    assert "no magnet" in fault.detail
    assert t == pytest.approx(1.0)


@pytest.mark.parametrize(("agc", "told"), [(74, False), (75, True), (53, True)])
def test_a_magnet_that_moved_is_told_by_the_chips_gain(agc, told):
    samples = encoder(1.0) + encoder(1.0, t0=1.0, agc=agc)
    fault, _ = first_fault(HealthMonitor(facts_of("as5600")), samples)
    assert (fault is not None) is told


@pytest.mark.parametrize(("agc", "told"), [(50, False), (79, False), (49, True), (80, True)])
def test_a_magnet_that_moved_since_the_calibration_is_told_from_the_start(agc, told):
    known = dataclasses.replace(from_factory(facts_of("as5600")), agc=(60, 69))
    health = HealthMonitor(facts_of("as5600"), calibration=known)
    fault, t = first_fault(health, encoder(1.0, agc=agc))
    assert (fault is not None) is told
    if fault is not None:
        assert t == 0.0
        assert "than when it was calibrated" in fault.detail


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_values_that_are_no_numbers_are_told(value):
    (sample,) = still("lsm6dso", 1.0)[:1]
    broken = sample._replace(accel_g=Vector(value, 0.0, 1.0))
    assert "no numbers" in HealthMonitor(facts_of("lsm6dso")).see(broken).detail


@pytest.mark.parametrize(("rate", "told"), [(0.95, False), (1.05, False), (0.5, True), (1.6, True)])
def test_a_rate_far_from_the_one_set_is_told_within_half_a_second(rate, told):
    fault, t = first_fault(HealthMonitor(facts_of("lsm6dso")), still("lsm6dso", 2.0, rate=rate))
    assert (fault is not None) is told
    if fault is not None:
        assert "samples a second" in fault.detail
        assert t <= 0.5


def test_after_a_gap_everything_is_counted_anew():
    health = HealthMonitor(facts_of("lsm6dso"))
    samples = still("lsm6dso", 1.0)
    later = [s._replace(t=s.t + 60.0) for s in samples]
    assert first_fault(health, samples + later) == (None, None)


def test_the_gap_of_a_set_up_after_a_fault_is_no_slow_bus():
    health = HealthMonitor(facts_of("lsm6dso"))
    samples = still("lsm6dso", 1.0)
    assert first_fault(health, samples) == (None, None)
    health.fail(SensorFault("sensor", "it was reset"), 1.0)
    told = [health.see(s) for s in still("lsm6dso", 1.0, t0=1.3)]
    assert all("reset" in fault.detail for fault in told if fault is not None)
    assert health.clears


def test_nor_is_the_gap_after_a_fault_that_the_samples_themselves_told():
    health = HealthMonitor(facts_of("lsm6dso"))
    stopped = [s._replace(saturated=True) for s in still("lsm6dso", 0.3, t0=1.0)]
    first_fault(health, still("lsm6dso", 1.0) + stopped)
    told = [health.see(s) for s in still("lsm6dso", 1.0, t0=1.6)]
    assert all("end stop" in fault.detail for fault in told if fault is not None)
    assert health.clears
