import dataclasses
import math
import unicodedata

import pytest

from benchmate.layout.centreline import Centreline
from benchmate.screen.instrument.part_drawing import (
    Part,
    part_lines,
    scale_from,
    scale_words,
    turned,
)
from benchmate.screen.pages.part_page import heading
from benchmate.screen.state.shown_bend import ShownBend

SAFE = set("─│█")
PICTURE = [
    " front                   top                     right",
    "                                                    1",
    "   1/────────────\\\\2       1o──────────────2        │",
    "    /             │                                 │",
    "    │             │                                 │",
    "    │             │                                 │",
    "    │             │                                 │",
    "    │             │                                 │",
    "    │             │                                 │",
    "    │             │                                 │",
    "    o             │                                 o",
    "",
    "",
    "",
]


def text(lines):
    return ["".join(piece for piece, _ in line).rstrip() for line in lines]


def bent(say, number, angle, **place):
    return ShownBend(
        bend=number,
        wanted=90.0,
        tolerance=0.5,
        stop_sd=0.3,
        verdicts=(say.verdict(bend=number, bend_angle=angle),),
        **place,
    )


@pytest.fixture
def half(flat, say):
    """The U with its first bend made, two degrees too far."""
    behind = (bent(say, 1, 92.0, mark=388.0, turn=0.0),)
    return Part(flat.plan, "mm", behind, say.target(bend=2, bends=2), under_way=True)


def test_three_views_stand_where_they_belong(flat):
    shown = text(part_lines(Part(flat.plan), 60, 16))
    assert shown[:14] == PICTURE
    assert shown[14] == " 1 cell = 30 mm by 60 mm"


def test_what_is_bent_is_drawn_in_blocks_and_what_is_to_come_in_lines(half, say):
    before = "".join(text(part_lines(half._replace(behind=()), 80, 22)))
    after = "".join(text(part_lines(half, 80, 22)))
    both = (*half.behind, bent(say, 2, 90.0, mark=780.0, turn=0.0))
    whole = "".join(text(part_lines(half._replace(behind=both, target=None), 80, 22)))
    assert 0 < before.count("█") < after.count("█") < whole.count("█")
    assert "─" in after
    assert "│" in after


def test_before_a_job_is_begun_nothing_is_drawn_as_bent(flat):
    shown = text(part_lines(Part(flat.plan), 80, 22))
    assert "█" not in "".join(shown)
    assert shown[-1] == " ─ planned  o first end"


def test_the_bend_in_work_is_marked_by_brackets_and_ink(half):
    lines = part_lines(half, 80, 22)
    drawing, signs = lines[:-1], lines[-1]
    numbers = [piece for line in drawing for piece in line if piece[1] == "act"]
    assert numbers
    assert {piece for piece, _ in numbers} == {"[2]"}
    assert text([signs]) == [" ─ planned  █ bent so far  [2] bend in work  o first end"]


def test_a_bend_that_came_out_otherwise_leaves_the_plan_beside_it(laid, say):
    target = say.target(bend=2)
    right = Part(laid.plan, "mm", (bent(say, 1, 90.0),), target, under_way=True)
    wrong = right._replace(behind=(bent(say, 1, 120.0),))

    def thin(part):
        return sum(line.count("─") + line.count("│") for line in text(part_lines(part, 100, 28)))

    assert thin(wrong) > thin(right)


def test_the_scale_is_a_round_number_and_said_in_the_jobs_unit():
    assert scale_from(11.3, "mm") == 12.0
    assert scale_from(21.0, "mm") == 25.0
    assert scale_from(101.0, "mm") == 120.0
    assert scale_from(0.4, "mm") == 1.0
    assert scale_from(13.0, "frac") == pytest.approx(19.05)
    assert scale_words(20.0, "mm") == "1 cell = 20 mm by 40 mm"
    assert scale_words(19.05, "frac") == "1 cell = 3/4 in by 1-1/2 in"
    assert scale_words(19.05, "in") == "1 cell = 0.750 in by 1.500 in"


def test_a_length_takes_half_as_many_rows_as_columns(flat):
    part = Part(flat.plan)
    lines, mm_a_column = turned(part, 120, 40, turn_deg=0.0)
    cells = [
        (column, row)
        for row, line in enumerate(text(lines))
        for column, letter in enumerate(line)
        if letter in "─│/\\o"
    ]
    columns, rows = ([cell[axis] for cell in cells] for axis in (0, 1))
    # Over the tangent points the U is 300 + 2 x 60 wide; its legs are 400 + 60, seen at 35 degrees.
    assert (max(columns) - min(columns)) * mm_a_column == pytest.approx(420, abs=mm_a_column)
    high = 460 * math.cos(math.radians(35.264))
    assert (max(rows) - min(rows)) * 2 * mm_a_column == pytest.approx(high, abs=2 * mm_a_column)


def test_turning_changes_the_picture_and_a_whole_turn_brings_it_back(laid):
    part = Part(laid.plan)
    assert turned(part, 60, 18, 45.0) != turned(part, 60, 18, 60.0)
    assert turned(part, 60, 18, 45.0) == turned(part, 60, 18, 405.0)


@pytest.mark.parametrize(
    "size", [(1, 1), (5, 2), (20, 6), (40, 8), (50, 13), (80, 22), (100, 28), (300, 98)]
)
def test_any_size_is_filled_with_glyphs_of_every_consoles_font(laid, half, size):
    width, height = size
    for part in (Part(laid.plan), half, Part(laid.plan, "frac")):
        for turn in (None, 45.0, 90.0):
            lines = part_lines(part, width, height, turn)
            assert len(lines) <= height
            for line in text(lines):
                assert len(line) <= width
                assert {c for c in line if not c.isascii()} <= SAFE
                assert not any(unicodedata.category(c) == "Cc" for c in line)


def test_the_heading_says_the_bend_in_work_with_mark_and_turn(half, flat, say):
    assert text([heading(Part(flat.plan))]) == [" hoop  2 bends"]
    target = say.target(bend=2, bends=2, mark=254.0, turn=90.0)
    assert text([heading(half._replace(target=target, unit="frac"))]) == [
        " hoop  bend 2 of 2  mark 10 in  turn 90.0° clockwise"
    ]


def test_a_part_of_a_hundred_bends_is_drawn(flat):
    turns = tuple(17.0 * at for at in range(100))
    chain = Centreline((120.0,) * 101, turns, (30.0,) * 100, 60.0)
    lines = part_lines(Part(dataclasses.replace(flat.plan, centreline=chain)), 80, 22)
    assert len(lines) == 22
    assert all(name in "".join(text(lines)) for name in ("front", "top", "right", "planned"))
