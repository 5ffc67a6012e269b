"""Every chip bends a tube from its first register to the log: true by the simulated tube itself."""

import dataclasses
from pathlib import Path

import msgspec
import pytest

from benchmate import stream
from benchmate.places import starter_shop
from benchmate.runtime.hardware import simulated_hardware
from benchmate.runtime.simulation import ArmProtractor
from benchmate.runtime.watch_process import WatchRequest, rehearse_quickly
from benchmate.shop import Shop
from benchmate.shop.parts import Arm, Bench, ChipKind, JobBend, Sensor
from benchmate.sim.clock import QuickClock

SHOP = Shop.for_job(starter_shop(), "trellis-knee")
ANGLE_DEG = 30.0
JOB = msgspec.structs.replace(
    SHOP.job("trellis-knee"), bends=(JobBend(straight_mm=300.0, angle_deg=ANGLE_DEG),)
)


def bench(chip: ChipKind) -> Bench:
    """Give the starter shop's bench with another chip; the encoder's arm swings flat."""
    upright, flat = Arm(radius_mm=80.0), Arm(radius_mm=80.0, plane="horizontal")
    arm = flat if chip == "as5600" else upright
    return msgspec.structs.replace(SHOP.bench, sensor=Sensor(chip=chip), arm=arm)


@pytest.mark.parametrize(
    ("chip", "seed"),
    [
        ("lsm6dso", 2),
        ("lsm6dsox", 1),
        ("adxl355", 2),
        ("as5600", 1),
        ("as5600", 2),
        ("adxl345", 3),
    ],
)
def test_the_bend_is_in_tolerance_by_the_tubes_own_truth(
    chip: ChipKind, seed: int, tmp_path: Path
) -> None:
    wish = WatchRequest(
        shop=dataclasses.replace(SHOP, good_bench=bench(chip)),
        store=tmp_path / "bends.db",
        job=JOB,
        simulate=True,
        operator=True,
        quick=True,
        seed=seed,
    )
    said: list[stream.Event] = []
    truth: dict[int, float] = {}
    assert rehearse_quickly(wish, said.append, truth) == 0
    assert isinstance(said[-1], stream.Done)
    assert not [event for event in said if isinstance(event, stream.Fault)]
    assert truth[1] == pytest.approx(ANGLE_DEG, abs=JOB.tolerance_deg)


def test_the_arm_is_read_once_at_each_new_stop() -> None:
    world = simulated_hardware(bench("as5600"), QuickClock(), 1).world
    assert world is not None
    protractor = ArmProtractor(world)

    def stopped(stops: int | None) -> stream.Event:
        return stream.Reading(
            t=1.0, arm=0.0, rate=None, sd=None, to_go=None, phase="zeroing", cue="wait", stops=stops
        )

    read = [protractor.read([stopped(stops)]) for stops in (None, 0, 1, 1, 2, 2)]
    assert [command is not None for command in read] == [False, False, True, False, True, False]
    assert all(command.word == "measured" for command in read if command is not None)


def test_a_protractor_on_the_arm_is_true_to_its_scatter() -> None:
    clock = QuickClock()
    world = simulated_hardware(bench("as5600"), clock, 1).world
    assert world is not None
    world.turn_box(4)
    clock.sleep(1.5 + 1.0 + 0.5)
    read = [world.measure_arm() for _ in range(50)]
    assert sum(read) / len(read) == pytest.approx(90.0, abs=0.1)
    assert 0.08 < max(read) - min(read) < 1.0
