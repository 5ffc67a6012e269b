"""The chip's calibration by one turn of its box, and the encoder's by a protractor."""

import json
import math

import numpy as np
import pytest

from benchmate.sensing import chip_facts
from benchmate.sensing.calibration.error_model import Calibration, from_factory
from benchmate.sensing.calibration.harmonics import correction_deg, harmonic_row
from benchmate.sensing.calibration.multi_position import MultiPositionCalibration, fit_harmonics
from benchmate.sensing.calibration.static_intervals import StaticIntervalDetector
from benchmate.sensing.sample import Sample, SensorFault
from benchmate.shop.parts import Sensor

ENCODER = Sensor(chip="as5600")


def turned(arms, chip, seed, *, tilt=0.0, **turn):
    """Give a box and its turn, samples taken in."""
    sensor = Sensor(chip=chip)
    facts = chip_facts(sensor)
    rng = np.random.default_rng(seed)
    box = arms.any_box(facts, 0.0, rng, tilt)
    taken = MultiPositionCalibration(sensor, "id")
    for sample in box.stream(arms.full_turn(rng, facts.rate_hz, **turn), rng):
        taken.see(sample)
    return box, taken


@pytest.mark.parametrize("chip", ["lsm6dso", "adxl345", "adxl355"])
@pytest.mark.parametrize("tilt", [0.0, 35.0])
def test_a_full_turn_leaves_hundredths_of_a_degree(arms, chip, tilt):
    box, turn = turned(arms, chip, seed=1, tilt=tilt)
    assert turn.stops == 12
    assert turn.coverage_deg > 315.0
    calibration = turn.end("2031-04-02")
    assert (calibration.identity, calibration.taken) == ("id", "2031-04-02")
    # The angle that the corrected chip shows, against the true one, all round.
    angles = np.arange(0.0, 360.0, 10.0)
    up = np.array([arms.turned(box.up, box.pivot, -math.radians(a)) for a in angles])
    shown = np.array([calibration.correct(tuple(v)) for v in up @ box.gains.T + box.offset])
    centre = shown.mean(axis=0)
    normal = np.linalg.svd(shown - centre)[2][2]
    flat = shown - np.outer(shown @ normal, normal)
    along = flat[0] / np.linalg.norm(flat[0])
    seen = np.degrees(np.unwrap(np.arctan2(flat @ np.cross(normal, along), flat @ along)))
    error = np.sign(seen[5]) * seen - angles
    assert np.ptp(error) < {"adxl345": 0.15}.get(chip, 0.06)


def test_the_gyros_gain_and_zero_come_with_it(arms):
    box, turn = turned(arms, "lsm6dso", seed=4)
    calibration = turn.end()
    assert calibration.gyro_gain == pytest.approx(box.gyro_gain, abs=3e-3)
    assert calibration.gyro_bias_dps == pytest.approx(box.gyro_bias, abs=0.01)


@pytest.mark.parametrize(("arc", "cost"), [(90.0, 0.5), (120.0, 0.2), (180.0, 0.05)])
def test_too_short_an_arc_is_refused_with_what_it_would_cost(arms, arc, cost):
    _, turn = turned(arms, "lsm6dso", seed=2, arc=arc)
    with pytest.raises(SensorFault, match="all the way round") as raised:
        turn.end()
    assert raised.value.what == "alignment"
    told = float(raised.value.detail.split("off by ")[1].split()[0])
    assert cost < told < 4.0
    assert f"cover {turn.coverage_deg:.0f} deg" in raised.value.detail


def test_too_few_stops_are_refused(arms):
    _, turn = turned(arms, "lsm6dso", seed=2, stops=5)
    with pytest.raises(SensorFault, match="5 still stops were found, at least 8"):
        turn.end()


def test_stops_that_fit_no_chip_are_refused(arms):
    rng = np.random.default_rng(3)
    sensor = Sensor(chip="adxl355")
    facts = chip_facts(sensor)
    box = arms.any_box(facts, 0.0, rng)
    turn = MultiPositionCalibration(sensor)
    for sample in box.stream(arms.full_turn(rng, facts.rate_hz), rng):
        # A chip that comes loose from its board half-way round.
        loose = sample.t > 12.0
        x, y, z = sample.accel_g
        turn.see(sample._replace(accel_g=type(sample.accel_g)(x + 0.02 * loose, y, z)))
    with pytest.raises(SensorFault, match="fit no one chip"):
        turn.end()


def test_a_stop_is_found_by_itself_counted_once_and_not_while_moving(arms):
    rng = np.random.default_rng(3)
    facts = chip_facts(Sensor(chip="lsm6dso"))
    box = arms.any_box(facts, 0.0, rng)
    finder = StaticIntervalDetector(facts)
    rate = facts.rate_hz
    motion = arms.stay(2.0, rate).then(arms.creep(40.0, 20.0, rate)).then(arms.stay(2.0, rate))
    motion = motion.then(arms.turn_by(3.0, 0.5, rate)).then(arms.stay(2.0, rate))
    found = [sample.t for sample in box.stream(motion, rng) if finder.see(sample)]
    assert len(found) == len(finder.stops) == 2
    assert found[0] < 1.0
    assert 4.0 < found[1] < 5.2
    assert finder.stops[0].samples > 300


def test_a_calibration_comes_back_from_the_store_as_it_went_in(arms):
    calibration = turned(arms, "lsm6dso", seed=4)[1].end("2031-04-02")
    assert Calibration.from_plain(json.loads(json.dumps(calibration.to_plain()))) == calibration
    with pytest.raises(ValueError, match="gains"):
        Calibration.from_plain({**calibration.to_plain(), "gains": "none"})


def test_correcting_undoes_what_the_chip_does():
    calibration = Calibration(
        chip="lsm6dso",
        address=0x6A,
        gains=(0.02, -0.01, 0.03),
        skews=(0.01, -0.005, 0.002),
        offsets_g=(0.02, -0.03, 0.04),
    )
    true = np.array([0.1, -0.7, 0.7])
    gains = np.array([[1.02, 0.01, -0.005], [0.01, 0.99, 0.002], [-0.005, 0.002, 1.03]])
    shown = gains @ true + [0.02, -0.03, 0.04]
    assert calibration.correct(tuple(shown)) == pytest.approx(true, abs=1e-12)


HARMONICS = (0.9, -0.4, 0.3, 0.2, 0.05, -0.05)


def encoder_error(true):
    """What an encoder shows at a true angle: the fixed point of shown + correction = true."""
    shown = true
    for _ in range(50):
        shown = true - correction_deg(shown, HARMONICS)
    return shown


def test_an_encoders_harmonics_are_learned_from_a_protractor(arms):
    rng = np.random.default_rng(1)
    facts = chip_facts(ENCODER)
    turn = MultiPositionCalibration(ENCODER)
    motion = arms.full_turn(rng, facts.rate_hz, stops=16)
    stops = 0
    table = np.array([encoder_error(a) for a in np.arange(-300.0, 101.0)])
    for t, angle in zip(motion.t, motion.angle, strict=True):
        shown = (
            np.interp(100.0 - angle, np.arange(-300.0, 101.0), table)
            + rng.normal() * facts.angle_noise_deg
        )
        counts = round(shown / facts.angle_step_deg) % 4096
        gain = round(64 + 3 * math.cos(math.radians(angle)))
        turn.see(Sample(float(t), (counts,), angle_deg=counts * facts.angle_step_deg, agc=gain))
        if turn.stops > stops:
            stops = turn.stops
            turn.measured(angle + rng.normal() * 0.1)
    calibration = turn.end()
    assert calibration.stops == 16
    assert calibration.agc == (61, 67)
    kept = calibration.to_plain()
    assert Calibration.from_plain(json.loads(json.dumps(kept))) == calibration
    del kept["agc"]
    assert Calibration.from_plain(kept).agc is None
    left = [
        encoder_error(a) + correction_deg(encoder_error(a), calibration.harmonics_deg) - a
        for a in range(0, 360, 5)
    ]
    assert np.std(left) < 0.1
    assert np.std([encoder_error(a) - a for a in range(360)]) > 0.7


@pytest.mark.parametrize("magnet", ["weak", "strong"])
def test_a_magnet_whose_field_the_chip_cannot_make_up_for_is_set_right_first(magnet):
    sample = Sample(0.0, (0,), angle_deg=0.0, magnet=magnet)
    with pytest.raises(SensorFault, match=f"the encoder's magnet is too {magnet}: .*turn anew"):
        MultiPositionCalibration(ENCODER).see(sample)


def test_an_encoders_harmonics_need_measured_stops():
    facts = chip_facts(ENCODER)
    with pytest.raises(SensorFault, match="measured at 3 stops, at least 8"):
        fit_harmonics(np.arange(3.0), np.arange(3.0), 0.12, facts)
    with pytest.raises(SensorFault, match="no still stop"):
        MultiPositionCalibration(ENCODER).measured(10.0)


def test_angles_that_do_not_follow_the_encoder_are_refused():
    shown = np.arange(0.0, 360.0, 30.0)
    rng = np.random.default_rng(1)
    with pytest.raises(SensorFault, match="don't follow"):
        fit_harmonics(shown, shown + rng.normal(size=12) * 20.0, 0.12, chip_facts(ENCODER))


def test_a_few_stops_over_part_of_a_turn_leave_doubt_where_they_were_not():
    facts = chip_facts(ENCODER)
    shown = np.arange(0.0, 100.0, 10.0)
    rows = np.array([harmonic_row(a) for a in shown])
    calibration = fit_harmonics(shown, shown + rows @ HARMONICS, 0.05, facts)
    covariance = np.array(calibration.covariance)

    def doubt(angle):
        bent = np.array(harmonic_row(angle)) - np.array(harmonic_row(0.0))
        return math.sqrt(bent @ covariance @ bent)

    assert doubt(90.0) < 0.1
    assert doubt(230.0) > 0.3


def test_nothing_learned_corrects_nothing():
    assert correction_deg(123.0, ()) == 0.0
    assert from_factory(chip_facts(ENCODER)).harmonics_deg == ()
