"""A plan carried on from as-bent values: the plan to go on with, and the words for it."""

import re

import msgspec
import pytest

from benchmate.layout.as_bent import AsBent
from benchmate.layout.centreline import points
from benchmate.layout.plan import SpringbackModel, plan_job
from benchmate.layout.plan_update import since_last_tube, update_plan
from benchmate.shop.parts import Die, Job, JobBend, Tube

JOB = Job(
    job="rail",
    tube="rail-30",
    die="heron-100",
    tolerance_deg=0.5,
    bends=(
        JobBend(straight_mm=300, angle_deg=90),
        JobBend(straight_mm=220, turn_deg=90, angle_deg=45),
        JobBend(straight_mm=260, turn_deg=-60, angle_deg=70),
    ),
    tail_mm=300,
)


def test_new_marks_turns_and_stop_angles_stand_in_a_plan_like_the_first(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    first = plan_job(JOB, die, tube, model)
    on = update_plan(first, [AsBent(angle_deg=88.7)], (die, tube, model))
    assert on.plan.bends[0].bend_angle_deg == 88.7
    second = on.plan.bends[1]
    assert second.bend_angle_deg != first.bends[1].bend_angle_deg
    assert second.stop_angle_deg == pytest.approx(1 + 1.02 * second.bend_angle_deg)
    assert second.mark_mm == pytest.approx(second.start_mm - 12)
    assert on.plan.centreline.angles_deg[0] == 88.7


def test_what_changed_and_why_is_said(die: Die, tube: Tube, model: SpringbackModel) -> None:
    first = plan_job(JOB, die, tube, model)
    on = update_plan(first, [AsBent(angle_deg=85.0)], (die, tube, model))
    assert on.told[0].startswith("as bent, the end would be")
    assert not any("not to be recovered" in line for line in on.told)
    for was, now in zip(first.bends[1:], on.plan.bends[1:], strict=True):
        moved = round(now.mark_mm) - round(was.mark_mm)
        way = "further from" if moved > 0 else "nearer to"
        line = next(line for line in on.told if line.startswith(f"bend {now.bend}: "))
        assert (
            f"mark {now.mark_mm:.0f} mm, was {was.mark_mm:.0f} mm:"
            f" {abs(moved)} mm {way} the first end" in line
        )
        assert f"bend angle {now.bend_angle_deg:.1f} deg, was {was.bend_angle_deg:.1f}" in line
        assert "becomes" not in line


def test_that_re_planning_does_not_pay_is_said_and_the_first_plan_kept(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    job = msgspec.structs.replace(
        JOB, bends=tuple(msgspec.structs.replace(bend, turn_deg=60.0) for bend in JOB.bends)
    )
    first = plan_job(job, die, tube, model)
    on = update_plan(first, [AsBent(angle_deg=90.4)], (die, tube, model))
    assert [bend.mark_mm for bend in on.plan.bends] == [bend.mark_mm for bend in first.bends]
    assert [bend.turn_deg for bend in on.plan.bends] == [bend.turn_deg for bend in first.bends]
    assert on.told[0].endswith("may move it by more: the first plan is kept")


def test_a_changed_turn_says_which_way_both_turns_go(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    first = plan_job(JOB, die, tube, model)
    done = [AsBent(), AsBent(turn_deg=first.bends[1].turn_deg + 8.0)]
    told = " ".join(update_plan(first, done, (die, tube, model)).told)
    assert re.search(r"turn [\d.]+ (anti)?clockwise, was [\d.]+ (anti)?clockwise", told)


def test_what_cannot_be_recovered_is_said(die: Die, tube: Tube, model: SpringbackModel) -> None:
    first = plan_job(JOB, die, tube, model)
    done = [AsBent(), AsBent(), AsBent(angle_deg=73)]
    told = update_plan(first, done, (die, tube, model)).told
    assert told[-1].startswith("not to be recovered by the bends to come: the end stays")


def test_a_part_bent_as_planned_needs_no_word(die: Die, tube: Tube, model: SpringbackModel) -> None:
    first = plan_job(JOB, die, tube, model)
    on = update_plan(first, [AsBent(angle_deg=90.0), AsBent(angle_deg=45.0)], (die, tube, model))
    assert on.told == ()
    assert on.plan.bends == first.bends


def test_points_that_the_job_names_to_fit_come_first(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    first = plan_job(msgspec.structs.replace(JOB, fit=(4,)), die, tube, model)
    on = update_plan(first, [AsBent(angle_deg=88.7)], (die, tube, model))
    wanted, got = points(first.centreline)[3], points(on.plan.centreline)[3]
    assert got == pytest.approx(wanted, abs=0.2)
    assert on.replanned.deviation.off_mm < 0.2


def test_words_are_in_the_readers_unit(die: Die, tube: Tube, model: SpringbackModel) -> None:
    first = plan_job(JOB, die, tube, model)
    told = update_plan(first, [AsBent(angle_deg=88.7)], (die, tube, model), unit="frac").told
    assert " in off" in told[0]
    assert "mm" not in " ".join(told)


def test_what_a_tape_in_fractions_cannot_show_is_not_told(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    first = plan_job(JOB, die, tube, model)
    for off in (0.1, 0.2, 0.3, 0.5):
        told = update_plan(
            first, [AsBent(angle_deg=90.0 + off)], (die, tube, model), unit="frac"
        ).told
        for sentence in told:
            assert not re.search(r"mark (\S+ in), was \1(:|$)", sentence)
            assert "cut 0 in" not in sentence


def test_angles_that_may_not_go_far_stay_near_the_drawing_and_marks_and_turns_do_the_rest(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    first = plan_job(JOB, die, tube, model)
    done = [AsBent(angle_deg=88.7)]
    free = update_plan(first, done, (die, tube, model))
    held = update_plan(first, done, (die, tube, model), angles_within_deg=0.25)
    moved = [
        abs(now.bend_angle_deg - was.bend_angle_deg)
        for was, now in zip(first.bends[1:], held.plan.bends[1:], strict=True)
    ]
    assert max(moved) <= 0.25 + 1e-9
    assert any(
        abs(now.bend_angle_deg - was.bend_angle_deg) > 0.25
        for was, now in zip(first.bends[1:], free.plan.bends[1:], strict=True)
    )
    kept, bounded = held.replanned.deviation_if_kept.off_mm, held.replanned.deviation.off_mm
    assert free.replanned.deviation.off_mm < bounded < kept


def test_what_held_angles_leave_at_the_end_is_said(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    first = plan_job(JOB, die, tube, model)
    told = update_plan(
        first, [AsBent(angle_deg=86.0)], (die, tube, model), angles_within_deg=0.25
    ).told
    assert told[-1].startswith("not to be recovered by the bends to come: the end stays")


def test_what_is_marked_otherwise_than_on_the_last_tube_is_said_with_both_values(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    plan = plan_job(JOB, die, tube, model)
    same = {
        "cut_length_mm": plan.cut_length_mm,
        "bends": [
            {"bend_angle": each.bend_angle_deg, "mark_mm": each.mark_mm, "turn_deg": each.turn_deg}
            for each in plan.bends
        ],
    }
    assert since_last_tube(same, plan, "mm") == ()
    assert since_last_tube({}, plan, "mm") == ()
    second = plan.bends[1].mark_mm
    moved = msgspec.to_builtins(same)
    moved["bends"][1]["mark_mm"] = second - 5.0
    moved["cut_length_mm"] += 3.0
    cut, bend = since_last_tube(moved, plan, "mm")
    assert cut == f"cut {plan.cut_length_mm:.0f} mm, was {plan.cut_length_mm + 3.0:.0f} mm"
    assert bend == (
        f"bend 2: mark {second:.0f} mm, was {second - 5.0:.0f} mm: 5 mm further from the first end"
    )
    other = msgspec.to_builtins(same)
    other["bends"][0]["bend_angle"] = 30.0
    assert since_last_tube(other, plan, "mm") == ()
