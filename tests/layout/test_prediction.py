"""The scatter foretold of a plan, and whether its tolerance is in reach."""

import msgspec
import pytest

from benchmate.layout.plan import plan_job
from benchmate.layout.prediction import predict_ends
from benchmate.shop.parts import Arm, Bench, Die, Job, JobBend, Sensor, Tube
from benchmate.springback import Springback

JOB = Job(
    job="rail",
    tube="rail-30",
    die="heron-100",
    tolerance_deg=0.5,
    bends=(
        JobBend(straight_mm=300, angle_deg=90),
        JobBend(straight_mm=220, turn_deg=90, angle_deg=45),
    ),
    tail_mm=300,
)
BENCH = Bench(bench="here", sensor=Sensor(chip="lsm6dso"), arm=Arm(radius_mm=80))


@pytest.fixture
def model(die: Die, tube: Tube) -> Springback:
    return Springback(BENCH, die, tube)


def test_finished_bends_scatter_within_their_tolerance(
    die: Die, tube: Tube, model: Springback
) -> None:
    ends = predict_ends(plan_job(JOB, die, tube, model), model)
    assert ends.reachable
    assert max(ends.spread.angle_deg) <= 0.5 / 3**0.5
    assert ends.scatter.off_95_mm > 1


def test_a_tolerance_tighter_than_protractor_and_hand_is_said_to_be_out_of_reach(
    die: Die, tube: Tube, model: Springback
) -> None:
    tight = msgspec.structs.replace(JOB, tolerance_deg=0.1)
    ends = predict_ends(plan_job(tight, die, tube, model), model)
    assert not ends.reachable
    assert ends.least_tolerance_deg > 0.2
    assert any("isn't to be reached on this setup" in line for line in ends.told())


def test_it_is_told_in_the_readers_unit(die: Die, tube: Tube, model: Springback) -> None:
    told = " ".join(predict_ends(plan_job(JOB, die, tube, model), model).told("frac"))
    assert " in of its place" in told
    assert "mm" not in told
    assert "matters most" in told
