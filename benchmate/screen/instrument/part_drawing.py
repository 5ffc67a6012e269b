"""The part drawn in cells: as planned in thin lines, as bent so far in blocks over it."""

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, NamedTuple

from benchmate.screen.instrument.canvas import ACROSS, BLOCK, Canvas, Viewport, nearest_cell
from benchmate.screen.instrument.lettering import CELL_ASPECT
from benchmate.screen.state.shown_bend import ShownBend
from benchmate.screen.words.ink import Ink, Line
from benchmate.stream import Target
from benchmate.units import LengthUnit, length_mm, show_length

if TYPE_CHECKING:
    from benchmate.layout.centreline import Centreline
    from benchmate.layout.plan import Plan
    from benchmate.layout.projection import Projection

ISOMETRIC_DEG = 45.0
THREE_FROM = (56, 13)
"""Columns and rows from which three views are told apart."""
EDGE = (3, 1)
"""Columns and rows round a view, for the bends' numbers."""
GAP = 2
_MM_STEPS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)
_INCH_STEPS = ("1/8", "1/4", "3/8", "1/2", "3/4", "1", "1-1/2", "2", "3", "4", "6", "8", "12", "24")


class Part(NamedTuple):
    """What there is to draw: the plan, the bends done with, and the one in work."""

    plan: "Plan"
    unit: LengthUnit = "mm"
    behind: tuple[ShownBend | None, ...] = ()
    target: Target | None = None
    """Of the bend in work; None where there is none."""
    under_way: bool = False
    """Whether the job is being bent: then what is bent so far is drawn."""

    @property
    def in_work(self) -> int:
        """The number of the bend in work; 0: none."""
        return 0 if self.target is None else self.target.bend


def part_lines(part: Part, width: int, height: int, turn_deg: float | None = None) -> list[Line]:
    """Draw the part into so many cells, the last row but one its scale, the last its signs.

    Three views where there is room, unless it is asked for turned about its upright by an angle.
    """
    if width < 1 or height < 1:
        return []
    rows = max(height - 2, 1)
    if turn_deg is None and three_fit(width, height):
        lines, mm_a_column = _three(part, width, rows)
    else:
        lines, mm_a_column = turned(part, width, rows, turn_deg)
    words: list[Line] = [((f" {scale_words(mm_a_column, part.unit)}"[:width], "dim"),)]
    return [*lines, *words, _signs(part, width)][:height]


def three_fit(width: int, height: int) -> bool:
    """Say whether three views have room enough to be told apart."""
    return width >= THREE_FROM[0] and height >= THREE_FROM[1]


def turned(
    part: Part, width: int, height: int, turn_deg: float | None = None
) -> tuple[list[Line], float]:
    """Draw one view from above, turned; give the rows and how many mm a column is."""
    from benchmate.layout.projection import turned_view

    asked = ISOMETRIC_DEG if turn_deg is None else turn_deg
    planned, bent = _chains(part)
    view = turned_view(planned, turn_deg=asked, as_bent=bent)
    across, up = _size(view)
    most = max(across / max(width - 1 - 2 * EDGE[0], 1), up / _mm_high(height - 1 - 2 * EDGE[1]))
    mm_a_column = scale_from(most, part.unit)
    canvas = Canvas(width, height)
    left = max((width - across / mm_a_column) / 2, 0)
    top = max((height - up / (CELL_ASPECT * mm_a_column)) / 2, 0)
    _draw(canvas, view, (int(left), int(top)), mm_a_column, part.in_work)
    return canvas.lines(), mm_a_column


def scale_from(mm_a_column: float, unit: LengthUnit) -> float:
    """Give the next coarser scale that is said in a round number, mm a column."""
    if unit != "mm":
        inches = [length_mm(f"{step} in") for step in _INCH_STEPS]
        return next((step for step in inches if step >= mm_a_column), mm_a_column)
    decade = 1.0
    while decade * _MM_STEPS[-1] < mm_a_column:
        decade *= 10.0
    return next(decade * step for step in _MM_STEPS if decade * step >= mm_a_column)


def scale_words(mm_a_column: float, unit: LengthUnit) -> str:
    """Say how wide and how high a cell is on the part."""
    wide, high = mm_a_column, CELL_ASPECT * mm_a_column
    if unit == "mm":
        return f"1 cell = {wide:g} mm by {high:g} mm"
    return f"1 cell = {show_length(wide, unit)} by {show_length(high, unit)}"


def _three(part: Part, width: int, height: int) -> tuple[list[Line], float]:
    """Draw front, top and right: in a row, or the top over the front, whichever is larger."""
    from benchmate.layout.projection import three_views

    planned, bent = _chains(part)
    views = three_views(planned, bent)
    (wide, high), (_, deep) = _size(views[0]), _size(views[1])
    fits = [
        (max(_over(width, across, views=count_across), _over_rows(height, up, count_up)), placed)
        for across, up, count_across, count_up, placed in (
            (2 * wide + deep, max(high, deep), 3, 1, _in_a_row),
            (wide + deep, high + deep, 2, 2, _top_over_front),
        )
    ]
    most, place = min(fits, key=lambda fit: fit[0])
    mm_a_column = scale_from(most, part.unit)
    canvas = Canvas(width, height)
    cells = [_cells(view, mm_a_column) for view in views]
    places = place(cells)
    for view, (column, row) in zip(views, places, strict=True):
        at = (column + EDGE[0], row + 1 + EDGE[1])
        _draw(canvas, view, at, mm_a_column, part.in_work)
    for view, (column, row) in zip(views, places, strict=True):
        canvas.put(column, row, view.name, "dim")
    return canvas.lines(), mm_a_column


Place = Callable[[Sequence[tuple[int, int]]], list[tuple[int, int]]]


def _in_a_row(cells: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    places, column = [], 1
    for across, _ in cells:
        places.append((column, 0))
        column += across + GAP
    return places


def _top_over_front(cells: Sequence[tuple[int, int]]) -> list[tuple[int, int]]:
    (front, _), (_, above), _ = cells
    return [(1, above), (1, 0), (1 + front + GAP, above)]


def _cells(view: "Projection", mm_a_column: float) -> tuple[int, int]:
    """Give the columns and rows that a view takes with its name and the room round it."""
    across, up = _size(view)
    columns = int(across / mm_a_column) + 2 + 2 * EDGE[0]
    rows = int(up / (CELL_ASPECT * mm_a_column)) + 2 + 2 * EDGE[1]
    return max(columns, len(view.name)), rows + 1


def _over(width: int, across_mm: float, views: int) -> float:
    return across_mm / max(width - 1 - views * (2 + 2 * EDGE[0]) - (views - 1) * GAP, 1)


def _over_rows(height: int, up_mm: float, views: int) -> float:
    return up_mm / _mm_high(height - views * (3 + 2 * EDGE[1]))


def _mm_high(rows: int) -> float:
    """Give how many columns' widths so many rows are high, of one at least a little."""
    return CELL_ASPECT * max(rows, 0.5)


def _chains(part: Part) -> "tuple[Centreline, Centreline | None]":
    plan = part.plan
    if not part.under_way:
        return plan.centreline, None
    from benchmate.layout.as_bent import AsBent, bent_so_far

    offset = plan.parameters.start_offset_mm.value
    done = [
        AsBent(
            angle_deg=None if seen is None or seen.verdict is None else seen.verdict.bend_angle,
            turn_deg=None if seen is None else seen.turn,
            start_mm=None if seen is None or seen.mark is None else seen.mark + offset,
        )
        for seen in part.behind
    ]
    return plan.centreline, bent_so_far(plan.layout, done)


def _size(view: "Projection") -> tuple[float, float]:
    left, bottom, right, top = view.box()
    return right - left, top - bottom


def _draw(
    canvas: Canvas, view: "Projection", at: tuple[int, int], mm_a_column: float, in_work: int
) -> None:
    left, _, _, top = view.box()
    frame = Viewport(*at, left, top, mm_a_column)
    inks: tuple[tuple[Ink, bool], ...] = (("dim", False), ("bold", True))
    for line, (ink, solid) in zip(view.lines, inks, strict=False):
        canvas.line((frame.cell(*map(float, point)) for point in line), ink, solid=solid)
    first = frame.cell(*map(float, view.lines[0][0]))
    canvas.put(nearest_cell(first[0]), nearest_cell(first[1]), "o", "bold")
    for label in view.labels:
        middle = frame.cell(label.x_mm, label.y_mm)
        here = label.text == str(in_work)
        text, ink = (f"[{label.text}]", "act") if here else (label.text, "plain")
        _number(canvas, middle, (label.out_x, -label.out_y), text, ink)


def _number(
    canvas: Canvas, middle: tuple[float, float], out: tuple[float, float], text: str, ink: Ink
) -> None:
    """Write a bend's number where there is room, on its outside if possible."""
    for far in (1.0, 1.5, 2.0, -1.0, -1.5, -2.0, 3.0, -3.0):
        column = nearest_cell(middle[0] + far * 2 * out[0] - (len(text) - 1) / 2)
        row = nearest_cell(middle[1] + far * out[1])
        if canvas.free(column, row, len(text)):
            canvas.put(column, row, text, ink)
            return


def _signs(part: Part, width: int) -> Line:
    """Say what the signs of the drawing mean, as far as it fits."""
    signs: list[tuple[str, Ink, str]] = [("o", "bold", "first end")]
    if part.in_work:
        signs.insert(0, (f"[{part.in_work}]", "act", "bend in work"))
    if part.under_way:
        signs.insert(0, (BLOCK, "bold", "bent so far"))
    signs.insert(0, (ACROSS, "dim", "planned"))
    line: list[tuple[str, Ink]] = []
    used = 0
    for sign, ink, words in signs:
        used += len(sign) + len(words) + 3
        if used <= width:
            line += [(" ", "plain"), (sign, ink), (f" {words} ", "dim")]
    return tuple(line)
