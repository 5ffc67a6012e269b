"""A part of several bends: what came out different is answered for by the bends to come."""

from collections.abc import Callable
from typing import Any

import pytest

from benchmate import stream

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
    at.press(93.9, 91.4)
    at.say("next")
    target = at.events[-1]
    assert target.bend_angle != pytest.approx(45.0, abs=0.02)
    assert target.bend_angle == pytest.approx(45.0, abs=2.0)
    assert "bend 2" in " ".join(target.changed)


def test_undo_brings_the_first_plan_back(bender: Make) -> None:
    at = bender(angles=ANGLES, part=True)
    at.zero()
    at.press(93.9, 91.4)
    at.say("next")
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
