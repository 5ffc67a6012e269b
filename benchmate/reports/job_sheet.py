"""The job on paper: the tube to scale with its marks, the table, the part in views, cautions.

Composed of plain marks on pages (``layout.paper``), for whatever writes PDF or SVG. Black on white,
nothing that a worn laser printer would lose.
"""

import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from benchmate.layout.cut_list import CutList
from benchmate.layout.plan import Plan, PlannedBend
from benchmate.layout.tape import TapeMarks, tape_marks
from benchmate.reports.page import SIZES, Mark, Paper, PaperPage, Rect, Stroke, Text
from benchmate.reports.part_views import moved, scale_of, views
from benchmate.reports.plan_table import STOPS_SHORT, cut_lines, stops_short
from benchmate.shop.parts import Tube
from benchmate.units import TURN_SEEN, LengthUnit, own_division_mm, show_on_tape, show_size

MARGIN = 12.0
ROW, HEAD = 10.0, 10.5
FIGURES = 5.2
"""Height of the table's parameters: some 15 points, to be read at arm's length and more."""
LINE = 4.2
APART = 3.6
LEAST_VIEW, MOST_VIEW = 40.0, 60.0
CAUTIONS = (
    "Keep hands, sleeves and bystanders clear of the dies, the arm and the tube's sweep: they"
    " pinch, and a loaded tube is a spring.",
    "Hydraulics under pressure: look over hoses and pins first; wear eye protection.",
    "Where a bent part is to save people (cages, guards, lifting), the rule book, the drawing and a"
    " licensed engineer decide, not this sheet.",
)
COLUMNS = (
    (("bend", ""), 12.0),
    (("mark", ""), 25.0),
    (("from the", "mark before"), 24.0),
    (("turn", "the tube"), 24.0),
    (("bend", "angle"), 17.0),
    (("stop", "angle"), 17.0),
    (("first press", "should give"), 22.0),
    (("peak", ""), 17.0),
    (("measured", ""), 18.0),
    (("ok", ""), 10.0),
)
TURNS, STOPS = 3, 5
"""Which of the columns these are."""
ARROW = 2.8
"""Radius of the arrow that says which way to turn."""


def sheet(
    plan: Plan,
    tube: Tube,
    paper: Paper = "a4",
    unit: LengthUnit = "mm",
    *,
    printed: str = "",
    cuts: CutList | None = None,
) -> tuple[PaperPage, ...]:
    """Compose the pages of a job.

    ``printed`` is the day, for the head of it; ``cuts`` how the job's tubes come out of the bars.
    """
    roll = _Roll(*SIZES[paper])
    tape = tape_marks(plan, own_division_mm(unit))
    roll.place(
        _head(plan, tube, roll.room, (unit, show_on_tape(tape.cut_length_mm, unit), printed))
    )
    roll.place(_tube(plan, tube, roll.room, (unit, tape)))
    head, *rows = _table(plan, tape, roll.room, unit)
    roll.place(head)
    for row in rows:
        if row.high > roll.left:
            roll.turn_over()
            roll.place(head)
        roll.place(row)
    roll.place(_notes(plan, roll.room, unit, cuts))
    cautions = _cautions(roll.room)
    high = min(max((roll.left - cautions.high - 11) / 2, LEAST_VIEW), MOST_VIEW)
    marks, tall = views(plan.centreline, tube.od_mm, roll.room, high, unit)
    roll.place(_Block(tall, marks))
    roll.place(cautions)
    return roll.pages(plan.job)


@dataclass(frozen=True, slots=True)
class _Block:
    """Marks that stay together, from (0, 0) down to a height."""

    high: float
    marks: tuple[Mark, ...]


@dataclass(slots=True)
class _Roll:
    """Pages being filled from the top."""

    wide: float
    high: float
    filled: list[list[Mark]] = field(default_factory=lambda: [[]])
    down: float = MARGIN

    @property
    def room(self) -> float:
        return self.wide - 2 * MARGIN

    @property
    def left(self) -> float:
        return self.high - MARGIN - self.down

    def place(self, block: _Block) -> None:
        if block.high > self.left and self.down > MARGIN:
            self.turn_over()
        self.filled[-1] += [moved(mark, MARGIN, self.down) for mark in block.marks]
        self.down += block.high

    def turn_over(self) -> None:
        self.filled.append([])
        self.down = MARGIN

    def pages(self, name: str) -> tuple[PaperPage, ...]:
        last = len(self.filled)
        return tuple(
            PaperPage(
                self.wide,
                self.high,
                (
                    *marks,
                    Text(MARGIN, self.high - 6, name, 2.6),
                    Text(self.wide - MARGIN, self.high - 6, f"{number} / {last}", 2.6, "end"),
                ),
            )
            for number, marks in enumerate(self.filled, start=1)
        )


def _head(plan: Plan, tube: Tube, room: float, said: tuple[LengthUnit, str, str]) -> _Block:
    unit, cut, printed = said
    lot = f", lot {plan.lot}" if plan.lot else ""
    size = f"{show_size(tube.od_mm, unit)} x {show_size(tube.wall_mm, unit)}"
    day = f"printed {printed}" if printed else ""
    return _Block(
        24.0,
        (
            Text(0, 6, plan.job, 6.5, bold=True),
            Text(0, 12, f"die {plan.die}; tube {plan.tube} ({size}, {tube.grade}){lot}", 3.4),
            Text(0, 18, f"cut length {cut}; tolerance {plan.tolerance_deg:g} deg", 4.4, bold=True),
            Text(room, 17.5, day, 2.8, "end"),
            Text(room - 62, 6, "bent", 2.8),
            Stroke(((room - 54, 6.5), (room - 32, 6.5))),
            Text(room - 30, 6, "by", 2.8),
            Stroke(((room - 25, 6.5), (room, 6.5))),
            Stroke(((0, 20), (room, 20)), 0.4),
        ),
    )


def _tube(plan: Plan, tube: Tube, room: float, said: tuple[LengthUnit, TapeMarks]) -> _Block:
    """Draw the straight tube to scale: arcs grey, marks above, lengths from the first end below."""
    unit, tape = said
    scale = scale_of(plan.cut_length_mm / (room - 4))
    top, high = 14.0, max(tube.od_mm / scale, 3.0)
    marks: list[Mark] = [
        Text(0, 3, f"the straight tube, 1 : {scale:g}, lengths from the first end", 3.0, bold=True)
    ]
    marks += [
        Rect(bend.start_mm / scale, top, bend.arc_mm / scale, high, 0.1, fill=0.82)
        for bend in plan.bends
    ]
    marks.append(Rect(0, top, plan.cut_length_mm / scale, high, 0.35))
    told = [(0.0, "0")]
    told += [
        (bend.mark_mm / scale, show_on_tape(mark, unit))
        for bend, mark in zip(plan.bends, tape.marks_mm, strict=True)
    ]
    told.append((plan.cut_length_mm / scale, show_on_tape(tape.cut_length_mm, unit)))
    for bend in plan.bends:
        at = bend.mark_mm / scale
        marks.append(Stroke(((at, top - 4), (at, top + high + 2)), 0.45))
        marks.append(Text(at, top - 5.2, str(bend.bend), 3.4, "middle", bold=True))
    # A tube full of marks has no room for every length: the table has them all.
    told = told[:: math.ceil(len(told) * APART / room)]
    places = _spaced([at for at, _ in told], room)
    for (at, length), place in zip(told, places, strict=True):
        below = top + high
        marks.append(Stroke(((at, below + 2), (place, below + 6), (place, below + 7)), 0.15))
        marks.append(Text(place + 1.0, below + 8, length, 3.0, "end", upright=True))
    return _Block(top + high + 30.0, tuple(marks))


def _spaced(places: Sequence[float], room: float) -> list[float]:
    """Push places to the right, then back from the edge, until no two stand too close to read."""
    spaced: list[float] = []
    for place in places:
        spaced.append(max(place, spaced[-1] + APART) if spaced else place)
    edge = room
    for number in range(len(spaced) - 1, -1, -1):
        spaced[number] = min(spaced[number], edge)
        edge = spaced[number] - APART
    return spaced


def _table(plan: Plan, tape: TapeMarks, room: float, unit: LengthUnit) -> Iterator[_Block]:
    """Draw the bends in bending order, the last three columns to be filled in by hand."""
    yield _head_row()
    for bend, mark, between in zip(plan.bends, tape.marks_mm, tape.between_mm, strict=True):
        yield _row(bend, (show_on_tape(mark, unit), show_on_tape(between, unit)))
    said = ["degrees; should give: the bend angle after the first press, \u00b1: 19 times in 20"]
    if any(round(bend.turn_deg, 1) for bend in plan.bends):
        said.append(
            f"turn: the way of the arrow after the bend before, {TURN_SEEN}; without an arrow: none"
        )
    if stops_short(plan):
        said.append(STOPS_SHORT)
    lines = [line for text in said for line in _wrapped(text, room, 2.8)]
    marks = tuple(Text(0, 4 + LINE * row, line, 2.8) for row, line in enumerate(lines))
    yield _Block(LINE * len(lines) + 2, marks)


def _head_row() -> _Block:
    marks: list[Mark] = []
    across = 0.0
    for (above, below), wide in COLUMNS:
        marks.append(Rect(across, 0, wide, HEAD, 0.2, fill=0.88))
        middle = across + wide / 2
        marks.append(Text(middle, 4.4 if below else 6.4, above, 3.2, "middle", bold=True))
        if below:
            marks.append(Text(middle, 8.6, below, 3.2, "middle", bold=True))
        across += wide
    return _Block(HEAD, tuple(marks))


def _row(bend: PlannedBend, lengths: tuple[str, str]) -> _Block:
    turn = round(bend.turn_deg, 1)
    cells = (
        str(bend.bend),
        *lengths,
        f"{abs(turn):.1f}" if turn else "0",
        f"{bend.bend_angle_deg:.1f}",
        f"{bend.stop_angle_deg:.1f}",
        f"{bend.expected_angle_deg:.1f} \u00b1{2 * bend.expected_sd_deg:.1f}",
        *("", "", ""),
    )
    marks: list[Mark] = []
    across = 0.0
    for column, (text, (_, wide)) in enumerate(zip(cells, COLUMNS, strict=True)):
        marks.append(Rect(across, 0, wide, ROW, 0.2))
        arrow = column == TURNS and turn
        # A length of many signs is set smaller rather than over its neighbour.
        size = min(FIGURES, (wide - 2) / (0.53 * max(len(text), 1)))
        middle = across + wide / 2 - (ARROW + 0.5 if arrow else 0.0)
        marks.append(Text(middle, ROW / 2 + 1.9, text, size, "middle", bold=column == STOPS))
        if arrow:
            marks += _arrow(across + wide - ARROW - 2.0, ROW / 2, clockwise=turn > 0)
        across += wide
    return _Block(ROW, tuple(marks))


def _arrow(x: float, y: float, *, clockwise: bool) -> list[Mark]:
    """Draw an arrow round (x, y), three quarters of a turn, from its bottom or top left."""
    way = 1.0 if clockwise else -1.0
    angles = [
        math.radians(-45 + way * 270 * step / 18 + (90 if way < 0 else 0)) for step in range(19)
    ]

    def at(angle: float, out: float) -> tuple[float, float]:
        # On paper y runs down, so that a growing angle goes clockwise.
        return x + out * math.cos(angle), y + out * math.sin(angle)

    tip = angles[-1]
    back = tip - way * math.radians(38)
    head = (at(back, 1.5 * ARROW), at(tip, ARROW), at(back, 0.55 * ARROW))
    return [Stroke(tuple(at(angle, ARROW) for angle in angles), 0.5), Stroke(head, 0.5)]


def _notes(plan: Plan, room: float, unit: LengthUnit, cuts: CutList | None) -> _Block:
    said = [
        *cut_lines(plan, cuts, unit),
        f"rests on: {', '.join(plan.rests_on)} ({'; '.join(plan.parameters.told(unit))})",
        *(f"warning: {warning}" for warning in plan.warnings),
    ]
    lines = [line for text in said for line in _wrapped(text, room, 2.8)]
    marks = tuple(Text(0, 3 + LINE * row, line, 2.8) for row, line in enumerate(lines))
    return _Block(LINE * len(lines) + 3, marks)


def _cautions(room: float) -> _Block:
    lines = [line for text in CAUTIONS for line in _wrapped(text, room - 6, 2.8)]
    high = LINE * len(lines) + 4
    marks = [Text(3, 5 + LINE * row, line, 2.8) for row, line in enumerate(lines)]
    return _Block(high + 2, (Rect(0, 0, room, high, 0.4), *marks))


def _wrapped(text: str, room: float, size: float) -> list[str]:
    # Over a line of English, type of this kind is 0.45 as wide as high.
    return textwrap.wrap(text, int(room / (0.45 * size)))
