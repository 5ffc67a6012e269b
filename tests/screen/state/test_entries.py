import pytest

from benchmate.screen.state.entries import entry_words, undone_words, with_entry
from benchmate.screen.state.shown_bend import ShownBend


@pytest.fixture
def bend():
    return ShownBend(bend=1, wanted=90.0, tolerance=0.5, stop_sd=0.3, mark=304.8, turn=0.0)


def test_a_mark_is_echoed_in_the_shops_unit_with_what_it_was(bend):
    assert entry_words("marked 323.85", bend, "frac") == "Mark taken as 12-3/4 in (was 12 in)."
    assert entry_words("marked 305", bend, "mm") == "Mark taken as 305.0 mm (was 304.8 mm)."


def test_a_second_mark_takes_the_place_of_the_first(bend):
    bend = with_entry(bend, "marked 317.5")
    assert entry_words("marked 323.85", bend, "frac").endswith("(was 12-1/2 in).")
    assert bend.mark == 304.8


def test_a_turn_is_echoed_with_the_way_it_goes(bend):
    assert entry_words("turned -44.5", bend, "mm") == (
        "Turn taken as 44.5° anticlockwise (was no turn)."
    )
    bend = with_entry(bend, "turned -44.5")
    assert entry_words("turned 45", bend, "mm").endswith("(was 44.5° anticlockwise).")


def test_a_measured_angle_is_echoed(bend):
    assert entry_words("measured 89.5", bend, "mm") == "Measured 89.5°."
    assert with_entry(bend, "measured 89.5") == bend


@pytest.mark.parametrize("said", ["", "the third hand's sentence"])
def test_what_is_no_command_is_said_as_it_stands(bend, said):
    assert entry_words(said, bend, "mm") == said
    assert undone_words(said, "mm") == said


@pytest.mark.parametrize(
    ("step", "shown"),
    [
        ("zero", "zero"),
        ("hit 2", "hit 2"),
        ("next", "the last Enter"),
        ("measured 89.5", "measured 89.5°"),
        ("marked 323.85", "mark 12-3/4 in"),
        ("turned 45", "turn 45.0° clockwise"),
    ],
)
def test_what_was_taken_back_is_said_in_the_screens_words(step, shown):
    assert undone_words(f"Taken back: {step}; bend 1 is to be zeroed.", "frac") == (
        f"Taken back: {shown}; bend 1 is to be zeroed."
    )
