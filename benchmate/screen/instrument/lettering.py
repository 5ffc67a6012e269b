"""Large digits, letters and signs out of coloured cells: five by seven pixels, stretched to a size.

Horizontal strokes lie in pixel rows 0, 3 and 6 and vertical ones in columns 0 and 4, so that a
letter can be cut to any number of cells while all strokes of one kind keep one thickness. A 1
without a foot, an open 4, a straight 7, and a decimal point as large as a stroke's full block with
room on both sides (sizes and shapes: docs/screen.md).
"""

from typing import NamedTuple

CELL_ASPECT = 2.0
"""A terminal cell is about twice as high as wide."""
WIDEST = 0.7
"""A digit's width over its height, at most."""
LEAST_ROWS = 5
LEAST_COLUMNS = 3
"""Of a digit: below five its strokes leave but one cell between them."""
LEAST_LETTER_COLUMNS = 5
"""Of a letter: M, N and W need their inner strokes."""
LETTER_GAP = 1

_ROUND = ".###."
_BOTH = "#...#"
_LEFT = "#...."
_RIGHT = "....#"
_FULL = "#####"
_STEM = "..#.."
_NONE = "....."
_LID = "####."

GLYPHS: dict[str, tuple[str, ...]] = {
    "0": (_ROUND, _BOTH, _BOTH, _BOTH, _BOTH, _BOTH, _ROUND),
    "1": (_STEM, ".##..", _STEM, _STEM, _STEM, _STEM, _STEM),
    "2": (_ROUND, _BOTH, _RIGHT, "..##.", ".##..", _LEFT, _FULL),
    "3": (_ROUND, _BOTH, _RIGHT, "..##.", _RIGHT, _RIGHT, _ROUND),
    "4": (_BOTH, _BOTH, _BOTH, _FULL, _RIGHT, _RIGHT, _RIGHT),
    "5": (_FULL, _LEFT, _LEFT, _LID, _RIGHT, _RIGHT, _LID),
    "6": (_ROUND, _LEFT, _LEFT, _LID, _BOTH, _BOTH, _ROUND),
    "7": (_FULL, _RIGHT, _RIGHT, "..##.", _STEM, _STEM, _STEM),
    "8": (_ROUND, _BOTH, _BOTH, _ROUND, _BOTH, _BOTH, _ROUND),
    "9": (_ROUND, _BOTH, _BOTH, ".####", _RIGHT, _RIGHT, _ROUND),
    "-": (_NONE, _NONE, _NONE, _ROUND, _NONE, _NONE, _NONE),
    "+": (_NONE, _STEM, _STEM, _FULL, _STEM, _STEM, _NONE),
    " ": (_NONE,) * 7,
    "A": (_ROUND, _BOTH, _BOTH, _FULL, _BOTH, _BOTH, _BOTH),
    "B": (_LID, _BOTH, _BOTH, _LID, _BOTH, _BOTH, _LID),
    "C": (_ROUND, _BOTH, _LEFT, _LEFT, _LEFT, _BOTH, _ROUND),
    "D": (_LID, _BOTH, _BOTH, _BOTH, _BOTH, _BOTH, _LID),
    "E": (_FULL, _LEFT, _LEFT, _LID, _LEFT, _LEFT, _FULL),
    "F": (_FULL, _LEFT, _LEFT, _LID, _LEFT, _LEFT, _LEFT),
    "G": (_ROUND, _BOTH, _LEFT, "#.###", _BOTH, _BOTH, _ROUND),
    "H": (_BOTH, _BOTH, _BOTH, _FULL, _BOTH, _BOTH, _BOTH),
    "I": ("#",) * 7,
    "J": (_RIGHT, _RIGHT, _RIGHT, _RIGHT, _RIGHT, _BOTH, _ROUND),
    "K": (_BOTH, "#..#.", "#.#..", "##...", "#.#..", "#..#.", _BOTH),
    "L": (_LEFT, _LEFT, _LEFT, _LEFT, _LEFT, _LEFT, _FULL),
    "M": (_BOTH, "##.##", "##.##", "#.#.#", _BOTH, _BOTH, _BOTH),
    "N": (_BOTH, "##..#", "##..#", "#.#.#", "#..##", "#..##", _BOTH),
    "O": (_ROUND, _BOTH, _BOTH, _BOTH, _BOTH, _BOTH, _ROUND),
    "P": (_LID, _BOTH, _BOTH, _LID, _LEFT, _LEFT, _LEFT),
    "Q": (_ROUND, _BOTH, _BOTH, _BOTH, "#.#.#", "#..#.", ".##.#"),
    "R": (_LID, _BOTH, _BOTH, _LID, "#.#..", "#..#.", _BOTH),
    "S": (".####", _LEFT, _LEFT, _ROUND, _RIGHT, _RIGHT, _LID),
    "T": (_FULL, _STEM, _STEM, _STEM, _STEM, _STEM, _STEM),
    "U": (_BOTH, _BOTH, _BOTH, _BOTH, _BOTH, _BOTH, _ROUND),
    "V": (_BOTH, _BOTH, _BOTH, _BOTH, ".#.#.", ".#.#.", _STEM),
    "W": (_BOTH, _BOTH, _BOTH, "#.#.#", "##.##", "##.##", _BOTH),
    "X": (_BOTH, _BOTH, ".#.#.", _STEM, ".#.#.", _BOTH, _BOTH),
    "Y": (_BOTH, _BOTH, ".#.#.", _STEM, _STEM, _STEM, _STEM),
    "Z": (_FULL, _RIGHT, "...#.", _STEM, ".#...", _LEFT, _FULL),
    "?": (_ROUND, _BOTH, _RIGHT, "..##.", _STEM, _NONE, _STEM),
    "/": (_RIGHT, _RIGHT, "...#.", _STEM, ".#...", _LEFT, _LEFT),
    "!": ("#", "#", "#", "#", ".", ".", "#"),
    # Signs before a word, for eyes that see no colour.
    "\u25b6": ("#....", "##...", "####.", _FULL, "####.", "##...", "#...."),
    "\u25c0": ("....#", "...##", ".####", _FULL, ".####", "...##", "....#"),
    "\u25a0": (_FULL,) * 7,
    "\u2713": (_RIGHT, _RIGHT, "...##", "#..#.", "#.##.", "###..", ".#..."),
    "\u2715": (_BOTH, _BOTH, ".#.#.", _STEM, ".#.#.", _BOTH, _BOTH),
    "\u2225": ("##.##",) * 7,
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

    def word_width(self, text: str) -> int:
        """Columns of cells that a word takes."""
        letters = sum(_columns_of(letter, self) for letter in text)
        return letters + max(len(text) - 1, 0) * self.gap


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


def word_cut(text: str, width: int, height: int) -> Cut | None:
    """Give the largest cut of a word for a box; None where its letters would run together."""
    rows = _row_cut(height)
    if rows is None:
        return None
    widest = int(WIDEST * CELL_ASPECT * sum(rows))
    for column_count in range(max(widest, LEAST_LETTER_COLUMNS), LEAST_LETTER_COLUMNS - 1, -1):
        stroke = max(1, column_count * 2 // 7)
        gap = max(LETTER_GAP, column_count // 6)
        cut = Cut(_column_cut(column_count, stroke), rows, gap, stroke)
        if cut.word_width(text) <= width:
            return cut
    return None


def runs(text: str, cut: Cut) -> list[list[tuple[bool, int]]]:
    """Give each row of cells of the text as runs of (lit, how many cells)."""
    pictures = [_glyph(character, cut) for character in text]
    space = "." * cut.gap
    return [_as_runs(space.join(rows)) for rows in zip(*pictures, strict=True)]


def _glyph(character: str, cut: Cut) -> list[str]:
    if character == ".":
        stroke = cut.rows[-1]
        dark, lit = "." * cut.point, "#" * cut.point
        return [dark] * (cut.height - stroke) + [lit] * stroke
    if character == " ":
        return ["." * _columns_of(character, cut)] * cut.height
    rows = []
    for pixels, repeat in zip(GLYPHS[character], cut.rows, strict=True):
        columns = cut.columns if len(pixels) > 1 else (cut.point,)
        cells = "".join(pixel * wide for pixel, wide in zip(pixels, columns, strict=True))
        rows += [cells] * repeat
    return rows


def _columns_of(character: str, cut: Cut) -> int:
    if character == ".":
        return cut.point
    if character == " ":
        return max(sum(cut.columns) // 3, 1)
    return cut.point if len(GLYPHS[character][0]) == 1 else sum(cut.columns)


def _row_cut(height: int) -> tuple[int, ...] | None:
    """Cut a height into strokes s and openings g with 3 s + 2 g rows, s near to a seventh.

    Where that leaves a row over, the lower opening takes it: as a printed 8 or B has it.
    """
    if height < LEAST_ROWS:
        return None
    stroke = max(1, round(height / 7))
    upper, odd = divmod(height - 3 * stroke, 2)
    return (stroke, *_halves(upper), stroke, *_halves(upper + odd), stroke)


def _halves(opening: int) -> tuple[int, int]:
    return opening // 2, opening - opening // 2


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
