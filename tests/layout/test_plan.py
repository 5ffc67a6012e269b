"""A job laid out on the tube: marks, cut length, stop angles, what it rests on, warnings."""

import math
from dataclasses import dataclass
from typing import Any

import msgspec
import numpy as np
import pytest

from benchmate.errors import Refusal
from benchmate.layout.centreline import points
from benchmate.layout.parameters import TrialFound, UncertainValue
from benchmate.layout.plan import SpringbackModel, plan_job
from benchmate.shop.keep_out import Box, KeepOut
from benchmate.shop.parts import Die, Job, JobBend, Tube
from benchmate.shop.shapes import Hoop
from benchmate.springback.bend import Aim

ARC_90 = 102 * math.pi / 2

TWO_BENDS = Job(
    job="towel-rail",
    tube="rail-30",
    die="heron-100",
    tolerance_deg=0.5,
    bends=(
        JobBend(straight_mm=300, angle_deg=90),
        JobBend(straight_mm=220, turn_deg=90, angle_deg=45),
    ),
    tail_mm=150,
)


@dataclass(frozen=True)
class NoSpringback:
    """Leaves the tube as the die had it."""

    radius_mm: float

    def free_radius_mm(self) -> tuple[float, float]:
        return self.radius_mm, 0.0

    def aim(
        self,
        bend_angle: float,
        tolerance: float,
        hits: tuple[tuple[float, float | None, float | None], ...] = (),
    ) -> Aim:
        return Aim(
            verdict="again",
            stop_angle=bend_angle,
            sd=0.1,
            bend_angle=0.0,
            stop_sd=0.1,
            over_angle=bend_angle + tolerance,
        )


def job_with(**changes: object) -> Job:
    return msgspec.structs.replace(TWO_BENDS, **changes)


def test_marks_are_starts_of_bend_less_the_start_offset(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    plan = plan_job(TWO_BENDS, die, tube, model)
    assert [bend.start_mm for bend in plan.bends] == pytest.approx([300, 520 + ARC_90])
    assert [bend.mark_mm for bend in plan.bends] == pytest.approx([288, 508 + ARC_90])


def test_cut_length_is_straights_and_arcs_of_the_radius_after_springback(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    plan = plan_job(TWO_BENDS, die, tube, model)
    assert plan.cut_length_mm == pytest.approx(300 + 220 + 150 + 1.5 * ARC_90)
    assert {bend.free_radius_mm for bend in plan.bends} == {102.0}


def test_turn_angle_and_stop_angle_stand_with_each_bend(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    second = plan_job(TWO_BENDS, die, tube, model).bends[1]
    assert (second.bend, second.turn_deg, second.bend_angle_deg) == (2, 90, 45)
    assert (second.stop_angle_deg, second.sd_deg) == pytest.approx((46.9, 0.45))


def test_planning_without_springback_would_misplace_the_second_mark_by_b_r_theta(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    """2 % of springback on a radius of 100 mm is 3.1 mm of tube in a single 90 degree bend."""
    sprung = plan_job(TWO_BENDS, die, tube, model).bends[1].mark_mm
    unsprung = plan_job(TWO_BENDS, die, tube, NoSpringback(100.0)).bends[1].mark_mm
    assert sprung - unsprung == pytest.approx(0.02 * 100 * math.pi / 2)
    assert sprung - unsprung > 3


def test_a_points_job_is_solved_with_the_radius_after_springback(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    corners = ((0.0, 0.0, 0.0), (400.0, 0.0, 0.0), (400.0, 350.0, 0.0))
    plan = plan_job(job_with(bends=(), tail_mm=None, points_mm=corners), die, tube, model)
    assert plan.bends[0].straight_mm == pytest.approx(400 - 102)
    assert plan.tail_mm == pytest.approx(350 - 102)
    assert points(plan.centreline) == pytest.approx(np.array(corners), abs=1e-9)


def test_a_job_from_the_drawing_says_so(die: Die, tube: Tube, model: SpringbackModel) -> None:
    plan = plan_job(TWO_BENDS, die, tube, model)
    assert plan.rests_on == ("drawing",)
    assert "start offset 12.0 mm: drawing" in plan.parameters.told()


def test_a_trial_piece_takes_the_place_of_the_drawing(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    found = TrialFound(
        die="heron-100",
        tube="rail-30",
        start_offset_mm=UncertainValue(15, 0.5),
        free_radius_mm=UncertainValue(104, 0.4),
        die_radius_mm=104 / 1.02,
        stretch=UncertainValue(0.01, 0.002),
    )
    plan = plan_job(TWO_BENDS, die, tube, model, found=found)
    arc = 104 * math.pi / 2 * 0.99
    assert plan.rests_on == ("trial piece",)
    assert plan.bends[1].mark_mm == pytest.approx(300 + arc + 220 - 15)
    assert plan.cut_length_mm == pytest.approx(670 + 1.5 * arc)


def test_a_trial_piece_of_another_tube_still_gives_the_dies_own_radius(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    found = TrialFound(
        die="heron-100",
        tube="some-other-30",
        free_radius_mm=UncertainValue(106, 0.5),
        die_radius_mm=103,
    )
    plan = plan_job(TWO_BENDS, die, tube, model, found=found)
    assert plan.centreline.radius_mm == pytest.approx(103 * 1.02)
    assert plan.rests_on == ("drawing", "trial piece")


def test_an_unknown_start_offset_puts_marks_at_the_start_of_bend_and_says_so(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    plan = plan_job(TWO_BENDS, msgspec.structs.replace(die, start_offset_mm=None), tube, model)
    assert plan.bends[0].mark_mm == plan.bends[0].start_mm == 300
    assert any("start offset is unknown" in warning for warning in plan.warnings)


@pytest.mark.parametrize(
    ("straights", "words"),
    [
        ((20,), "before bend 1 is 20.0 mm, little to hold"),
        ((300, 10), "between bends 1 and 2 is 10.0 mm: die and clamp want 45.0 mm"),
        ((5,), "the mark of bend 1 falls 7.0 mm off the end"),
    ],
)
def test_doubtful_straights_are_said(
    straights: tuple[float, ...], words: str, die: Die, tube: Tube, model: SpringbackModel
) -> None:
    bends = tuple(JobBend(straight_mm=straight, angle_deg=90) for straight in straights)
    plan = plan_job(job_with(bends=bends), die, tube, model)
    assert any(words in warning for warning in plan.warnings)


def test_arcs_that_overlap_are_said_with_what_is_missing(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    corners = ((0.0, 0.0, 0.0), (300.0, 0.0, 0.0), (300.0, 150.0, 0.0), (0.0, 150.0, 0.0))
    plan = plan_job(job_with(bends=(), tail_mm=None, points_mm=corners), die, tube, model)
    assert any(
        "between bends 1 and 2 would be -54.0 mm" in warning and "54.0 mm more" in warning
        for warning in plan.warnings
    )


def test_what_the_dies_file_says_it_needs_goes_before_the_rule_of_thumb(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    wants = msgspec.structs.replace(die, grip_mm=320, between_mm=230, tail_mm=160)
    said = plan_job(TWO_BENDS, wants, tube, model).warnings
    assert any("before bend 1 is 300.0 mm, little to hold: have 320.0 mm" in one for one in said)
    assert any("between bends 1 and 2 is 220.0 mm: die and clamp want 230.0 mm" in o for o in said)
    assert any("the tail after bend 2 is 150.0 mm, little to hold" in one for one in said)


def test_tube_that_is_too_short_in_stock_is_said(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    short = msgspec.structs.replace(tube, stock_mm=900)
    (said,) = plan_job(TWO_BENDS, die, short, model).warnings
    assert said == "the cut length of 910.3 mm is more than the stock of tube rail-30, 900.0 mm"


def test_a_shape_is_bent_from_its_dimensions(die: Die, tube: Tube, model: SpringbackModel) -> None:
    job = job_with(bends=(), tail_mm=None, shape=Hoop(width_mm=434, height_mm=600))
    plan = plan_job(job, die, tube, model)
    # 434 over the outsides of 30 mm tube: 404 between centrelines, less two radii of 102.
    assert [bend.straight_mm for bend in plan.bends] == pytest.approx([600 - 15 - 102, 200])
    assert [bend.bend_angle_deg for bend in plan.bends] == [90, 90]


def test_a_clean_job_has_no_warning(die: Die, tube: Tube, model: SpringbackModel) -> None:
    assert plan_job(TWO_BENDS, die, tube, model).warnings == ()


def test_warnings_are_written_in_the_readers_unit(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    job = job_with(bends=(JobBend(straight_mm=25.4, angle_deg=90),))
    plan = plan_job(job, die, tube, model, unit="frac")
    assert any("is 1 in, little to hold" in warning for warning in plan.warnings)


@pytest.mark.parametrize(
    ("radius", "words"),
    [(75, "2.5 outside diameters: many rule books ask for 3"), (55, "flatten or kink")],
)
def test_a_tight_radius_is_said(
    radius: float, words: str, die: Die, tube: Tube, model: SpringbackModel
) -> None:
    tight = msgspec.structs.replace(die, centreline_radius_mm=radius)
    assert any(words in warning for warning in plan_job(TWO_BENDS, tight, tube, model).warnings)


def test_an_angle_over_the_dies_and_a_die_for_another_tube_are_said(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    small = msgspec.structs.replace(die, max_angle_deg=80, for_od_mm=32)
    said = plan_job(TWO_BENDS, small, tube, model).warnings
    assert any("bend 1 of 90 deg is more than die heron-100 does (80 deg)" in one for one in said)
    assert any("made for tube of 32.0 mm" in one for one in said)


def test_a_job_with_neither_bends_nor_points_is_refused(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    with pytest.raises(Refusal, match="give bends with a tail, points or a shape"):
        plan_job(job_with(tail_mm=None), die, tube, model)


def test_a_post_in_the_way_is_said_with_what_clears_it(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    post = Box(name="post", low_mm=(-490, 290, -40), high_mm=(-410, 370, 40))
    job = job_with(
        bends=(
            JobBend(straight_mm=600, angle_deg=90),
            JobBend(straight_mm=150, turn_deg=180, angle_deg=30),
        ),
        tail_mm=120,
    )
    plan = plan_job(job, die, tube, model, keep_out=KeepOut(boxes=(post,)))
    assert any("bend 1: the tube runs into post at about" in said for said in plan.warnings)
    assert any("it clears bent from the other end" in said for said in plan.warnings)


def test_a_tube_that_no_shop_has_is_not_checked_for_ever(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    endless = job_with(bends=(JobBend(straight_mm=1e6, angle_deg=90),))
    said = plan_job(endless, die, tube, model).warnings
    assert any("too long for its diameter" in one for one in said)


@pytest.mark.parametrize("shares", [("last", 0, 1), ("first", 1, 0), ("both", 0.5, 0.5)])
def test_a_tube_cut_already_gives_or_takes_the_difference_at_the_end_named(
    die: Die, tube: Tube, model: SpringbackModel, shares: tuple[Any, float, float]
) -> None:
    give, first, last = shares
    job = Job(
        job="rail",
        tube="rail-30",
        die="heron-100",
        tolerance_deg=0.5,
        bends=(JobBend(straight_mm=300, angle_deg=90), JobBend(straight_mm=220, angle_deg=45)),
        tail_mm=250,
    )
    free = plan_job(job, die, tube, model)
    cut = round(free.cut_length_mm) - 7.0
    fixed = plan_job(msgspec.structs.replace(job, cut_mm=cut, give=give), die, tube, model)
    short = cut - free.cut_length_mm
    assert fixed.cut_length_mm == pytest.approx(cut, abs=1e-9)
    assert fixed.bends[0].straight_mm == pytest.approx(300 + first * short)
    assert fixed.tail_mm == pytest.approx(250 + last * short)
    assert fixed.bends[1].straight_mm == pytest.approx(220)
    with pytest.raises(Refusal, match="shorter than the part"):
        plan_job(msgspec.structs.replace(job, cut_mm=400.0, give=give), die, tube, model)
