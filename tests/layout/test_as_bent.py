"""The part as far as it is bent is the start of the part, as it came out."""

import numpy as np
import pytest

from benchmate.errors import Refusal
from benchmate.layout.as_bent import AsBent, bent_so_far
from benchmate.layout.centreline import Centreline, frames
from benchmate.layout.projection import three_views
from benchmate.layout.tube_layout import TubeLayout

PART = TubeLayout.of(Centreline((300, 200, 150, 250), (0, 75, -110), (90, 45, 60), 75))


def test_before_the_first_bend_it_is_the_straight_up_to_it() -> None:
    centreline = bent_so_far(PART, [])
    assert centreline.straights_mm == (300,)
    assert centreline.angles_deg == ()
    assert frames(centreline)[-1, :3, 3] == pytest.approx([300, 0, 0])


def test_bends_that_came_out_as_planned_are_the_start_of_the_plan() -> None:
    centreline = bent_so_far(PART, [AsBent(), AsBent(angle_deg=45.0)])
    assert frames(centreline)[:-1] == pytest.approx(frames(PART.centreline)[: 2 * 2 + 1])
    assert centreline.straights_mm[-1] == pytest.approx(150)


def test_all_bends_done_give_the_whole_part_with_its_tail() -> None:
    assert frames(bent_so_far(PART, [AsBent()] * 3)) == pytest.approx(frames(PART.centreline))


def test_a_bend_that_came_out_larger_swings_what_follows_and_uses_more_tube() -> None:
    centreline = bent_so_far(PART, [AsBent(angle_deg=96.0)])
    assert centreline.angles_deg == (96.0,)
    assert centreline.straights_mm[-1] == pytest.approx(200 - 75 * np.radians(6.0))


def test_turn_and_start_as_made_are_taken() -> None:
    centreline = bent_so_far(
        PART, [AsBent(), AsBent(turn_deg=80.0, start_mm=PART.starts_mm[1] + 4)]
    )
    assert centreline.turns_deg == (0.0, 80.0)
    assert centreline.straights_mm[1] == pytest.approx(204)


def test_it_can_be_drawn_over_the_plan_from_the_first_bend_on() -> None:
    for view in three_views(PART.centreline, bent_so_far(PART, [])):
        planned, over = view.lines
        assert over[0] == pytest.approx(planned[0])
        assert over[1] == pytest.approx(planned[1])


def test_more_bends_done_than_there_are_is_refused() -> None:
    with pytest.raises(Refusal, match="4 bends done"):
        bent_so_far(PART, [AsBent()] * 4)
