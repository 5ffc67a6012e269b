import pytest

from benchmate.screen.instrument.arrangement import arranged


@pytest.mark.parametrize("numbers", [True, False])
@pytest.mark.parametrize("width", [40, 80, 160])
@pytest.mark.parametrize("height", [10, 12, 15, 17, 21, 22, 24, 30, 39, 40, 50, 120])
def test_all_rows_are_shared_out_and_none_twice(width, height, numbers):
    rows = arranged(width, height, numbers=numbers)
    assert rows.number + rows.bar + rows.word + rows.lower + rows.told == height - 2
    assert min(rows) >= 0
    assert rows.side + rows.stop < width


def test_from_22_rows_on_all_parts_stand_whatever_the_situation():
    for height in (22, 24, 30, 50):
        assert arranged(80, height) == arranged(80, height, numbers=False)
        assert min(arranged(80, height)[:5]) > 0


def test_on_a_small_panel_the_word_takes_the_place_of_the_numbers_while_it_is_the_answer():
    pumping, judged = arranged(50, 15), arranged(50, 15, numbers=False)
    assert (pumping.word, pumping.lower) == (0, 5)
    assert (judged.word, judged.lower) == (5, 0)


def test_on_the_smallest_the_stop_angle_stands_beside_the_arm():
    assert arranged(40, 10).stop == 19
    assert arranged(40, 10).lower == 0


@pytest.mark.parametrize("height", [0, 1, 2, 3, 5])
def test_a_terminal_of_hardly_any_rows_keeps_a_row_for_the_number(height):
    assert arranged(20, height).number >= 1
