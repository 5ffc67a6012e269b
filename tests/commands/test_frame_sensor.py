"""A second sensor on the frame, from bench.yaml to the bend: a bench that rocks is taken out."""

import functools
import io
import itertools
from collections.abc import Iterator
from pathlib import Path

import msgspec
import numpy as np
import pytest

from benchmate import stream
from benchmate.bench.inputs import Back, Lost
from benchmate.bench.sampler import Told
from benchmate.errors import Failure
from benchmate.places import starter_shop
from benchmate.runtime.hardware import sensor_key, simulated_hardware
from benchmate.runtime.simulation import learned_sensor
from benchmate.runtime.stored_alignment import as_finding, stored_sensor
from benchmate.runtime.watch_process import WatchRequest, watch_plain
from benchmate.sensing.sample import Sample
from benchmate.shop import Shop
from benchmate.shop.parts import Arm, Bench, JobBend, Sensor
from benchmate.sim.clock import QuickClock
from benchmate.store import Store

SHOP = Shop.for_job(starter_shop(), "trellis-knee")
JOB = SHOP.job("trellis-knee")
FRAMED = Bench(
    bench="shed",
    sensor=Sensor(chip="lsm6dso", address=0x6A),
    arm=Arm(radius_mm=80.0),
    frame_sensor=Sensor(chip="lsm6dso", address=0x6B),
)
BARE = msgspec.structs.replace(FRAMED, frame_sensor=None)
ROCKS_DEG = 0.3


learned = functools.cache(learned_sensor)


class Rocking:
    """A bench that rocks with its pump, watched with or without a sensor on the frame."""

    def __init__(self, bench: Bench, seed: int = 1) -> None:
        self.learned = learned(bench, seed)
        self.rig = simulated_hardware(bench, QuickClock(), seed, ROCKS_DEG)
        assert self.rig.world is not None
        self.world = self.rig.world
        self.world.load(SHOP.die(JOB.die), SHOP.tube(JOB.tube))
        self.turns: Iterator[Told | None] = self.rig.sampler(self.learned).turns()

    def run(self, seconds: float) -> list[Told]:
        """Give what is told in so many seconds."""
        told = []
        until = self.rig.clock.now() + seconds
        for each in self.turns:
            if each is not None:
                told.append(each)
            if self.rig.clock.now() >= until:
                return told
        return told

    def errors_deg(self) -> "np.ndarray[tuple[int, ...], np.dtype[np.float64]]":
        """Give the live angle's error over ten seconds of pumping, zeroed before."""
        estimator = self.rig.estimator(self.learned)
        still = [estimator.step(s).arm_deg for s in self.run(2.0) if isinstance(s, Sample)]
        zero, true = np.mean(still[-100:]), self.world.arm_deg
        self.world.pump(on=True)
        off = []
        until = self.rig.clock.now() + 10.0
        for told in self.turns:
            if isinstance(told, Sample):
                # Truth is asked for as the sample is told, within a few milliseconds of it.
                seen = estimator.step(told)
                lag = (self.rig.clock.now() - told.t) * seen.rate_dps
                off.append(seen.arm_deg + lag - zero - (self.world.arm_deg - true))
            if self.rig.clock.now() > until:
                break
        return np.array(off)


@pytest.fixture(scope="module")
def bare() -> float:
    return float(np.sqrt(np.mean(Rocking(BARE).errors_deg() ** 2)))


def test_the_rocking_is_taken_out(bare: float) -> None:
    framed = float(np.sqrt(np.mean(Rocking(FRAMED).errors_deg() ** 2)))
    assert bare > 0.1
    assert framed < 0.5 * bare


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_two_chips_that_are_set_up_one_after_the_other_begin_without_a_fault(seed: int) -> None:
    named = msgspec.structs.replace(FRAMED, bench="east-window")
    turns = simulated_hardware(named, clock := QuickClock(), seed).sampler().turns()
    told = [each for each in itertools.takewhile(lambda _: clock.now() < 102.0, turns) if each]
    assert len(told) > 250
    assert all(isinstance(each, Sample) for each in told)


def test_two_chips_lose_no_rate() -> None:
    rocking = Rocking(FRAMED)
    rocking.run(1.0)
    told = rocking.run(2.0)
    assert all(isinstance(each, Sample) for each in told)
    assert len(told) > 2.0 * 190
    ages = [each.t - each.frame.t for each in told if isinstance(each, Sample) and each.frame]
    assert len(ages) == len(told)
    assert max(ages) < 0.012


def test_a_fault_of_the_frames_chip_is_a_fault_and_heals() -> None:
    rocking = Rocking(FRAMED)
    rocking.run(1.0)
    faults = rocking.world.frame_faults
    assert faults is not None
    pulled = rocking.rig.clock.now()
    faults.unplug()
    told = rocking.run(1.0)
    (lost,) = [each for each in told if isinstance(each, Lost)]
    assert (lost.what, lost.t - pulled < 0.5) == ("bus", True)
    assert lost.detail.startswith("on the frame: 0x6b on I2C bus 1: no answer")
    assert not any(isinstance(each, Sample) and each.t > lost.t for each in told)
    faults.plug_in()
    told = rocking.run(2.5)
    assert sum(isinstance(each, Back) for each in told) == 1
    assert isinstance(told[-1], Sample)


def test_while_one_of_two_faults_stands_nothing_is_cleared() -> None:
    rocking = Rocking(FRAMED)
    rocking.run(1.0)
    assert rocking.world.frame_faults is not None
    rocking.world.frame_faults.unplug()
    rocking.run(0.5)
    rocking.world.faults.brown_out()
    assert not any(isinstance(each, Back | Sample) for each in rocking.run(2.0))


def test_a_frozen_chip_on_the_frame_is_told() -> None:
    rocking = Rocking(FRAMED)
    rocking.run(1.0)
    faults = rocking.world.frame_faults
    assert faults is not None
    faults.freeze()
    lost = next(each for each in rocking.run(1.0) if isinstance(each, Lost))
    assert "0x6b repeats one reading" in lost.detail


def test_align_keeps_both_mounts_and_watch_finds_them(tmp_path: Path) -> None:
    known = learned(FRAMED, 1)
    assert known.mounts.frame is not None
    assert known.mounts.frame.address == 0x6B
    store = tmp_path / "bends.db"
    with Store.open(store) as kept:
        finding = as_finding(known.mounts, known.calibration)
        kept.keep("mount", sensor_key(FRAMED), finding).result()
    assert stored_sensor(FRAMED, store) == known
    assert stored_sensor(BARE, store).mounts.frame is None


def test_a_frames_sensor_that_came_later_asks_for_an_alignment(tmp_path: Path) -> None:
    known = learned(BARE, 1)
    store = tmp_path / "bends.db"
    with Store.open(store) as kept:
        kept.keep("mount", sensor_key(BARE), as_finding(known.mounts, None)).result()
    with pytest.raises(Failure, match="sensor on the frame is new"):
        stored_sensor(FRAMED, store)


def test_a_bench_that_rocks_is_rehearsed_to_the_end(tmp_path: Path) -> None:
    shop = Shop(
        path=SHOP.path,
        dies=SHOP.dies,
        tubes=SHOP.tubes,
        jobs=SHOP.jobs,
        materials=SHOP.materials,
        good_bench=FRAMED,
    )
    job = msgspec.structs.replace(JOB, bends=(JobBend(straight_mm=300.0, angle_deg=20.0),))
    out = io.StringIO()
    wish = WatchRequest(
        shop=shop, store=tmp_path / "bends.db", job=job, simulate=True, operator=True, quick=True
    )
    assert watch_plain(wish, io.StringIO(), out) == 0
    events = [stream.read_event(line) for line in out.getvalue().splitlines()]
    assert isinstance(events[-1], stream.Done)
    assert not [event for event in events if isinstance(event, stream.Fault)]
