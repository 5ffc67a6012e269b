import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.screen.instrument.canvas import Canvas, Viewport


def rows(canvas):
    return ["".join(text for text, _ in line) for line in canvas.lines()]


def drawn(*points, width=8, height=4, solid=False):
    canvas = Canvas(width, height)
    canvas.line(points, "plain", solid=solid)
    return rows(canvas)


def test_a_line_is_drawn_by_its_slope():
    assert drawn((0, 1), (7, 1))[1] == "────────"
    assert [row[2] for row in drawn((2, 0), (2, 3))] == ["│"] * 4
    assert drawn((0, 3), (3, 0)) == ["   /    ", "  /     ", " /      ", "/       "]
    assert drawn((0, 0), (3, 3)) == ["\\       ", " \\      ", "  \\     ", "   \\    "]


def test_a_solid_line_is_drawn_in_blocks_whatever_its_slope():
    assert drawn((0, 0), (7, 0), (7, 3), solid=True) == [
        "████████",
        "       █",
        "       █",
        "       █",
    ]


def test_a_cell_is_twice_as_high_as_wide():
    frame = Viewport(column=3, row=1, left_mm=-10.0, top_mm=100.0, mm_a_column=20.0)
    assert frame.cell(-10.0, 100.0) == (3, 1)
    assert frame.cell(30.0, 100.0) == (5, 1)
    assert frame.cell(-10.0, 20.0) == (3, 3)


def test_what_lies_outside_is_left_out():
    canvas = Canvas(4, 2)
    canvas.put(-2, 0, "abcdefgh", "plain")
    canvas.put(0, 5, "x", "plain")
    assert rows(canvas) == ["cdef", "    "]


def test_room_is_free_only_where_nothing_is_drawn_and_on_the_canvas():
    canvas = Canvas(6, 1)
    canvas.put(2, 0, "x", "plain")
    assert canvas.free(3, 0, 3)
    assert not canvas.free(1, 0, 2)
    assert not canvas.free(4, 0, 3)
    assert not canvas.free(0, 1, 1)


def test_runs_of_one_ink_are_one_piece():
    canvas = Canvas(5, 1)
    canvas.put(0, 0, "ab", "bold")
    canvas.put(2, 0, "c", "dim")
    assert canvas.lines() == [(("ab", "bold"), ("c", "dim"), ("  ", "plain"))]


@given(
    st.lists(st.tuples(st.floats(-9, 40), st.floats(-9, 40)), min_size=2, max_size=8),
    st.integers(1, 30),
    st.integers(1, 20),
)
def test_any_line_leaves_rows_of_one_width(points, width, height):
    found = drawn(*points, width=width, height=height)
    assert len(found) == height
    assert {len(row) for row in found} == {width}


@pytest.mark.parametrize("solid", [False, True])
def test_a_line_has_no_holes(solid):
    found = drawn((0, 0), (30, 7), width=31, height=8, solid=solid)
    assert all(any(row[column] != " " for row in found) for column in range(31))
