"""The bent part drawn on paper: four views to one scale, dimensioned, bends numbered in order.

What lies behind nearer tube is hidden by it. Lengths stand along straights and angles at bends,
each in the view that shows it best.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import NamedTuple, TypeAlias

from benchmate.layout.centreline import Centreline
from benchmate.layout.projection import Projection, Straight, three_views, turned_view
from benchmate.reports.page import Mark, PaperPage, Rect, Stroke, Text
from benchmate.units import LengthUnit, show_size

Point: TypeAlias = tuple[float, float]
SCALES = (1, 2, 2.5, 4, 5, 8, 10, 12.5, 15, 20, 25, 30, 40, 50, 75, 100)
"""Usual ones of drawings, paper to part."""
DIMENSION = 2.6
NUMBER = 3.0
"""Heights of type, mm."""
LEAST_SEEN = 0.3
"""Part of a straight's length from which it is dimensioned."""
EDGE = 0.25
"""Width of the tube's edges."""
WIDE, HIGH = 180.0, 130.0
"""A drawing by itself."""


class _Frame(NamedTuple):
    """What all views of a part share, mm on paper."""

    thick: float
    """Of the tube as drawn."""
    scale: float
    wide: float
    high: float
    unit: LengthUnit
    angles: frozenset[tuple[str, str]]
    """View and bend of the angles that are told."""


def scale_of(least: float) -> float:
    """Give the next larger scale of the usual ones; for giants, whatever fits."""
    return next((scale for scale in SCALES if scale >= least), math.ceil(least))


def drawing(part: Centreline, od_mm: float, name: str, unit: LengthUnit) -> PaperPage:
    """Give a page with nothing but the part's views and its name."""
    high = (HIGH - 16) / 2
    marks, _ = views(part, od_mm, WIDE - 10, high, unit)
    head = Text(5, 7, name, 4.0, bold=True)
    return PaperPage(WIDE, HIGH, (head, *(moved(mark, 5.0, 9.0) for mark in marks)))


def views(
    part: Centreline, od_mm: float, room: float, high: float, unit: LengthUnit
) -> tuple[tuple[Mark, ...], float]:
    """Draw front and top, right and turned, each pair in a row; give marks and their height."""
    shown = _told_once([*three_views(part), turned_view(part)])
    wide = room / 2 - 1
    boxes = [view.box() for view in shown]
    largest = max(
        max((right - left) / (wide - 22), (top - bottom) / (high - 22))
        for left, bottom, right, top in boxes
    )
    scale = scale_of(largest)
    # Thinner than this, two edges and a middle line run into one another.
    thick = max(od_mm / scale, 1.0)
    frame = _Frame(thick, scale, wide, high, unit, frozenset(_angles_told(shown)))
    marks: list[Mark] = []
    for number, view in enumerate(shown):
        across, down = (number % 2) * (room / 2 + 1), (number // 2) * (high + 2)
        marks += [moved(mark, across, down) for mark in _view(view, frame)]
    radius = show_size(part.radius_mm, unit)
    said = f"the part, 1 : {scale:g}; radius {radius} to the middle; true lengths between arcs"
    marks.append(Text(room, 2 * high + 5, said, 2.6, "end"))
    return tuple(marks), 2 * high + 9


def moved(mark: Mark, right: float, down: float) -> Mark:
    """Give the mark so far to the right and down."""
    if isinstance(mark, Stroke):
        return replace(mark, points=tuple((x + right, y + down) for x, y in mark.points))
    return replace(mark, x=mark.x + right, y=mark.y + down)


def _told_once(shown: Sequence[Projection]) -> list[Projection]:
    """Leave each dimension in the view that shows it best; the last view has none."""
    flat = shown[:-1]
    best_of_straight = [
        max(range(len(flat)), key=lambda view: (round(flat[view].straights[number].seen, 2), -view))
        for number in range(len(flat[0].straights))
    ]
    told = []
    for number, view in enumerate(flat):
        straights = [
            straight
            for straight, best in zip(view.straights, best_of_straight, strict=True)
            if best == number
        ]
        told.append(replace(view, straights=tuple(straights)))
    return [*told, replace(shown[-1], straights=())]


def _angles_told(shown: Sequence[Projection]) -> set[tuple[str, str]]:
    """Name view and bend of each angle that is told: where the bend faces the viewer most."""
    best: dict[str, tuple[float, str]] = {}
    for view in shown[:-1]:
        for label in view.labels:
            faces = round(label.faces, 2)
            if label.text not in best or faces > best[label.text][0]:
                best[label.text] = (faces, view.name)
    return {(view, bend) for bend, (_, view) in best.items()}


def _view(view: Projection, frame: "_Frame") -> list[Mark]:
    thick, scale, wide, high = frame.thick, frame.scale, frame.wide, frame.high
    left, bottom, right, top = view.box()
    middle, level = (left + right) / 2, (bottom + top) / 2

    def at(x: float, y: float) -> Point:
        return wide / 2 + (x - middle) / scale, high / 2 + 2 - (y - level) / scale

    marks: list[Mark] = [Rect(0, 0, wide, high, 0.15), Text(2, 4, view.name, 2.8, bold=True)]
    line = [at(float(x), float(y)) for x, y in view.lines[0]]
    marks += tube_marks(line, view, thick)
    marks.append(Stroke(tuple(line), 0.1, dash=1.5))
    for straight in view.straights:
        marks += _length(straight, at, frame)
    for label in view.labels:
        x, y = at(label.x_mm, label.y_mm)
        told = (view.name, label.text) in frame.angles
        away = thick / 2 + 3.4 + (1.6 * abs(label.out_x) if told else 0.0)
        # Number and angle stand over one another, clear of the tube.
        up = DIMENSION * max(label.out_y, 0.0) if told else 0.0
        place = x + away * label.out_x, y - away * label.out_y + 1.0 - up
        marks.append(Text(*place, label.text, NUMBER, "middle", bold=True))
        if told:
            below = place[0], place[1] + DIMENSION + 0.3
            marks.append(Text(*below, f"{label.angle_deg:.4g}\u00b0", DIMENSION, "middle"))
    return marks


def tube_marks(line: Sequence[Point], view: Projection, thick: float) -> list[Mark]:
    """Draw the tube's two edges, the farthest piece first, so that nearer tube hides it."""
    depths = [float(depth) for depth in view.depths]
    cut = _cut_up(line, depths)
    marks: list[Mark] = []
    for _, number in sorted((near, number) for number, (near, _) in enumerate(cut)):
        start, end = cut[number][1]
        before = cut[number - 1][1][0] if number else start
        behind = cut[number + 1][1][1] if number + 1 < len(cut) else end
        marks.append(Stroke((start, end), thick + 2 * EDGE))
        # Over its neighbours' ends too: their edges don't cross the tube.
        inside = (_towards(start, before, thick), start, end, _towards(end, behind, thick))
        marks.append(Stroke(inside, thick, grey=1.0))
    return marks


def _cut_up(
    line: Sequence[Point], depths: Sequence[float]
) -> list[tuple[float, tuple[Point, Point]]]:
    """Give how near each piece of the line is, and the piece; those that run away in short ones."""
    found = []
    for piece in range(len(line) - 1):
        (x0, y0), (x1, y1) = line[piece], line[piece + 1]
        away = depths[piece + 1] - depths[piece]
        many = 12 if abs(away) > 1.0 else 1
        for low, high in pairwise(step / many for step in range(many + 1)):
            start = (x0 + low * (x1 - x0), y0 + low * (y1 - y0))
            end = (x0 + high * (x1 - x0), y0 + high * (y1 - y0))
            found.append((depths[piece] + (low + high) / 2 * away, (start, end)))
    return found


def _towards(start: Point, end: Point, by: float) -> Point:
    """Give the point so far from the start towards the end, the end itself where it is nearer."""
    length = math.hypot(end[0] - start[0], end[1] - start[1])
    part = 1.0 if length <= by else by / length
    return start[0] + part * (end[0] - start[0]), start[1] + part * (end[1] - start[1])


def _length(straight: Straight, at: Callable[[float, float], Point], frame: "_Frame") -> list[Mark]:
    """Draw a straight's length beside it, with ticks at its ends; none where it has no room."""
    if straight.seen < LEAST_SEEN:
        return []
    text = show_size(straight.length_mm, frame.unit)
    long = straight.length_mm * straight.seen / frame.scale
    if long < 4.0:
        return []
    along = straight.along_x / straight.seen, -straight.along_y / straight.seen
    # The side that is left of or above the tube: the numbers of bends stand outside of it.
    across = (-along[1], along[0]) if along[0] < 0 else (along[1], -along[0])
    x, y = at(straight.x_mm, straight.y_mm)
    off = frame.thick / 2 + 1.8
    x, y = x + off * across[0], y + off * across[1]
    ends = [(x + way * along[0] * long / 2, y + way * along[1] * long / 2) for way in (-1, 1)]
    marks: list[Mark] = [Stroke((ends[0], ends[1]), 0.1)]
    marks += [
        Stroke(((px - across[0], py - across[1]), (px + across[0], py + across[1])), 0.15)
        for px, py in ends
    ]
    if abs(along[0]) < 0.3:
        # Upright text beside an upright tube.
        place = x + 0.8 * across[0] + (0.0 if across[0] < 0 else DIMENSION), y
        wide = 0.27 * DIMENSION * len(text)
        return [*marks, Text(place[0], place[1] + wide, text, DIMENSION, upright=True)]
    anchor_end = across[0] < -0.3
    place = x + 1.0 * across[0], y + 1.0 * across[1] - 0.2
    return [
        *marks,
        Text(
            *place,
            text,
            DIMENSION,
            "end" if anchor_end else "middle" if abs(along[0]) > 0.95 else "start",
        ),
    ]
