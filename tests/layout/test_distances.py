"""Distances across the bent tube: what they tell of turns that nobody measured."""

import numpy as np
import pytest

from benchmate.errors import Refusal
from benchmate.layout.as_bent import AsBent
from benchmate.layout.centreline import Centreline
from benchmate.layout.distances import Distance, with_distances
from benchmate.layout.replan import Room, points_of, replan
from benchmate.layout.tube_layout import TubeLayout

ROOM = Room(hold_mm=40, max_angle_deg=180)
PLAN = TubeLayout.of(Centreline((250, 180, 220, 300), (0, 80, -120), (60, 90, 45), 102))


def made(turn_deg: float) -> TubeLayout:
    """The part with its second turn off, and only two bends made."""
    return TubeLayout(
        starts_mm=PLAN.starts_mm[:2],
        turns_deg=np.array([0.0, turn_deg]),
        angles_deg=PLAN.angles_deg[:2],
        cut_length_mm=PLAN.cut_length_mm,
        radius_mm=102,
    )


def tape(part: TubeLayout, one: int, other: int) -> Distance:
    """Measure the part without error; point 5 is the tube's other end."""
    ends = len(part.angles_deg) + 2
    numbers = [ends if number == 5 else number for number in (one, other)]
    places = points_of(part, part.stations(), numbers)
    return Distance(one=one, other=other, measured_mm=float(np.linalg.norm(places[1] - places[0])))


def test_a_distance_over_the_whole_tube_finds_the_turn() -> None:
    done = [AsBent(angle_deg=60, start_mm=250), AsBent(angle_deg=90)]
    found = with_distances(PLAN, done, [tape(made(83.0), 1, 5)], ROOM)
    assert found.done[1].turn_deg == pytest.approx(83.0, abs=0.4)
    assert found.done[1].angle_deg == pytest.approx(90, abs=0.1)
    assert found.outlier == ""


def test_replanning_with_it_lands_nearer_than_without() -> None:
    done = [AsBent(angle_deg=60, start_mm=250), AsBent(angle_deg=90)]
    true = made(83.0)
    found = with_distances(PLAN, done, [tape(true, 1, 5)], ROOM)

    def lands(believed: list[AsBent]) -> float:
        went = replan(PLAN, believed, ROOM).part
        turns = went.turns_deg.copy()
        turns[1] = true.turns_deg[1]
        starts = np.concatenate([true.starts_mm, went.starts_mm[2:]])
        last = TubeLayout(
            starts_mm=starts,
            turns_deg=turns,
            angles_deg=np.concatenate([true.angles_deg, went.angles_deg[2:]]),
            cut_length_mm=went.cut_length_mm,
            radius_mm=102,
        )
        off = last.stations()[-1, :3, 3] - PLAN.stations()[-1, :3, 3]
        return float(np.linalg.norm(off))

    assert lands(list(found.done)) < 0.4 * lands(done)


def test_a_distance_that_agrees_changes_nothing() -> None:
    done = [AsBent(angle_deg=60), AsBent(angle_deg=90)]
    found = with_distances(PLAN, done, [tape(made(80.0), 1, 5)], ROOM)
    assert found.done[1].turn_deg == pytest.approx(80, abs=1e-3)
    assert found.done[1].start_mm == pytest.approx(float(PLAN.starts_mm[1]), abs=1e-3)


def test_a_distance_within_one_straight_says_nothing_of_turns() -> None:
    done = [AsBent(angle_deg=60), AsBent(angle_deg=90)]
    found = with_distances(PLAN, done, [tape(made(83.0), 1, 2)], ROOM)
    assert found.done[1].turn_deg == pytest.approx(80, abs=1e-3)


def test_a_distance_that_no_bend_explains_is_named() -> None:
    done = [AsBent(angle_deg=60, turn_deg=0, start_mm=250), AsBent(angle_deg=90, turn_deg=80)]
    right = tape(made(80.0), 1, 5)
    wrong = Distance(one=1, other=5, measured_mm=right.measured_mm + 60)
    found = with_distances(PLAN, done, [wrong], ROOM)
    assert found.outlier.startswith("the distance of")
    assert "from point 1 to point 5" in found.outlier


def test_before_the_first_bend_there_is_nothing_to_correct() -> None:
    length = Distance(one=1, other=5, measured_mm=PLAN.cut_length_mm)
    assert with_distances(PLAN, [], [length], ROOM).done == ()


@pytest.mark.parametrize(
    ("distance", "words"),
    [
        (
            Distance(one=1, other=4, measured_mm=9),
            "point 4 isn't bent yet: there are points 1 to 3",
        ),
        (Distance(one=2, other=2, measured_mm=9), "from point 2 to itself"),
        (Distance(one=1, other=2, measured_mm=-9), "give a number above 0"),
    ],
)
def test_what_cannot_be_measured_is_refused(distance: Distance, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        with_distances(PLAN, [AsBent(), AsBent()], [distance], ROOM)
