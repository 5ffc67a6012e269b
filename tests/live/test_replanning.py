"""A part of several bends: what came out different is answered for by the bends to come."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from benchmate import stream
from benchmate.bench.inputs import Back, Lost
from benchmate.bench.session import events, journal
from benchmate.bench.session.run import advanced
from benchmate.errors import Refusal

from .conftest import Arm

Make = Callable[..., Any]
ANGLES = (90.0, 45.0, 60.0)


def test_each_target_says_where_its_mark_is_and_how_the_tube_is_turned(bender: Make) -> None:
    target = bender(angles=ANGLES, part=True).events[0]
    assert target.mark == pytest.approx(300.0)
    assert target.turn == 0.0
    assert target.changed == ()


def test_a_bend_that_came_out_as_planned_changes_nothing(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(93.7, 91.0)
    at.say("next")
    target = at.events[-1]
    assert target.bend_angle == 45.0
    assert target.changed == ()


def test_a_bend_that_came_out_different_moves_the_rest_and_says_so(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(94.5, 92.0)
    at.say("next")
    target = at.events[-1]
    assert target.bend_angle != pytest.approx(45.0, abs=0.02)
    assert target.bend_angle == pytest.approx(45.0, abs=2.0)
    assert "bend 2" in " ".join(target.changed)


def test_a_moved_angle_is_told_beside_the_drawing_s(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True, within=0.25)
    at.zero()
    at.press(95.0, 92.3)
    at.say("next")
    target = at.last(stream.Target)
    assert target.drawn_angle == 45.0
    assert 0.0 < abs(target.bend_angle - 45.0) <= 0.25 + 1e-9
    assert target.tolerance == 0.5


def pressed_to(at: Any, bend_angle: float) -> None:
    """Bend the second bend; the arm rests by the slack above the tube's angle."""
    at.arm.at = 0.0
    at.zero()
    at.press(bend_angle * 1.03 + 1.0, bend_angle + 1.0)


@pytest.mark.parametrize(
    ("off", "say"), [(-0.45, "accept"), (0.45, "accept"), (0.6, "over"), (-0.6, "again")]
)
def test_a_bend_is_in_tolerance_of_the_drawing_though_its_angle_was_moved(
    bender: Make, off: float, say: str
) -> None:
    at = bender(angles=ANGLES, part=True, within=0.25, arm=Arm(sd=0.005))
    at.zero()
    at.press(95.0, 92.3)
    at.say("next")
    assert at.last(stream.Target).bend_angle != 45.0
    pressed_to(at, 45.0 + off)
    assert at.last(stream.Verdict).say == say


def test_where_points_to_fit_move_an_angle_far_the_new_one_is_what_is_right(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(95.5, 92.8)
    at.say("next")
    angle = at.last(stream.Target).bend_angle
    assert abs(angle - 45.0) > 0.25
    pressed_to(at, angle)
    assert at.last(stream.Verdict).say == "accept"
    at.say("measured 46.5!")
    assert at.last(stream.Verdict).say == "over"


def test_nothing_is_planned_anew_off_a_bend_that_was_to_be_measured_and_was_not(
    bender: Make,
) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.move(80.0)
    at.give(Lost(at.arm.t, "sensor", "frozen"))
    at.arm.at = 91.0
    at.give(Back(at.arm.t))
    at.hold(0.5)
    at.move(88.0, dps=30.0)
    at.hold(0.8)
    assert at.last(stream.Verdict).say == "measure"
    at.say("next")
    target = at.last(stream.Target)
    assert target.bend_angle == 45.0
    assert target.changed == (
        "bend 1 was not measured: the rest is planned as if it came out as asked for",
    )


def test_undo_brings_the_first_plan_back(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(93.9, 91.4)
    at.say("next")
    for _ in ("next", "hit"):
        at.say("undo")
    at.say("skip")
    target = at.events[-1]
    assert (target.bend, target.bend_angle, target.changed) == (2, 45.0, ())


def test_a_turn_or_mark_that_was_measured_is_answered_for_too(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(93.7, 91.0)
    at.say("marked 303")
    at.say("next")
    target = at.events[-1]
    assert target.mark != pytest.approx(300.0 + 300.0 + 94.2, abs=0.5)
    assert target.changed


def test_without_a_part_there_is_no_turn_to_measure(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    at.say("turned 5")
    assert isinstance(at.events[-1], stream.Fault)


def test_a_tape_across_the_part_tells_of_a_turn_that_nobody_saw(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(93.7, 91.0)
    at.say("next")
    at.arm.at = 0.0
    at.zero()
    at.press(47.35, 46.0)
    at.say("taped 1 5 640")
    at.say("next")
    target = at.last(stream.Target)
    assert target.bend == 3
    assert target.changed


def test_a_distance_between_points_that_are_not_there_is_refused(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(93.7, 91.0)
    at.say("taped 1 77 640")
    assert at.events[-1].what == "command"


@pytest.mark.parametrize("mark", ["marked 5", "marked 330", "marked 99999"])
def test_a_mark_that_leaves_the_bend_no_room_is_refused_with_what_can_be(
    bender: Make, mark: str
) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(93.7, 91.0)
    at.say("next")
    at.arm.at = 0.0
    at.zero()
    at.press(47.35, 46.0)
    at.say(mark)
    fault = at.events[-1]
    assert fault.what == "command"
    assert "from 394.2 to" in fault.detail
    assert "694.2 was asked for" in fault.detail


def test_what_was_taken_is_said_with_the_verdict(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(93.7, 91.0)
    for said in ("measured 90.1", "turned -3.5", "marked 303", "taped 1 2 301"):
        at.say(said)
        assert at.last(stream.Verdict).taken == said
    at.say("undo")
    assert "taped 1 2 301" in at.last(stream.Target).undone
    assert at.last(stream.Verdict).taken == ""


def test_a_distance_longer_than_the_tube_is_refused(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(93.7, 91.0)
    at.say("taped 1 5 3000")
    assert at.events[-1].what == "command"
    assert "3000.0 mm" in at.events[-1].detail


def test_a_distance_that_the_bends_contradict_is_doubted_at_once(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(93.7, 91.0)
    at.say("taped 1 2 450")
    assert "measure it again" in at.last(stream.Verdict).advice


def test_where_nothing_can_be_planned_anew_the_plan_before_stays_and_why_is_said(
    bender: Make,
) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(93.7, 91.0)
    run = at.session.state.run
    without = replace(run, task=replace(run.task, replan=refuses))
    run, _ = advanced(without, journal.WentOn())
    target = events.target(run)
    assert (target.mark, target.bend_angle) == (without.plan.bends[1].mark_mm, 45.0)
    assert target.changed == ("nothing is planned anew: no way left",)


def refuses(*_: object) -> Any:
    raise Refusal("no way left")


def test_what_the_last_bend_leaves_off_at_the_end_is_said_with_its_verdict(bender: Make) -> None:
    at = bender(angles=(90.0, 45.0), part=True, within=0.25)
    at.zero()
    at.press(95.0, 92.3)
    assert at.last(stream.Verdict).advice == ""
    at.say("next")
    pressed_to(at, 45.0)
    assert "The part's end is" in at.last(stream.Verdict).advice
    assert " mm off" in at.last(stream.Verdict).advice


def test_a_part_that_ends_where_it_should_needs_no_word(bender: Make) -> None:
    at = bender(angles=(90.0, 45.0), part=True, within=0.25, arm=Arm(sd=0.005))
    at.zero()
    at.press(93.7, 91.0)
    at.say("next")
    pressed_to(at, 45.0)
    assert at.last(stream.Verdict).advice == ""
