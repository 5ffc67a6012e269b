"""One rule says what is in tolerance."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.springback.limits import Limits, limits, verdict_of


def test_a_bend_is_judged_by_the_drawing_although_it_was_planned_anew():
    # Drawn 40.0, planned anew 40.375, tolerance 0.75: 40.9 is too far by the drawing.
    by_drawing = limits(40.0, 40.375, 0.75)
    assert by_drawing == Limits(39.25, 40.75)
    assert verdict_of(40.9, by_drawing) == "over"


def test_further_than_half_the_tolerance_the_planned_angle_is_what_matters():
    assert limits(40.0, 40.5, 0.75) == Limits(39.75, 41.25)
    assert limits(40.0, 39.5, 0.75) == Limits(38.75, 40.25)


@pytest.mark.parametrize(
    ("angle", "verdict"),
    [
        (89.49, "again"),
        (89.5, "accept"),
        (90.0, "accept"),
        (90.5, "accept"),
        (90.51, "over"),
    ],
)
def test_the_limits_belong_to_the_tolerance(angle, verdict):
    assert verdict_of(angle, limits(90.0, 90.0, 0.5)) == verdict


@given(drawn=st.integers(1, 1800), moved=st.integers(-20, 20), tolerance=st.integers(1, 20))
def test_tenths_of_a_degree_are_judged_as_on_paper(drawn, moved, tolerance):
    # In whole tenths there is no rounding: what is written with one decimal must agree.
    middle = drawn if 2 * abs(moved) <= tolerance else drawn + moved
    within = limits(drawn / 10, (drawn + moved) / 10, tolerance / 10)
    for tenths in (middle - tolerance - 1, middle - tolerance, middle + tolerance):
        right = "again" if tenths < middle - tolerance else "accept"
        assert verdict_of(tenths / 10, within) == right
    assert verdict_of((middle + tolerance + 1) / 10, within) == "over"
