import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.screen.instrument.approach_bar import STOP_AT, approach, judged, place_of


def text(pieces):
    return "".join(piece.text for piece in pieces)


@given(st.floats(-5, 130), st.floats(-5, 130))
def test_further_along_the_way_is_further_along_the_bar(one, other):
    less, more = sorted((one, other))
    assert 0.0 <= place_of(less, 93.4, 94.2) <= place_of(more, 93.4, 94.2) <= 1.0


@given(st.floats(5, 180))
def test_the_stop_stands_at_the_same_place_in_every_hit(stop):
    assert place_of(stop, stop, stop + 1.0) == pytest.approx(STOP_AT)


@given(st.one_of(st.none(), st.floats(0, 130)), st.integers(0, 200))
def test_the_bar_is_as_wide_as_its_room(arm, width):
    assert len(text(approach(arm, 93.4, 94.2, width, "plain"))) == width


def test_the_last_degrees_have_marks_and_the_stop_its_name():
    assert text(approach(None, 93.4, 94.2, 100, "plain")).split() == ["10", "5", "3", "1", "|STOP"]


def test_at_the_stop_it_is_filled_to_the_stop():
    filled, rest = approach(93.4, 93.4, 94.2, 100, "bad")
    assert (len(filled.text), filled.filled) == (90, True)
    assert rest.text.startswith("|STOP")


@pytest.mark.parametrize(
    ("say", "place"), [("again", "SHORT"), ("accept", "GOOD"), ("over", "OVER"), ("measure", None)]
)
def test_a_verdict_lights_one_of_three_places_and_only_what_it_says(say, place):
    pieces = judged(say, 80)
    assert [piece.text.strip() for piece in pieces if piece.filled] == ([place] if place else [])
    assert len(text(pieces)) == 80
