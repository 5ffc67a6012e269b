"""``benchmate check --sensor``: an arm that stands still, on a simulated bus and a quick clock."""

import json
import math
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from benchmate.checks.sensor_report import angle_of
from benchmate.checks.standstill_noise import StandstillRecord, verdict, weigh
from benchmate.checks.standstill_watch import watch_standing
from benchmate.cli import main
from benchmate.errors import Failure
from benchmate.runtime.hardware import Hardware, simulated_hardware
from benchmate.runtime.simulation import learned_sensor
from benchmate.sensing import chip_facts
from benchmate.sensing.mount.alignment import Mount
from benchmate.shop.parts import Arm, Bench, Sensor
from benchmate.sim.clock import QuickClock
from benchmate.store import Store

BENCH = "bench: shed\nsensor: {chip: lsm6dso}\narm: {radius: 80 mm}\n"
BENCH_READ = Bench(bench="shed", sensor=Sensor(chip="lsm6dso"), arm=Arm(radius_mm=80.0))
FACTS = chip_facts(BENCH_READ.sensor)
UPRIGHT = Mount(
    chip="lsm6dso",
    address=0x6A,
    identity="6c",
    normal=(0.0, 0.0, 1.0),
    along=(1.0, 0.0, 0.0),
    across=(0.0, 1.0, 0.0),
)


@pytest.fixture
def check(tmp_path: Path) -> Callable[..., int]:
    (tmp_path / "bench.yaml").write_text(BENCH)
    asked = ["--shop", str(tmp_path), "--store", str(tmp_path / "bends.db"), "check", "--sensor"]
    return lambda *more: main([*asked, *more])


def standing(noise_deg: float, drift_deg_per_min: float) -> StandstillRecord:
    """Give two minutes of white noise on a steady drift, 200 samples a second."""
    times = np.arange(24_000) / 200.0
    white = np.random.default_rng(1).standard_normal(len(times))
    angles = 40.0 + noise_deg * white + drift_deg_per_min * times / 60.0
    return StandstillRecord(
        times_s=tuple(times.tolist()),
        angles_deg=tuple(angles.tolist()),
        transfers=1,
        retries=0,
        failures=0,
    )


def test_white_noise_and_drift_are_told_as_they_were_put_in() -> None:
    told = weigh(standing(0.05, 0.12), UPRIGHT, FACTS, None)
    assert told.rate_hz == pytest.approx(200.0)
    assert told.jitter_ms < 1e-6
    # White noise falls with the root of how many are averaged.
    assert told.noise_deg[0] == pytest.approx(0.05 / math.sqrt(20), rel=0.05)
    assert told.noise_deg[1] == pytest.approx(0.05 / math.sqrt(200), rel=0.15)
    assert told.drift_deg_per_min == pytest.approx(0.12, abs=0.005)


@pytest.mark.parametrize(
    ("noise", "drift", "blamed"), [(0.001, 1.5, "warm up"), (6.0, 0.0, "quieter chip")]
)
def test_the_verdict_names_the_largest_part_and_its_cure(
    noise: float, drift: float, blamed: str
) -> None:
    learned = learned_sensor(BENCH_READ, 1)
    told = weigh(standing(noise, drift), learned.mounts.arm, FACTS, learned.calibration)
    assert not told.holds(0.5)
    assert blamed in verdict(told, 0.5)


def test_a_chip_that_was_never_calibrated_is_told_to_be_turned() -> None:
    told = weigh(standing(0.01, 0.0), UPRIGHT, FACTS, None)
    assert told.doubt_deg > 0.5
    assert "align --turn" in verdict(told, 0.5)


def test_a_drift_past_the_seam_of_the_circle_is_no_jump() -> None:
    times = tuple(n / 200.0 for n in range(4000))
    angles = tuple(math.remainder(179.9 + 0.6 * t / 60.0, 360.0) for t in times)
    record = StandstillRecord(times_s=times, angles_deg=angles, transfers=1, retries=0, failures=0)
    assert weigh(record, UPRIGHT, FACTS, None).drift_deg_per_min == pytest.approx(0.6)


class Heard:
    """A rig that stands still, and what is told of it; something may happen on the way."""

    def __init__(self, happens: Callable[[Hardware], None], at_s: float) -> None:
        self.rig = simulated_hardware(BENCH_READ, QuickClock(), 1)
        self.told: list[str] = []
        self._happens: Callable[[Hardware], None] | None = happens
        self._at_s = at_s

    def show(self, gone_s: float) -> None:
        if self._happens is not None and gone_s > self._at_s:
            self._happens(self.rig)
            self._happens = None

    def tell(self, what: str) -> None:
        self.told.append(what)

    def watch(self, seconds: float = 12.0) -> StandstillRecord:
        learned = learned_sensor(BENCH_READ, 1)
        return watch_standing(self.rig, learned, angle_of(self.rig, learned), seconds, self)


def test_an_arm_that_moves_is_told_and_the_time_begins_anew() -> None:
    heard = Heard(lambda rig: rig.world.swing(), 3.0)  # type: ignore[union-attr]  # a rehearsal
    record = heard.watch()
    assert record.moves > 0
    assert heard.told[0].startswith("the arm moved; leave it still")
    assert np.std(record.angles_deg) < 0.1
    assert record.times_s[-1] - record.times_s[0] >= 12.0


def test_a_fault_on_the_way_is_told_and_counted() -> None:
    def pull(rig: Hardware) -> None:
        assert rig.world is not None
        rig.world.faults.stuck(1.5)

    record = (heard := Heard(pull, 3.0)).watch()
    assert record.faults == tuple(heard.told)
    assert record.failures > 0
    assert "stuck" in record.faults[0]


def test_a_chip_that_stays_away_ends_it_with_its_fault() -> None:
    heard = Heard(lambda rig: rig.world.faults.unplug(), 3.0)  # type: ignore[union-attr]
    with pytest.raises(Failure, match="check the sensor's cable"):
        heard.watch()


@pytest.fixture
def said(check: Callable[..., int], capsys: pytest.CaptureFixture[str]) -> Any:
    assert check("--simulate", "--seconds", "12", "--json") == 0
    return json.loads(capsys.readouterr().out)


def test_json_tells_what_a_script_can_judge_by(said: dict[str, Any]) -> None:
    assert said["samples"] > 12 * 190
    assert said["rate_hz"] == pytest.approx(208.0, rel=0.05)
    assert (said["moves"], said["faults"], said["failures"]) == (0, [], 0)
    assert said["transfers"] > said["samples"]
    assert said["noise_deg"]["1"] < 0.01 < said["allan"][0][1]
    assert said["noise_deg"]["10"] is None
    assert (said["calibrated"], said["holds"]) == (True, True)


def test_a_person_reads_figures_a_plot_and_a_verdict(
    check: Callable[..., int], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    picture = tmp_path / "still.svg"
    assert check("--simulate", "--seconds", "12", "--seed", "2", "-o", str(picture)) == 0
    out, err = capsys.readouterr()
    assert "arm angle about its mean [deg]" in out
    assert "this sensor holds +-0.5 deg" in out
    assert max(map(len, out.splitlines())) <= 80
    assert err == ""
    assert "noise left [deg]" in picture.read_text()


def test_an_unaligned_sensor_is_sent_to_align(
    check: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    assert check() == 1
    assert "run 'benchmate align' once" in capsys.readouterr().err


def test_a_live_bend_keeps_its_sensor(
    check: Callable[..., int], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with Store.open(tmp_path / "bends.db"):
        assert check() == 1
    assert "uses the sensor; end it first" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        (["--sensor", "--seconds", "1"], "give 10 to 3600"),
        (["--sensor", "-o", "still.gif"], "ends in .svg"),
        (["--sensor", "--seed", "3"], "--seed is for --simulate"),
        (["--seconds", "60"], "are for 'check --sensor'"),
        (["--sensor", "--job", "no-such"], "no-such"),
    ],
)
def test_what_is_asked_wrongly_is_a_sentence_and_exit_2(
    more: list[str], sentence: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "bench.yaml").write_text(BENCH)
    assert main(["--shop", str(tmp_path), "check", *more]) == 2
    assert sentence in capsys.readouterr().err
