"""``align --turn --against``: an encoder's table from an accelerometer beside it, by the bus."""

import argparse
import io
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from msgspec.structs import replace

from benchmate import stream
from benchmate.bench.aligning import AlignSession
from benchmate.bench.inputs import Asked
from benchmate.cli import main
from benchmate.errors import Failure, Refusal
from benchmate.runtime.align_process import align_plain
from benchmate.runtime.hardware import sensor_key
from benchmate.runtime.options import ChipOption, chip_option
from benchmate.runtime.second_sensor import (
    bench_of,
    check_against,
    paired_hardware,
    stored_calibration,
)
from benchmate.runtime.simulation import learned_chip
from benchmate.runtime.stored_alignment import as_finding
from benchmate.sensing.calibration.encoder_reference import EncoderReferenceCalibration
from benchmate.sensing.calibration.harmonics import correction_deg
from benchmate.shop.parts import Arm, Bench, Sensor
from benchmate.sim.clock import QuickClock
from benchmate.sim.upright import UprightBench
from benchmate.store import Store

BENCH = Bench(
    bench="flat-shed",
    sensor=Sensor(chip="as5600"),
    arm=Arm(radius_mm=150.0, plane="horizontal"),
)
LSM = ChipOption("lsm6dso", 0x6B)


class Pair:
    """An encoder and a chip beside it on a simulated bender, taken round by what is said."""

    def __init__(self, named: ChipOption, seed: int = 1) -> None:
        self.rig = paired_hardware(BENCH, named, QuickClock(), seed)
        world = self.rig.world
        assert isinstance(world, UprightBench)
        self.world = world
        known = learned_chip(bench_of(BENCH, named), seed)
        beside = self.rig.beside
        self.session = AlignSession(
            lambda: EncoderReferenceCalibration(BENCH.sensor, beside, known)
        )
        self.events: list[stream.Event] = []
        self._turns: Iterator[Any] = self.rig.sampler().turns()

    def run(self, seconds: float) -> None:
        until = self.rig.clock.now() + seconds
        for told in self._turns:
            if told is not None:
                self.events += self.session.step(told)
            if self.rig.clock.now() > until:
                return

    def say(self, word: str, *numbers: float) -> None:
        command = stream.Command(word, numbers)
        self.events += self.session.step(Asked(self.rig.clock.now(), command))

    def go_round(self) -> stream.Event:
        self.run(1.0)
        self.say("begin")
        self.world.turn_box()
        while not self.world.standing:
            self.run(1.0)
        self.run(1.5)
        self.say("end")
        return self.events[-1]

    def left_deg(self) -> "np.ndarray[Any, np.dtype[np.float64]]":
        """Give what the table leaves of the encoder's error at many angles, by the truth."""
        assert self.session.learned is not None
        harmonics = self.session.learned.harmonics_deg
        self.world.turn_box(stops=24)
        off = []
        while not self.world.standing:
            sample = self.rig.chip.read()
            felt = self.world.felt
            shown = sample.angle_deg if sample is not None else None
            assert shown is not None
            off.append(shown + correction_deg(shown, harmonics) - felt.shaft_deg)
            self.rig.clock.sleep(0.05)
        return np.degrees(np.unwrap(np.radians(off)))


@pytest.mark.parametrize(
    "named", [LSM, ChipOption("adxl345", None), ChipOption("adxl355", None)], ids=str
)
def test_the_table_is_true_by_the_simulated_magnet(named: ChipOption) -> None:
    pair = Pair(named)
    aligned = pair.go_round()
    assert isinstance(aligned, stream.Aligned), aligned
    assert aligned.leverage > 0.97
    assert aligned.sd is not None
    assert aligned.sd < 0.1
    # What is left is the encoder's noise and counts, and the lag of a read while it turns.
    assert np.std(pair.left_deg()) < 0.12


def test_stops_are_counted_and_their_reach_told_while_it_goes_round() -> None:
    pair = Pair(LSM)
    pair.go_round()
    told = [e for e in pair.events if isinstance(e, stream.Reading) and e.stops is not None]
    # The last of twelve turns comes back to where the first began.
    assert max(e.stops or 0 for e in told) == 13
    assert max(e.coverage or 0.0 for e in told) == pytest.approx(330.0, abs=3.0)


def test_a_protractors_angle_is_refused_and_changes_nothing() -> None:
    pair = Pair(LSM)
    pair.run(1.0)
    pair.say("begin")
    pair.say("measured", 10.0)
    fault = pair.events[-1]
    assert isinstance(fault, stream.Fault)
    assert fault.what == "command"
    assert "the lsm6dso gives the angles" in fault.detail


def test_a_pulled_plug_of_either_chip_is_told_by_where_it_is_and_spoils_the_turn() -> None:
    pair = Pair(LSM)
    pair.run(1.0)
    pair.say("begin")
    pair.run(1.0)
    pair.world.beside_faults.unplug()
    pair.run(0.6)
    faults = [e for e in pair.events if isinstance(e, stream.Fault)]
    assert [fault.what for fault in faults] == ["bus", "alignment"]
    assert faults[0].detail.startswith("beside the encoder: 0x6b on I2C bus 1: no answer")
    assert "say 'begin' and do it once more" in faults[1].detail
    pair.world.beside_faults.plug_in()
    pair.run(2.5)
    assert isinstance(pair.go_round(), stream.Aligned)


def test_an_uncalibrated_accelerometer_is_refused_with_what_to_run(tmp_path: Path) -> None:
    with pytest.raises(Failure, match=r"'benchmate align --turn --chip lsm6dso@0x6b'"):
        align_plain(
            BENCH, tmp_path / "bends.db", io.StringIO(), io.StringIO(), turn=True, against=LSM
        )


def test_what_chip_has_calibrated_is_found_by_against(tmp_path: Path) -> None:
    known = learned_chip(bench_of(BENCH, LSM), 1)
    store = tmp_path / "bends.db"
    with Store.open(store) as kept:
        key = sensor_key(bench_of(BENCH, LSM))
        kept.keep("calibration", key, as_finding(known, None)).result()
    found = stored_calibration(BENCH, LSM, store)
    assert found.covariance == known.covariance


def test_pairs_that_make_no_sense_are_refused_in_words() -> None:
    with pytest.raises(Refusal, match="an as5600 can't tell which way is down"):
        check_against(BENCH, ChipOption("as5600", 0x40))
    with pytest.raises(Refusal, match="lsm6dso finds its own errors"):
        check_against(replace(BENCH, sensor=Sensor(chip="lsm6dso")), LSM)


def test_a_chip_is_named_as_bench_yaml_does_with_an_address_where_it_needs_one() -> None:
    assert chip_option("lsm6dso") == ChipOption("lsm6dso", None)
    assert chip_option("LSM6DSO@0x6b") == LSM
    assert str(LSM) == "lsm6dso@0x6b"


@pytest.mark.parametrize("wrong", ["", "mpu6050", "lsm6dso@", "lsm6dso@0x80", "lsm6dso@six"])
def test_another_name_is_refused_with_one_that_would_be_right(wrong: str) -> None:
    with pytest.raises(argparse.ArgumentTypeError, match=r"as in (adxl355|lsm6dso@0x6b)"):
        chip_option(wrong)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--against", "lsm6dso"], "go with --turn"),
        (["--chip", "lsm6dso"], "go with --turn"),
        (["--turn", "--against", "adxl355", "--chip", "adxl355"], "calibrate the chip first"),
        (["--turn", "--against", "adxl355", "--plain"], "--against is for an encoder"),
    ],
)
def test_options_that_do_not_go_together_end_with_2(
    words: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["align", *words]) == 2
    assert says in capsys.readouterr().err
