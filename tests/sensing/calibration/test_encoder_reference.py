"""An encoder's table from an accelerometer beside it, on arms made of kinematics alone."""

import math

import numpy as np
import pytest

from benchmate.sensing import chip_facts
from benchmate.sensing.calibration.encoder_reference import EncoderReferenceCalibration
from benchmate.sensing.calibration.error_model import from_factory
from benchmate.sensing.calibration.harmonics import correction_deg
from benchmate.sensing.calibration.multi_position import MultiPositionCalibration
from benchmate.sensing.sample import Sample, SensorFault
from benchmate.shop.parts import Sensor

ENCODER = Sensor(chip="as5600")
FACTS = chip_facts(ENCODER)
HARMONICS = (0.9, -0.4, 0.3, 0.2, 0.05, -0.05)
TRUE_DEG = np.arange(-800.0, 801.0)


def encoder_shows():
    """Give what the encoder shows at each of TRUE_DEG: shown + correction = true."""
    shown = TRUE_DEG.copy()
    for _ in range(50):
        shown = TRUE_DEG - np.array([correction_deg(s, HARMONICS) for s in shown])
    return shown


SHOWN_DEG = encoder_shows()


class Bender:
    """A bender with an encoder on its pivot and an accelerometer's box clamped to its arm."""

    def __init__(self, arms, chip="lsm6dso", *, seed=1, tilt=0.0, sense=1.0, calibrated=True):
        self.arms = arms
        self.rng = np.random.default_rng(seed)
        self.sensor = Sensor(chip=chip)
        facts = chip_facts(self.sensor)
        self.box = arms.any_box(facts, 150.0, self.rng, tilt)
        self.known = self.turned(facts) if calibrated else from_factory(facts)
        self.start = self.rng.uniform(-300.0, 300.0)
        self.sense = sense

    def turned(self, facts):
        """Calibrate the box by hand in an upright plane, as flat as it will go round."""
        up = np.cross(self.box.pivot, self.rng.normal(size=3))
        hand = self.arms.Box(
            facts,
            0.0,
            self.box.pivot,
            up / np.linalg.norm(up),
            self.box.place,
            self.box.gains,
            self.box.offset,
        )
        turn = MultiPositionCalibration(self.sensor)
        for sample in hand.stream(self.arms.full_turn(self.rng, facts.rate_hz), self.rng):
            turn.see(sample)
        return turn.end()

    def samples(self, motion, box_moves=True):
        felt = motion if box_moves else self.arms.stay(len(motion.t) / FACTS.rate_hz, FACTS.rate_hz)
        stream = self.box.stream(felt, self.rng)
        for t, angle, beside in zip(motion.t, motion.angle, stream, strict=False):
            true = self.start + self.sense * angle
            shown = np.interp(true, TRUE_DEG, SHOWN_DEG) + self.rng.normal() * FACTS.angle_noise_deg
            counts = round(shown / FACTS.angle_step_deg) % 4096
            yield Sample(float(t), (counts,), angle_deg=counts * FACTS.angle_step_deg, frame=beside)

    def against(self, arc=360.0, stops=14, **how):
        turn = EncoderReferenceCalibration(ENCODER, self.sensor, self.known, "as5600")
        motion = self.arms.full_turn(self.rng, FACTS.rate_hz, stops=stops, arc=arc)
        for sample in self.samples(motion, **how):
            turn.see(sample)
        return turn


def left_deg(calibration):
    """Give what the table leaves of the encoder's error round the turn."""
    shown = SHOWN_DEG[800:1160]
    corrected = shown + [correction_deg(s, calibration.harmonics_deg) for s in shown]
    return corrected - TRUE_DEG[800:1160]


@pytest.mark.parametrize("chip", ["lsm6dso", "adxl345", "adxl355"])
@pytest.mark.parametrize("sense", [1.0, -1.0])
def test_the_table_is_learned_whichever_way_the_encoder_counts(arms, chip, sense):
    turn = Bender(arms, chip, sense=sense).against()
    assert turn.stops == 14
    assert turn.leverage == pytest.approx(1.0, abs=0.03)
    learned = turn.end("2031-04-02")
    assert (learned.chip, learned.identity, learned.taken) == ("as5600", "as5600", "2031-04-02")
    assert learned.stops == 14
    assert np.std(left_deg(learned)) < 0.05
    assert np.std(SHOWN_DEG - TRUE_DEG) > 0.7


def test_a_working_arc_is_enough_where_the_arm_bends(arms):
    bender = Bender(arms)
    turn = bender.against(arc=140.0)
    learned = turn.end()
    assert turn.sd_deg(learned) < 0.1
    angles = bender.start + np.arange(0.0, 121.0, 5.0)
    shown = np.interp(angles, TRUE_DEG, SHOWN_DEG)
    left = shown + [correction_deg(s, learned.harmonics_deg) for s in shown] - angles
    assert np.ptp(left) < 0.3


@pytest.mark.parametrize("chip", ["lsm6dso", "adxl345"])
def test_the_doubt_left_is_what_is_left(arms, chip):
    off = []
    for seed in range(25):
        bender = Bender(arms, chip, seed=seed, tilt=30.0 * np.sin(seed))
        learned = bender.against(stops=12).end()
        left = np.array(learned.harmonics_deg) - HARMONICS
        off.append(left @ np.linalg.solve(np.array(learned.covariance), left) / 6.0)
    # A chi-squared of 6 x 25 terms: 1 +- 0.12.
    assert 0.6 < np.mean(off) < 1.6


def test_what_no_harmonic_follows_is_seen_and_told_not_refused(arms, monkeypatch):
    bent = SHOWN_DEG + 0.1 * np.sin(np.radians(7.0 * TRUE_DEG))
    monkeypatch.setitem(globals(), "SHOWN_DEG", bent)
    turn = Bender(arms).against(stops=24)
    learned = turn.end()
    assert learned.local_sd_deg == pytest.approx(0.1 / math.sqrt(2.0), rel=0.5)
    assert turn.sd_deg(learned) > 0.07
    assert Bender(arms).known.local_sd_deg == 0.0


def test_what_the_accelerometers_turn_left_stays_in_the_doubt(arms):
    sds = [
        np.sqrt(np.trace(np.array(Bender(arms, calibrated=c).against().end().covariance)))
        for c in (True, False)
    ]
    assert sds[1] > 5.0 * sds[0]


def test_a_leaning_plane_that_leaves_a_large_doubt_is_told_with_the_cure(arms):
    turn = Bender(arms, "adxl345", tilt=45.0).against()
    told = turn.cure(turn.sd_deg(turn.end()))
    assert "stand the bender upright (it leaned 45 deg)" in told
    assert "clamp the box on as it lay in that turn" in told
    assert turn.cure(0.05) == ""


@pytest.mark.parametrize("lean", [80.0, 65.0])
def test_a_plane_that_was_not_stood_upright_is_refused_with_the_cure(arms, lean):
    turn = Bender(arms, tilt=lean, calibrated=False).against()
    with pytest.raises(SensorFault, match="stand the bender's plane upright") as raised:
        turn.end()
    assert raised.value.what == "alignment"
    told = float(raised.value.detail.split("only ")[1].split("%")[0]) / 100.0
    assert told == pytest.approx(math.cos(math.radians(lean)), abs=0.05)


def test_a_box_left_on_the_frame_is_refused(arms):
    with pytest.raises(SensorFault, match=r"only [0-9]% of gravity .* box to the arm"):
        Bender(arms).against(box_moves=False).end()


def test_a_box_that_slips_on_the_arm_is_refused(arms):
    bender = Bender(arms)
    turn = EncoderReferenceCalibration(ENCODER, bender.sensor, bender.known)
    motion = arms.full_turn(bender.rng, FACTS.rate_hz, stops=14)
    slipped = arms.Motion(
        motion.t, motion.angle + 3.0 * (motion.angle > 180.0), motion.rate, motion.acceleration
    )
    rigid, loose = bender.samples(motion), bender.samples(slipped)
    for sample, slid in zip(rigid, loose, strict=True):
        turn.see(sample._replace(frame=slid.frame))
    with pytest.raises(SensorFault, match="didn't turn together"):
        turn.end()


def test_too_few_stops_or_too_short_a_way_are_refused(arms):
    with pytest.raises(SensorFault, match=r"5 still stops over \d+ deg were found"):
        Bender(arms).against(stops=5).end()
    with pytest.raises(SensorFault, match="over 60 deg are needed"):
        Bender(arms).against(arc=55.0, stops=9).end()


def test_a_stop_counts_only_while_both_chips_stand_still(arms):
    bender = Bender(arms)
    turn = EncoderReferenceCalibration(ENCODER, bender.sensor, bender.known)
    rate = FACTS.rate_hz
    shaken = arms.stay(1.0, rate).then(arms.creep(60.0, 60.0, rate))
    still = arms.stay(2.5, rate)
    for sample, beside in zip(
        bender.samples(still), bender.box.stream(shaken, bender.rng), strict=False
    ):
        turn.see(sample._replace(frame=beside))
        if sample.t > 1.9:
            break
    assert turn.stops == 1
    assert turn._finder.stops[0].samples < 1.3 * rate


def test_gravity_takes_the_protractors_place(arms):
    bender = Bender(arms)
    turn = EncoderReferenceCalibration(ENCODER, bender.sensor, bender.known)
    with pytest.raises(SensorFault, match="no protractor is needed"):
        turn.measured(10.0)
    with pytest.raises(ValueError, match="beside it"):
        turn.see(Sample(0.0, (1,), angle_deg=1.0))
