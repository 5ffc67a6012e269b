"""Large numbers out of coloured cells: digits of five by seven pixels, stretched to any size.

Horizontal strokes lie in pixel rows 0, 3 and 6 and vertical ones in columns 0 and 4, so that a
digit can be cut to any number of cells while all strokes of one kind keep one thickness. A 1
without a foot, an open 4, a straight 7, and a decimal point as large as a stroke's full block with
room on both sides.
"""

import math
from typing import NamedTuple

CELL_ASPECT = 2.0
"""A terminal cell is about twice as high as wide."""
WIDEST = 0.7
"""A digit's width over its height, at most."""
LEAST_ROWS = 5
LEAST_COLUMNS = 3
"""Of a digit: below five its strokes leave but one cell between them."""

_ROUND = ".###."
_BOTH = "#...#"
_LEFT = "#...."
_RIGHT = "....#"
_FULL = "#####"
_STEM = "..#.."
_NONE = "....."

GLYPHS: dict[str, tuple[str, ...]] = {
    "0": (_ROUND, _BOTH, _BOTH, _BOTH, _BOTH, _BOTH, _ROUND),
    "1": (_STEM, ".##..", _STEM, _STEM, _STEM, _STEM, _STEM),
    "2": (_ROUND, _BOTH, _RIGHT, "..##.", ".##..", _LEFT, _FULL),
    "3": (_ROUND, _BOTH, _RIGHT, "..##.", _RIGHT, _RIGHT, _ROUND),
    "4": (_BOTH, _BOTH, _BOTH, _FULL, _RIGHT, _RIGHT, _RIGHT),
    "5": (_FULL, _LEFT, _LEFT, "####.", _RIGHT, _RIGHT, "####."),
    "6": (_ROUND, _LEFT, _LEFT, "####.", _BOTH, _BOTH, _ROUND),
    "7": (_FULL, _RIGHT, _RIGHT, "..##.", _STEM, _STEM, _STEM),
    "8": (_ROUND, _BOTH, _BOTH, _ROUND, _BOTH, _BOTH, _ROUND),
    "9": (_ROUND, _BOTH, _BOTH, ".####", _RIGHT, _RIGHT, _ROUND),
    "-": (_NONE, _NONE, _NONE, _ROUND, _NONE, _NONE, _NONE),
    " ": (_NONE,) * 7,
}


class Cut(NamedTuple):
    """How many cells each pixel column and row takes, and the room between digits."""

    columns: tuple[int, ...]
    rows: tuple[int, ...]
    gap: int
    point: int
    """Width of the decimal point in cells; it is as high as a horizontal stroke."""

    @property
    def height(self) -> int:
        """Rows of cells that a number takes."""
        return sum(self.rows)

    def width(self, digits: int) -> int:
        """Columns of cells that a number of so many digits, one behind the point, takes."""
        return digits * sum(self.columns) + digits * self.gap + self.point


def cut_to(digits: int, width: int, height: int) -> Cut | None:
    """Give the largest cut of so many digits (one behind the point) for a box; None: too small."""
    rows = _row_cut(height)
    if rows is None:
        return None
    widest = int(WIDEST * CELL_ASPECT * sum(rows))
    for column_count in range(max(widest, LEAST_COLUMNS), LEAST_COLUMNS - 1, -1):
        stroke = max(1, column_count * 2 // 7)
        cut = Cut(_column_cut(column_count, stroke), rows, max(1, column_count // 6), stroke)
        if cut.width(digits) <= width:
            return cut
    return None


def runs(text: str, cut: Cut) -> list[list[tuple[bool, int]]]:
    """Give each row of cells of the number as runs of (lit, how many cells)."""
    pictures = [_glyph(character, cut) for character in text]
    space = "." * cut.gap
    return [_as_runs(space.join(rows)) for rows in zip(*pictures, strict=True)]


def _glyph(character: str, cut: Cut) -> list[str]:
    if character == ".":
        stroke = cut.rows[-1]
        dark, lit = "." * cut.point, "#" * cut.point
        return [dark] * (cut.height - stroke) + [lit] * stroke
    rows = []
    for pixels, repeat in zip(GLYPHS[character], cut.rows, strict=True):
        cells = "".join(pixel * wide for pixel, wide in zip(pixels, cut.columns, strict=True))
        rows += [cells] * repeat
    return rows


def _row_cut(height: int) -> tuple[int, ...] | None:
    """Cut a height into strokes s and openings g with 3 s + 2 g rows, s near to a seventh."""
    for used in range(height, LEAST_ROWS - 1, -1):
        for stroke in (used // 7, math.ceil(used / 7)):
            opening, odd = divmod(used - 3 * stroke, 2)
            if stroke >= 1 and opening >= 1 and not odd and -0.5 <= stroke - used / 7 <= 0.6:
                upper = opening // 2
                lower = opening - upper
                return (stroke, upper, lower, stroke, upper, lower, stroke)
    return None


def _column_cut(count: int, stroke: int) -> tuple[int, ...]:
    inside = count - 2 * stroke
    stem = stroke if (inside - stroke) % 2 == 0 else stroke + 1
    if stem > inside - 2:
        stem = 1 if inside % 2 else 2
    side = (inside - stem) // 2
    return (stroke, side, stem, side, stroke)


def _as_runs(cells: str) -> list[tuple[bool, int]]:
    found: list[tuple[bool, int]] = []
    for cell in cells:
        lit = cell == "#"
        if found and found[-1][0] == lit:
            found[-1] = (lit, found[-1][1] + 1)
        else:
            found.append((lit, 1))
    return found
