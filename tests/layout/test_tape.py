"""Marks read from either end and rounded to a tape's division."""

import numpy as np
import pytest

from benchmate.errors import Refusal
from benchmate.layout.plan import Plan, SpringbackModel, plan_job
from benchmate.layout.tape import tape_marks
from benchmate.shop.parts import Die, Job, JobBend, Tube

JOB = Job(
    job="rail",
    tube="rail-30",
    die="heron-100",
    tolerance_deg=0.5,
    bends=(
        JobBend(straight_mm=300.3, angle_deg=90),
        JobBend(straight_mm=220.1, turn_deg=90, angle_deg=45),
    ),
    tail_mm=300,
)


@pytest.fixture
def plan(die: Die, tube: Tube, model: SpringbackModel) -> Plan:
    return plan_job(JOB, die, tube, model)


def test_marks_as_they_are_cost_nothing(plan: Plan) -> None:
    tape = tape_marks(plan)
    assert tape.marks_mm == pytest.approx([bend.mark_mm for bend in plan.bends])
    costs = (tape.off_mm, tape.first_end_off_mm, tape.last_end_off_mm)
    assert costs == pytest.approx((0, 0, 0), abs=1e-9)
    assert tape.cut_length_mm == pytest.approx(plan.cut_length_mm)


def test_from_the_last_end_they_are_what_is_left_of_the_tube(plan: Plan) -> None:
    tape = tape_marks(plan, from_last_end=True)
    assert tape.marks_mm == pytest.approx(
        [plan.cut_length_mm - bend.mark_mm for bend in plan.bends]
    )


def test_from_the_last_mark_they_add_up(plan: Plan) -> None:
    tape = tape_marks(plan)
    assert np.cumsum(tape.between_mm) == pytest.approx(tape.marks_mm)


@pytest.mark.parametrize("from_last_end", [False, True])
def test_rounding_costs_what_the_moved_marks_move_the_end_by(
    plan: Plan, from_last_end: bool
) -> None:
    tape = tape_marks(plan, 5.0, from_last_end=from_last_end)
    assert all(mark % 5 == pytest.approx(0, abs=1e-9) for mark in tape.marks_mm)
    assert 0.1 < tape.off_mm < 10


def test_rounding_mark_and_cut_moves_each_end_by_what_its_leg_gains_or_loses(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    job = Job(
        job="knee",
        tube="rail-30",
        die="heron-100",
        tolerance_deg=0.5,
        bends=(JobBend(straight_mm=302, angle_deg=90),),
        tail_mm=300,
    )
    plan = plan_job(job, die, tube, model)
    tape = tape_marks(plan, 4.0)
    assert tape.marks_mm == (288,)
    assert tape.cut_length_mm % 4 == 0
    tail = tape.cut_length_mm - plan.cut_length_mm + 2
    assert tape.first_end_off_mm == pytest.approx(2)
    assert tape.last_end_off_mm == pytest.approx(abs(tail))
    assert tape.off_mm == pytest.approx(np.hypot(2, tail))


def test_from_the_last_end_a_rounded_cut_takes_the_marks_along(plan: Plan) -> None:
    tape = tape_marks(plan, 5.0, from_last_end=True)
    starts = tape.cut_length_mm - np.array(tape.marks_mm)
    shift = starts - [bend.mark_mm for bend in plan.bends]
    assert tape.first_end_off_mm == pytest.approx(abs(shift[0]))


def test_a_division_below_nought_is_refused(plan: Plan) -> None:
    with pytest.raises(Refusal, match="give one above 0"):
        tape_marks(plan, -1)
