import pytest

from benchmate.screen.words.amounts import (
    between,
    give_or_take,
    shown_deg,
    turn_seen_words,
    turn_words,
    two_sd,
)


@pytest.mark.parametrize("angle", [-0.0, -0.04, 0.0, 0.04])
def test_nought_has_no_sign(angle):
    assert shown_deg(angle) == "0.0"


@pytest.mark.parametrize(
    ("sd", "said"),
    [(0.62, "1.2"), (1.28, "2.6"), (0.05, "0.1"), (0.04, "under 0.1"), (0, "under 0.1")],
)
def test_give_or_take_is_two_standard_deviations_and_never_nought(sd, said):
    assert two_sd(sd) == said
    assert give_or_take(sd) == f"give or take {said}"


def test_a_turn_says_which_way_and_from_where():
    assert turn_words(45.0) == "turn 45.0° clockwise"
    assert turn_words(-90.04) == "turn 90.0° anticlockwise"
    assert turn_words(-0.04) == turn_seen_words(0.0) == "no turn"
    assert turn_seen_words(45.0) == "turn 45.0° clockwise seen from the last end"


def test_a_difference_is_that_of_the_numbers_as_they_are_shown():
    assert between(89.84, 90.06) == -0.3
    assert str(between(89.96, 90.04)) == "0.0"
