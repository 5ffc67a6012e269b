"""The live arm angle while pumped, at rest, past half a turn, through gaps and broken transfers."""

import dataclasses
import math
import tracemalloc

import numpy as np
import pytest

from benchmate.sensing import chip_facts
from benchmate.sensing.calibration.error_model import from_factory
from benchmate.sensing.calibration.multi_position import MultiPositionCalibration
from benchmate.sensing.estimator import ArmAngleEstimator
from benchmate.sensing.mount.alignment import Mount, fit_mount
from benchmate.sensing.reach import ANY_REACH, Reach
from benchmate.sensing.sample import Sample, Vector
from benchmate.shop.parts import Arm, Sensor


class Tried:
    """A box on an arm with both calibrations done, and what the estimator makes of a motion."""

    def __init__(self, arms, chip, radius_mm, seed, tilt_deg=0.0):
        self.arms = arms
        self.rng = np.random.default_rng(seed)
        self.sensor = Sensor(chip=chip)
        self.facts = chip_facts(self.sensor)
        self.arm = Arm(radius_mm=radius_mm)
        self.box = arms.any_box(self.facts, radius_mm, self.rng, tilt_deg)
        turn = MultiPositionCalibration(self.sensor)
        loose = dataclasses.replace(self.box, radius_mm=0.0)
        for sample in loose.stream(arms.full_turn(self.rng, self.facts.rate_hz), self.rng):
            turn.see(sample)
        self.calibration = turn.end()
        swung = self.box.samples(arms.swing(self.facts.rate_hz), self.rng)
        self.mount = fit_mount(swung, self.sensor, "", self.calibration)

    def estimator(self, reach=ANY_REACH):
        return ArmAngleEstimator(self.mount, self.facts, self.arm, self.calibration, reach)

    def read(self, motion, reach=ANY_REACH):
        """Give error since zero [deg], sd [deg] and rate [deg/s], sample by sample."""
        estimator = self.estimator(reach)
        readings = [estimator.step(s) for s in self.box.stream(motion, self.rng)]
        arm, rate, sd = (np.array(v) for v in zip(*(r[1:4] for r in readings), strict=True))
        at_zero = (motion.t > 0.5) & (motion.t < 1.0)
        return arm - arm[at_zero].mean() - motion.angle, sd, rate


def rms(values):
    return float(np.sqrt(np.mean(np.square(values))))


@pytest.mark.parametrize(
    ("chip", "radius_mm", "pumping", "standing"),
    [
        ("lsm6dso", 80.0, 0.2, 0.12),
        ("lsm6dso", 450.0, 0.4, 0.2),
        ("adxl355", 80.0, 0.4, 0.12),
        ("adxl345", 80.0, 0.6, 0.3),
    ],
)
def test_after_both_calibrations_it_is_true_in_the_stroke_at_peak_and_rest(
    arms, chip, radius_mm, pumping, standing
):
    tried = Tried(arms, chip, radius_mm, seed=11, tilt_deg=10.0)
    press = arms.press(tried.rng, tried.facts.rate_hz)
    error, _, _ = tried.read(press.motion)
    assert rms(error[press.pumping]) < pumping
    assert rms(error[press.peak]) < standing
    assert rms(error[press.rest]) < standing


@pytest.mark.parametrize("chip", ["lsm6dso", "adxl345", "adxl355"])
def test_its_doubt_in_the_stroke_is_honest_though_samples_wait_for_their_reader(arms, chip):
    """Wanted: 68 and 95 of 100; what a rig keeps for a whole bend lets six tell that to a fifth."""
    off = []
    for seed in range(20, 26):
        tried = Tried(arms, chip, 80.0, seed)
        tried.box.warmth_c = 5.0 * tried.rng.normal()
        rate, rng = tried.facts.rate_hz, tried.rng
        press = arms.press(rng, rate, stop=45.0)
        seen = arms.stay(2.0, rate).then(press.motion)
        waited = arms.late(seen, arms.waits(tried.facts, rng, len(seen.t)))
        estimator = tried.estimator()
        readings = [estimator.step(s) for s in tried.box.stream(waited, rng)]
        told = [(r.arm_deg, r.sd_deg) for r in readings[-len(press.motion.t) :]]
        arm, sd = np.array(told).T
        at_zero = (press.motion.t > 0.5) & (press.motion.t < 1.0)
        error = arm - arm[at_zero].mean() - press.motion.angle
        off.append((error / np.hypot(sd, sd[at_zero].mean()))[press.pumping])
    off = np.abs(np.concatenate(off))
    assert 0.48 < np.mean(off < 1.0) < 0.88
    assert np.mean(off < 2.0) > 0.8


@pytest.mark.parametrize("chip", ["lsm6dso", "adxl345", "adxl355"])
def test_it_lags_less_than_50_ms_at_5_degrees_a_second(arms, chip):
    tried = Tried(arms, chip, 80.0, seed=3)
    rate = tried.facts.rate_hz
    motion = arms.stay(1.0, rate).then(arms.creep(60.0, 5.0, rate))
    error, _, speed = tried.read(motion)
    on_the_way = motion.angle > 5.0
    assert abs(error[on_the_way].mean()) < 5.0 * 0.05
    assert speed[on_the_way].mean() == pytest.approx(5.0, abs=0.2)


@pytest.mark.parametrize("chip", ["lsm6dso", "adxl345"])
def test_it_goes_on_past_half_a_turn_and_past_a_whole_one(arms, chip):
    tried = Tried(arms, chip, 80.0, seed=5)
    rate = tried.facts.rate_hz
    motion = arms.stay(1.0, rate)
    for _ in range(3):
        motion = motion.then(arms.turn_by(140.0, 2.5, rate)).then(arms.stay(1.0, rate))
    error, _, _ = tried.read(motion, Reach(-30.0, 500.0))
    assert abs(error[-20:]).max() < 0.5


@pytest.mark.parametrize("tilt", [-60.0, 60.0])
def test_a_tilted_bender_is_read_as_well(arms, tilt):
    tried = Tried(arms, "lsm6dso", 80.0, seed=8, tilt_deg=tilt)
    press = arms.press(tried.rng, tried.facts.rate_hz)
    error, _, _ = tried.read(press.motion)
    assert rms(error[press.peak]) < 0.12


def test_an_arm_at_rest_has_no_rate(arms):
    tried = Tried(arms, "lsm6dso", 80.0, seed=2)
    _, sd, rate = tried.read(arms.stay(3.0, 208.0))
    assert np.abs(rate[-300:]).max() < 0.01
    assert sd[-1] < 0.05


def test_without_a_calibration_it_doubts_itself_as_the_data_sheet_does(arms):
    tried = Tried(arms, "lsm6dso", 80.0, seed=9)
    motion = arms.stay(1.0, 208.0).then(arms.turn_by(90.0, 3.0, 208.0)).then(arms.stay(1.0, 208.0))
    samples = tried.box.samples(motion, tried.rng)
    mount = fit_mount(tried.box.samples(arms.swing(208.0), tried.rng), tried.sensor)
    fresh = ArmAngleEstimator(mount, tried.facts, tried.arm)
    readings = [fresh.step(s) for s in samples]
    assert readings[150].sd_deg < 0.05
    # 20 mg and 1 % make some 1.5 deg over a quarter turn.
    assert 1.0 < readings[-1].sd_deg < 3.0


def test_the_same_samples_give_the_same_readings(arms):
    tried = Tried(arms, "lsm6dso", 80.0, seed=4)
    samples = tried.box.samples(arms.press(tried.rng, 208.0, stop=20.0).motion, tried.rng)
    one, other = tried.estimator(), tried.estimator()
    assert [one.step(s) for s in samples] == [other.step(s) for s in samples]


def test_after_a_gap_it_begins_anew_at_the_nearest_turn(arms):
    tried = Tried(arms, "lsm6dso", 80.0, seed=4)
    rate = 208.0
    motion = arms.stay(1.0, rate).then(arms.turn_by(240.0, 5.0, rate)).then(arms.stay(3.0, rate))
    samples = tried.box.samples(motion, tried.rng)
    estimator = tried.estimator()
    at_zero = [estimator.step(s).arm_deg for s in samples[:208]][-1]
    for sample in samples[208:1400]:
        estimator.step(sample)
    estimator.reset()
    after = [estimator.step(s) for s in samples[1600:]]
    assert after[-1].arm_deg - at_zero == pytest.approx(240.0, abs=0.2)


@pytest.mark.parametrize("chip", ["adxl355", "adxl345", "lsm6dso"])
@pytest.mark.parametrize("astray_deg", [-170.0, 120.0, 200.0])
def test_after_a_fault_that_led_it_astray_the_angle_is_one_that_the_arm_can_have(
    arms, chip, astray_deg
):
    tried = Tried(arms, chip, 80.0, seed=4)
    rate = tried.facts.rate_hz
    motion = arms.stay(1.0, rate).then(arms.turn_by(90.0, 3.0, rate)).then(arms.stay(2.0, rate))
    samples = tried.box.samples(motion, tried.rng)
    estimator = tried.estimator(Reach(-30.0, 150.0))
    at_zero = [estimator.step(s).arm_deg for s in samples[: round(rate)]][-1]
    pumped = round(4.5 * rate)
    for sample in samples[round(rate) : pumped]:
        estimator.step(sample)
    # Garbled bytes that look like an arm gone elsewhere, for as long as it takes to be believed.
    away = [
        arms.turned(np.array(s.accel_g), tried.box.pivot, np.radians(-astray_deg))
        for s in samples[pumped : pumped + round(rate)]
    ]
    for sample, felt in zip(samples[pumped:], away, strict=False):
        told = estimator.step(sample._replace(accel_g=Vector(*felt)))
        assert Reach(-30.0, 150.0).holds(told.arm_deg)
    estimator.reset()
    after = [estimator.step(s) for s in samples[-round(rate / 2) :]]
    assert after[-1].arm_deg - at_zero == pytest.approx(90.0, abs=0.5)


def test_an_angle_that_no_arm_has_is_told_as_unknown(arms):
    tried = Tried(arms, "adxl355", 80.0, seed=4)
    rate = tried.facts.rate_hz
    motion = arms.stay(1.0, rate).then(arms.turn_by(90.0, 3.0, rate)).then(arms.stay(1.0, rate))
    estimator = tried.estimator(Reach(-30.0, 60.0))
    told = [estimator.step(s) for s in tried.box.samples(motion, tried.rng)]
    assert all(Reach(-30.0, 60.0).holds(each.arm_deg) for each in told)
    assert told[-1].sd_deg >= 90.0
    assert told[round(rate)].sd_deg < 0.2


def test_a_lone_broken_transfer_moves_nothing(arms):
    tried = Tried(arms, "adxl345", 80.0, seed=6)
    samples = tried.box.samples(arms.stay(2.0, 200.0), tried.rng)
    estimator = tried.estimator()
    readings = []
    for i, sample in enumerate(samples):
        x, y, z = sample.accel_g
        broken = sample._replace(accel_g=Vector(-y, x, z))
        readings.append(estimator.step(broken if i % 50 == 49 else sample))
    assert np.ptp([r.arm_deg for r in readings[200:]]) < 0.3


def test_a_saturated_sample_is_passed_over(arms):
    tried = Tried(arms, "lsm6dso", 80.0, seed=6)
    samples = tried.box.samples(arms.stay(2.0, 208.0), tried.rng)
    estimator = tried.estimator()
    for sample in samples[:-1]:
        before = estimator.step(sample)
    blow = samples[-1]._replace(accel_g=Vector(4.0, -4.0, 4.0), saturated=True)
    assert estimator.step(blow).arm_deg == pytest.approx(before.arm_deg, abs=0.05)


def test_a_box_turned_at_once_is_found_again(arms):
    tried = Tried(arms, "adxl355", 80.0, seed=6)
    rate = tried.facts.rate_hz
    motion = arms.stay(2.0, rate)
    samples = tried.box.samples(motion, tried.rng)
    motion.angle += 30.0
    samples += tried.box.samples(motion, tried.rng, t0=2.0)
    estimator = tried.estimator()
    readings = [estimator.step(s) for s in samples]
    assert readings[-1].arm_deg - readings[round(1.6 * rate)].arm_deg == pytest.approx(
        30.0, abs=0.3
    )


def test_drift_with_warmth_since_the_calibration_is_doubted(arms):
    tried = Tried(arms, "lsm6dso", 80.0, seed=6)
    calibration = dataclasses.replace(tried.calibration, temperature_c=20.0)
    motion = arms.stay(1.0, 208.0).then(arms.turn_by(90.0, 3.0, 208.0)).then(arms.stay(1.0, 208.0))
    samples = tried.box.samples(motion, tried.rng)

    def last_sd(temperature_c):
        estimator = ArmAngleEstimator(tried.mount, tried.facts, tried.arm, calibration)
        return [estimator.step(s._replace(temperature_c=temperature_c)) for s in samples][-1].sd_deg

    # 0.1 mg a degree on both axes, zero taken at the start: 15 K make 0.12 deg over a quarter turn.
    assert math.sqrt(last_sd(35.0) ** 2 - last_sd(20.0) ** 2) == pytest.approx(0.1215, abs=0.005)


def encoder_samples(arms, motion, rng, sense=1.0, start=350.0):
    facts = chip_facts(Sensor(chip="as5600"))
    for t, angle in zip(motion.t, motion.angle, strict=True):
        seen = start + sense * angle + rng.normal() * facts.angle_noise_deg
        counts = round(seen / facts.angle_step_deg) % 4096
        yield Sample(float(t), (counts,), angle_deg=counts * facts.angle_step_deg, magnet="good")


@pytest.mark.parametrize("sense", [1, -1])
def test_an_encoder_is_true_in_the_stroke_and_past_its_own_seam(arms, sense):
    rng = np.random.default_rng(1)
    facts = chip_facts(Sensor(chip="as5600"))
    mount = Mount(chip="as5600", address=0x36, identity="", sense=sense, start_deg=350.0)
    known = from_factory(facts)
    estimator = ArmAngleEstimator(mount, facts, Arm(radius_mm=80.0, plane="horizontal"), known)
    press = arms.press(rng, facts.rate_hz, stop=180.0)
    readings = [estimator.step(s) for s in encoder_samples(arms, press.motion, rng, sense)]
    error = np.array([r.arm_deg for r in readings]) - press.motion.angle
    assert rms(error[press.pumping]) < 0.15
    assert rms(error[press.peak]) < 0.12
    assert rms(error[press.rest]) < 0.12


def test_memory_does_not_grow(arms):
    tried = Tried(arms, "lsm6dso", 80.0, seed=6)
    samples = tried.box.samples(
        arms.stay(1.0, 208.0).then(arms.turn_by(9.0, 1.0, 208.0)), tried.rng
    )
    estimator = tried.estimator()

    def held():
        for sample in samples:
            estimator.step(sample)
        estimator.reset()
        return tracemalloc.get_traced_memory()[0]

    tracemalloc.start()
    try:
        held()
        first = held()
        assert max(held() for _ in range(3)) - first < 2048
    finally:
        tracemalloc.stop()


@pytest.mark.parametrize("chip", ["lsm6dso", "adxl355", "adxl345"])
@pytest.mark.parametrize("seed", range(4))
def test_a_release_that_snaps_back_harder_than_any_stroke_makes_no_jump(arms, chip, seed):
    tried = Tried(arms, chip, 80.0, seed=seed)
    rate = tried.facts.rate_hz
    snap = arms.stay(2.0, rate).then(arms.turn_by(20.0, 2.0, rate)).then(arms.stay(1.0, rate))
    snap = snap.then(arms.turn_by(-2.5, 0.12, rate)).then(arms.stay(1.5, rate))
    error, _, _ = tried.read(snap)
    held = (snap.t > 4.5) & (snap.t < 5.0)
    assert np.abs(error[held]).max() < 0.3
    assert np.abs(error[-round(0.5 * rate) :]).max() < 0.3
    if chip == "lsm6dso":
        assert np.abs(error[snap.t > 4.5]).max() < 0.5
