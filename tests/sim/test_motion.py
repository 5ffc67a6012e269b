import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.sim.motion import Motion, Move

moves = st.builds(
    Move,
    start=st.just(10.0),
    lasts=st.floats(0.1, 2.0),
    origin=st.floats(-10.0, 100.0),
    push=st.floats(0.2, 5.0),
    rate=st.floats(0.0, 10.0),
    bounce=st.floats(0.0, 0.2),
)
H = 1e-5


@given(moves, st.floats(0.01, 3.0))
def test_rate_and_acceleration_are_the_derivatives_of_the_angle(move, after):
    t = 10.0 + after
    if abs(t - move.done) < 2 * H:
        return
    left, here, right = move.at(t - H), move.at(t), move.at(t + H)
    assert here.dps == pytest.approx((right.deg - left.deg) / (2 * H), abs=1e-3)
    assert here.dps2 == pytest.approx((right.dps - left.dps) / (2 * H), abs=0.05)


@given(moves)
def test_nothing_jumps_when_a_move_ends_and_its_bounce_begins(move):
    before, after = move.at(move.done - 1e-9), move.at(move.done + 1e-9)
    assert before.deg == pytest.approx(after.deg, abs=1e-6)
    assert before.dps == pytest.approx(after.dps, abs=1e-4)


@given(moves, st.floats(0.0, 5.0))
def test_an_upward_move_never_passes_its_end(move, after):
    assert move.at(10.0 + after).deg <= move.end + 1e-9
    assert move.reach(10.0 + after) <= move.end + 1e-9


@given(moves)
def test_a_move_comes_to_rest_at_its_end(move):
    last = move.at(move.done + 1.01)
    assert (last.deg, last.dps, last.dps2) == (move.end, 0.0, 0.0)


def test_a_push_of_three_degrees_in_four_tenths_peaks_at_two_radians_a_second_squared():
    stroke = Move(0.0, 0.4, 0.0, 3.0)
    largest = max(stroke.at(k * 0.001).dps2 for k in range(400))
    assert largest * 3.14159265 / 180 == pytest.approx(2.1, abs=0.05)


def test_cutting_drops_what_has_not_begun_and_keeps_what_has():
    motion = Motion(0.0, 0.0)
    motion.add(Move(1.0, 1.0, 0.0, 5.0))
    motion.add(Move(9.0, 1.0, 5.0, 5.0))
    assert motion.cut(1.5) == Move(1.0, 1.0, 0.0, 5.0).at(1.5)
    assert motion.at(20.0).deg == 5.0


def test_the_past_can_be_asked_for():
    motion = Motion(0.0, 1.0)
    motion.add(Move(1.0, 1.0, 1.0, 5.0))
    assert motion.at(0.5).deg == 1.0
    assert motion.at(-1.0).deg == 1.0
