"""Lines of a drawing as cells of text, which are about twice as high as wide.

Only ASCII, light box lines and the full block are used: every console's font has them.
"""

import math
from collections.abc import Iterable
from itertools import groupby
from typing import NamedTuple

from benchmate.screen.instrument.lettering import CELL_ASPECT
from benchmate.screen.words.ink import Ink, Line

ACROSS, UPRIGHT, RISING, FALLING = "\u2500", "\u2502", "/", "\\"
BLOCK = "\u2588"
SLANT = 0.4
"""A line of fewer rows a column is drawn level, one of fewer columns a row upright."""


class Viewport(NamedTuple):
    """Where on the canvas a drawing stands: its point (left, top) in the cell at column, row."""

    column: float
    row: float
    left_mm: float
    top_mm: float
    mm_a_column: float

    def cell(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Give the column and row of a point, in parts of cells; y goes up and rows go down."""
        across = self.column + (x_mm - self.left_mm) / self.mm_a_column
        down = self.row + (self.top_mm - y_mm) / (CELL_ASPECT * self.mm_a_column)
        return across, down


class Canvas:
    """A field of cells to draw on; what lies outside of it is left out."""

    def __init__(self, width: int, height: int) -> None:
        """Begin with blank cells."""
        self.width, self.height = width, height
        self._cells: dict[tuple[int, int], tuple[str, Ink]] = {}

    def put(self, column: int, row: int, text: str, ink: Ink) -> None:
        """Write text from that cell on."""
        for at, letter in enumerate(text, start=column):
            if 0 <= at < self.width and 0 <= row < self.height:
                self._cells[row, at] = (letter, ink)

    def free(self, column: int, row: int, count: int) -> bool:
        """Say whether so many cells from that one on are blank, and on the canvas."""
        inside = 0 <= row < self.height and 0 <= column <= self.width - count
        return inside and not any((row, column + at) in self._cells for at in range(count))

    def line(self, points: Iterable[tuple[float, float]], ink: Ink, *, solid: bool = False) -> None:
        """Draw from point to point, given as columns and rows: thin by its slope, or in blocks."""
        before: tuple[float, float] | None = None
        for point in points:
            if before is not None:
                self._piece(before, point, ink, solid=solid)
            before = point

    def lines(self) -> list[Line]:
        """Give the rows as inked text."""
        return [self._row(row) for row in range(self.height)]

    def _row(self, row: int) -> Line:
        cells = [self._cells.get((row, column), (" ", "plain")) for column in range(self.width)]
        return tuple(
            ("".join(letter for letter, _ in run), ink)
            for ink, run in groupby(cells, key=lambda cell: cell[1])
        )

    def _piece(
        self, one: tuple[float, float], two: tuple[float, float], ink: Ink, *, solid: bool
    ) -> None:
        across, down = two[0] - one[0], two[1] - one[1]
        glyph = BLOCK if solid else _glyph(across, down)
        steps = max(1, math.ceil(max(abs(across), abs(down))))
        for step in range(steps + 1):
            column = nearest_cell(one[0] + across * step / steps)
            row = nearest_cell(one[1] + down * step / steps)
            self.put(column, row, glyph, ink)


def nearest_cell(at: float) -> int:
    """Give the cell that a place falls into; halves all go one way, else lines get holes."""
    return math.floor(at + 0.5)


def _glyph(across: float, down: float) -> str:
    if abs(down) < SLANT * abs(across):
        return ACROSS
    if abs(across) < SLANT * abs(down):
        return UPRIGHT
    return RISING if (across > 0) != (down > 0) else FALLING
