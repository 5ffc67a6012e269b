"""Re-planning from what came out: where it lands, what it may change, what it leaves alone."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.optimize import least_squares

from benchmate.errors import Refusal
from benchmate.layout.as_bent import AsBent
from benchmate.layout.centreline import Centreline
from benchmate.layout.replan import Room, replan
from benchmate.layout.tube_layout import TubeLayout, corners

ROOM = Room(hold_mm=40, max_angle_deg=180)
PLAN = TubeLayout.of(
    Centreline((250, 180, 220, 160, 300), (0, 80, -120, 45), (60, 90, 45, 75), 102), 0.004
)


def came(*angles: float) -> list[AsBent]:
    return [AsBent(angle_deg=angle) for angle in angles]


def end(part: TubeLayout) -> np.ndarray:
    return part.stations()[-1, :3, 3]


def test_bends_that_came_out_as_planned_change_nothing() -> None:
    result = replan(PLAN, came(60, 90), ROOM)
    assert not result.changed
    assert result.deviation.off_mm == pytest.approx(0, abs=1e-9)
    assert result.part.starts_mm == pytest.approx(PLAN.starts_mm)


def test_nothing_bent_yet_is_the_plan() -> None:
    assert not replan(PLAN, [], ROOM).changed


def test_an_under_bent_first_bend_is_answered_for_by_the_others() -> None:
    result = replan(PLAN, came(58.5), ROOM)
    assert result.deviation_if_kept.off_mm > 10
    assert result.deviation.off_mm < 0.2
    assert result.deviation.askew_deg < 0.1
    assert result.part.angles_deg[0] == 58.5
    assert end(result.part) == pytest.approx(end(PLAN), abs=0.2)


def test_a_later_bend_leaves_less_to_answer_with() -> None:
    early = replan(PLAN, came(60, 94), ROOM)
    late = replan(PLAN, came(60, 90, 55, 75), ROOM)
    assert early.deviation.off_mm < 0.5
    # With every bend made, only the saw is left.
    assert late.part.angles_deg.tolist() == [60, 90, 55, 75]
    assert late.trim_mm > 0
    assert late.deviation.off_mm > 2


def test_the_first_plan_is_kept_where_what_nobody_measured_moves_the_end_by_more() -> None:
    """A turn strays by a degree: half a degree of bend angle is answered for in vain."""
    result = replan(PLAN, came(60.5), ROOM)
    assert result.deviation_if_kept.off_mm > 3
    assert not result.pays
    assert not result.changed
    assert result.part.starts_mm == pytest.approx(PLAN.starts_mm)


def test_re_planned_by_angles_alone_few_parts_end_further_off_than_left_alone() -> None:
    """Parts bent twice with the same errors; of turns and marks nobody measures anything."""
    rng = np.random.default_rng(5)
    kept, planned = [], []
    for _ in range(25):
        off = [rng.normal(0, sd, 4) for sd in (1.0, 1.0, 0.5)]
        off[1][0] = 0.0
        now, done, true = PLAN, [], []
        for bend in range(4):
            asked = (now.starts_mm[bend], now.turns_deg[bend], now.angles_deg[bend])
            true.append([value + each[bend] for value, each in zip(asked, off, strict=True)])
            done.append(AsBent(angle_deg=float(true[-1][2])))
            now = replan(PLAN, done, ROOM).part
        for ends, columns in (
            (kept, [PLAN.starts_mm + off[0], PLAN.turns_deg + off[1], PLAN.angles_deg + off[2]]),
            (planned, np.transpose(true)),
        ):
            starts, turns, angles = columns
            part = replace(PLAN, starts_mm=starts, turns_deg=turns, angles_deg=angles)
            ends.append(float(np.linalg.norm(end(part) - end(PLAN))))
    worse = sum(after > before + 1e-6 for before, after in zip(kept, planned, strict=True))
    assert worse <= 4  # without the rule 7 or so of 25
    assert np.mean(np.square(planned)) < np.mean(np.square(kept))


def test_done_bends_keep_their_marks_and_tube() -> None:
    then = replan(PLAN, came(58.5), ROOM).part
    result = replan(PLAN, came(58.5, 91), ROOM)
    assert result.part.starts_mm[0] == PLAN.starts_mm[0]
    assert result.part.starts_mm[:2] == pytest.approx(then.starts_mm[:2])
    assert result.part.turns_deg[:2] == pytest.approx(then.turns_deg[:2])
    assert result.part.cut_length_mm <= PLAN.cut_length_mm + 1e-9


def test_measured_turns_and_starts_count_too() -> None:
    start = float(PLAN.starts_mm[1]) + 2.0
    done = [AsBent(), AsBent(turn_deg=82.0, start_mm=start)]
    result = replan(PLAN, done, ROOM)
    assert result.deviation_if_kept.off_mm > 5
    assert result.deviation.off_mm < 0.5
    assert (result.part.turns_deg[1], result.part.starts_mm[1]) == (82.0, start)


def test_what_nobody_measured_is_taken_as_the_plan_in_force_asked_for() -> None:
    """The second bend is made as the first re-plan says: nothing is left to change then."""
    once = replan(PLAN, came(58.5), ROOM)
    asked = float(once.part.angles_deg[1])
    twice = replan(PLAN, came(58.5, asked), ROOM)
    assert twice.part.turns_deg == pytest.approx(once.part.turns_deg, abs=0.05)
    assert twice.part.starts_mm == pytest.approx(once.part.starts_mm, abs=0.3)
    spoken = [AsBent(angle_deg=58.5, turn_deg=0.0, start_mm=float(PLAN.starts_mm[0]))]
    spoken.append(
        AsBent(
            angle_deg=asked,
            turn_deg=float(once.part.turns_deg[1]),
            start_mm=float(once.part.starts_mm[1]),
        )
    )
    assert replan(PLAN, spoken, ROOM).part.starts_mm == pytest.approx(twice.part.starts_mm)


def test_leaving_off_the_last_bend_done_undoes_it() -> None:
    before = replan(PLAN, came(58.5), ROOM)
    replan(PLAN, came(58.5, 93), ROOM)
    again = replan(PLAN, came(58.5), ROOM)
    assert again.part.starts_mm == pytest.approx(before.part.starts_mm)


def test_points_named_to_fit_are_met_and_the_rest_may_move() -> None:
    result = replan(PLAN, came(58.5), ROOM, fit=(5,))
    wanted = corners(PLAN.stations(), PLAN.angles_deg, PLAN.radius_mm)[3]
    got = corners(result.part.stations(), result.part.angles_deg, result.part.radius_mm)[3]
    assert got == pytest.approx(wanted, abs=0.2)
    assert result.deviation.off_mm < 0.2 < result.deviation_if_kept.off_mm


def test_straights_stay_long_enough_to_hold_and_angles_within_the_die() -> None:
    tight = TubeLayout.of(Centreline((250, 60, 60, 200), (0, 90, 90), (60, 118, 40), 102))
    room = Room(hold_mm=58, max_angle_deg=120)
    part = replan(tight, came(50), room).part
    assert part.straights_mm[1:3].min() >= 58 - 1e-6
    assert part.angles_deg.max() <= 120 + 1e-6


def test_a_tube_that_would_be_too_long_is_trimmed_and_one_too_short_is_said() -> None:
    longer = replan(PLAN, [AsBent(start_mm=float(PLAN.starts_mm[0]) - 25)], ROOM)
    shorter = replan(PLAN, [AsBent(start_mm=float(PLAN.starts_mm[0]) + 25)], ROOM)
    assert longer.trim_mm > 0.5
    assert shorter.trim_mm == pytest.approx(0, abs=1e-6)
    assert longer.part.straights_mm[-1] > 0


@settings(max_examples=25, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(100, 300), st.floats(-150, 150), st.floats(30, 110)),
        min_size=3,
        max_size=5,
    ),
    st.floats(-4, 4),
)
def test_no_general_solver_lands_nearer(
    bends: list[tuple[float, float, float]], off_deg: float
) -> None:
    """scipy's least squares on the same tube, from the same start, with only the end to reach."""
    straights, turns, angles = zip(*bends, strict=True)
    plan = TubeLayout.of(Centreline((*straights, 250), (0.0, *turns[1:]), angles, 100))
    start_mm = float(plan.starts_mm[0])
    measured = AsBent(angle_deg=angles[0] + off_deg, turn_deg=0.0, start_mm=start_mm)
    result = replan(plan, [measured], ROOM)
    first = len(angles) - 1

    def misses(unknowns: np.ndarray) -> np.ndarray:
        starts, roll, bent, (trim,) = np.split(unknowns, [first, 2 * first, 3 * first])
        part = TubeLayout(
            starts_mm=np.concatenate([plan.starts_mm[:1], starts]),
            turns_deg=np.concatenate([[0.0], roll]),
            angles_deg=np.concatenate([[angles[0] + off_deg], bent]),
            cut_length_mm=plan.cut_length_mm - trim,
            radius_mm=100,
        )
        last = part.stations()[-1] - plan.stations()[-1]
        return np.concatenate([last[:3, 3], np.degrees(last[:3, 0])])

    begin = np.concatenate([plan.starts_mm[1:], plan.turns_deg[1:], plan.angles_deg[1:], [0.0]])
    found = least_squares(misses, begin)
    best = float(np.linalg.norm(found.fun[:3]))
    # Where it doesn't pay the first plan is kept, and lands where it lands.
    if min(plan.straights_mm[:-1]) > 60 and result.pays:
        assert result.deviation.off_mm < best + 0.5


@pytest.mark.parametrize(
    ("done", "fit", "words"),
    [
        (5, (), "5 bends done, and the plan has 4"),
        (1, (7,), "no point 7 to fit: this part has points 1 to 6"),
    ],
)
def test_what_cannot_be_is_refused_in_words(done: int, fit: tuple[int, ...], words: str) -> None:
    with pytest.raises(Refusal, match=words):
        replan(PLAN, came(*[50.0] * done), ROOM, fit)


def test_a_point_of_a_bend_right_round_cannot_be_fitted() -> None:
    with pytest.raises(Refusal, match="a bend of 180 deg has no such point"):
        replan(TubeLayout.of(Centreline((100, 100), (0,), (180,), 50)), [], ROOM, fit=(2,))
