import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.screen.instrument.lettering import GLYPHS, LEAST_ROWS, cut_to, runs, word_cut

NUMBERS = ["0.0", "93.4", "-0.5", "183.7", "--.-", "12.8"]


def drawn(text, cut):
    return ["".join(("#" if lit else ".") * cells for lit, cells in row) for row in runs(text, cut)]


def test_a_number_in_seven_rows_reads_like_this():
    cut = cut_to(3, 26, 7)
    assert drawn("72.5", cut) == [
        "#######...###......#######",
        ".....##.##...##....##.....",
        ".....##......##....##.....",
        "...##......##......#####..",
        "...#......##............##",
        "...#....##..............##",
        "...#....#######.##.#####..",
    ]


@given(st.sampled_from(NUMBERS), st.integers(5, 200), st.integers(1, 70))
def test_a_cut_fits_its_box_or_there_is_none(text, width, height):
    digits = sum(character != "." for character in text)
    cut = cut_to(digits, width, height)
    if cut is None:
        assert height < LEAST_ROWS or width < digits * 5
        return
    rows = drawn(text, cut)
    assert len(rows) == cut.height <= height
    assert {len(row) for row in rows} == {cut.width(digits)}
    assert cut.width(digits) <= width


@given(st.integers(20, 200), st.integers(5, 70))
def test_all_digits_differ_at_every_size(width, height):
    cut = cut_to(3, width, height)
    if cut is not None:
        digits = "0123456789-+ "
        assert len({tuple(drawn(digit, cut)) for digit in digits}) == len(digits)


SAME = ({"0", "O"}, {"X", "\u2715"})


@given(st.sampled_from([5, 6, 7, 9, 12, 17]), st.integers(5, 14))
def test_all_letters_and_signs_differ_at_every_size(height, columns):
    cut = word_cut("A", columns, height)
    if cut is not None:
        pictures = {}
        for sign in GLYPHS:
            pictures.setdefault(tuple(drawn(sign, cut)), set()).add(sign)
        assert [same for same in pictures.values() if len(same) > 1 and same not in SAME] == []


@given(st.text("ABCDEFGHIJKLMNOPQRSTUVWXYZ?!", min_size=1, max_size=12), st.integers(5, 200))
def test_a_word_fits_its_box_or_is_not_drawn(text, width):
    cut = word_cut(text, width, 6)
    if cut is not None:
        rows = drawn(text, cut)
        assert len(rows) == 6
        assert {len(row) for row in rows} == {cut.word_width(text)}
        assert cut.word_width(text) <= width


@given(st.integers(30, 200), st.integers(7, 70))
def test_digits_are_at_most_seven_tenths_as_wide_as_high(width, height):
    cut = cut_to(3, width, height)
    if cut is not None:
        assert sum(cut.columns) / 2 <= 0.7 * cut.height + 0.5


@pytest.mark.parametrize("height", [5, 7, 10, 14, 21])
def test_the_decimal_point_is_a_full_block_with_room_on_both_sides(height):
    cut = cut_to(3, 120, height)
    foot = drawn("11.1", cut)[-1]
    without = drawn("11", cut)[-1]
    point = foot[len(without) : len(without) + 2 * cut.gap + cut.point]
    assert point == "." * cut.gap + "#" * cut.point + "." * cut.gap
    assert cut.rows[-1] >= 1


@given(st.integers(7, 70))
def test_all_three_horizontal_strokes_are_equally_thick(height):
    cut = cut_to(3, 300, height)
    assert cut is not None
    assert cut.rows[0] == cut.rows[3] == cut.rows[6]
    assert cut.columns[0] == cut.columns[4]
