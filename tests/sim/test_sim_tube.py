import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.sim.tube import SimulatedBend, Truth, springback_deg

truths = st.builds(
    Truth,
    slack_deg=st.floats(0.0, 3.0),
    legs_deg=st.floats(0.5, 3.0),
    share=st.floats(0.005, 0.08),
    piece_deg=st.floats(-0.3, 0.3),
    piece_share=st.floats(-0.05, 0.05),
)
TRUTH = Truth(slack_deg=1.2, legs_deg=0.8, share=0.02, piece_deg=0.1)


@given(truths, st.floats(15.0, 190.0))
def test_peak_less_bend_angle_is_slack_plus_springback(truth, peak):
    place = SimulatedBend(truth).press(peak)
    angle = place.bend_angle_deg
    springback = (truth.legs_deg + truth.share * angle) * (1 + truth.piece_share) + truth.piece_deg
    assert peak - angle == pytest.approx(truth.slack_deg + springback, abs=1e-6)


@given(truths, st.floats(15.0, 190.0))
def test_peak_less_rest_is_springback_alone(truth, peak):
    place = SimulatedBend(truth).press(peak)
    assert peak - place.rest_deg == pytest.approx(
        springback_deg(truth, place.bend_angle_deg), abs=1e-6
    )


@given(truths, st.floats(5.0, 180.0), st.floats(0.0, 1.0))
def test_reloading_short_of_the_former_peak_changes_nothing(truth, peak, part):
    place = SimulatedBend(truth).press(peak)
    assert place.press(part * peak) == place


@given(truths, st.floats(5.0, 90.0), st.floats(0.0, 90.0))
def test_two_presses_leave_what_one_press_to_the_second_leaves(truth, first, more):
    twice = SimulatedBend(truth).press(first).press(first + more)
    assert twice == SimulatedBend(truth).press(first + more)


@given(truths, st.floats(0.0, 150.0), st.floats(0.001, 10.0))
def test_pressing_further_never_bends_less(truth, peak, more):
    place = SimulatedBend(truth).press(peak)
    assert place.press(peak + more).bend_angle_deg >= place.bend_angle_deg


@given(st.floats(0.0, 1.2))
def test_within_the_slack_nothing_is_touched(arm):
    place = SimulatedBend(TRUTH).press(arm)
    assert place.bend_angle_deg == 0.0
    assert place.rest_deg == 0.0


def test_yielding_begins_gently_past_the_slack():
    angles = [SimulatedBend(TRUTH).press(1.2 + 0.1 * k).bend_angle_deg for k in range(1, 30)]
    steps = [b - a for a, b in itertools.pairwise(angles)]
    assert all(0.0 < step < 0.1 for step in steps)
    assert steps[0] < 0.5 * steps[-1]
