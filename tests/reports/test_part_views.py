"""The part on paper: each length and angle once, nearer tube over what lies behind it."""

import numpy as np
import pytest

from benchmate.layout.centreline import Centreline
from benchmate.layout.projection import Projection
from benchmate.reports.page import Stroke, Text
from benchmate.reports.part_views import drawing, moved, scale_of, tube_marks

IN_SPACE = Centreline((300.0, 220.0, 260.0), (0.0, 90.0), (90.0, 45.0), 75.0)


def texts(page):
    return [mark.text for mark in page.marks if isinstance(mark, Text)]


def test_each_straight_and_each_angle_is_dimensioned_once():
    said = texts(drawing(IN_SPACE, 25.0, "gate", "mm"))
    for each in ("300 mm", "220 mm", "260 mm", "90\u00b0", "45\u00b0"):
        assert said.count(each) == 1


def test_the_radius_and_the_scale_stand_under_it_in_the_shops_unit():
    part = Centreline((300.0, 300.0), (0.0,), (90.0,), 66.675)
    said = texts(drawing(part, 22.225, "gate", "frac"))
    assert any("radius 2-5/8 in" in each for each in said)


def test_all_stays_on_the_page():
    page = drawing(IN_SPACE, 25.0, "gate", "mm")
    places = [place for mark in page.marks if isinstance(mark, Stroke) for place in mark.points]
    assert all(0 <= x <= page.wide and 0 <= y <= page.high for x, y in places)


@pytest.mark.parametrize("way", [1.0, -1.0], ids=["last leg nearer", "first leg nearer"])
def test_the_nearer_leg_of_a_crossing_is_drawn_over_the_farther(way):
    line = [(0.0, 0.0), (100.0, 0.0), (50.0, 50.0), (50.0, -50.0)]
    depths = np.array([0.0, 0.0, 20.0, 20.0]) * way
    view = Projection("front", (np.array(line),), (), depths)
    strokes = [mark.points for mark in tube_marks(line, view, 4.0) if mark.grey == 1.0]
    first, last = (
        next(at for at, points in enumerate(strokes) if leg <= set(points))
        for leg in ({line[0], line[1]}, {line[2], line[3]})
    )
    assert (last > first) == (way > 0)


def test_scales_are_the_usual_ones():
    assert [scale_of(least) for least in (0.3, 1.1, 6.0, 130.0)] == [1, 2, 8, 130]


def test_a_mark_moves_whole():
    assert moved(Stroke(((0, 0), (1, 2))), 3, 4).points == ((3, 4), (4, 6))
