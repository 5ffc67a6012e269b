"""How the bend screen shares out the rows and columns of a terminal."""

from typing import NamedTuple

SIDE_FROM = 72
"""Columns from which bends, hits and sentences stand beside the large number."""
LEAST_STOP = 19
"""Columns in which four narrow digits stand clear of what is beside them."""
STROKE_ROWS = 5
"""Rows of the strokes left, at the foot of the side."""


class Arrangement(NamedTuple):
    """Rows of each part, from the top; 0: the part is left out. Header and footer take one each."""

    number: int
    """The large number, and what stands beside it."""
    bar: int
    word: int
    """0: the word stands in the bar's row."""
    lower: int
    """The two lower numbers; 0: the left one stands beside the large one."""
    told: int
    side: int = 0
    """Columns beside the large number."""
    stop: int = 0
    """Columns of the left lower number where it stands beside the large one."""


def arranged(width: int, height: int, *, numbers: bool = True) -> Arrangement:
    """Share out a terminal; on a small one ``numbers`` says whether these or the word matter more.

    From 22 rows all parts are there. From 15 the word takes the place of the lower numbers while
    it is the answer; below that it is one row, and the stop angle stands beside the large number.
    """
    side = 0 if width < SIDE_FROM else max(21, min(34, width // 4))
    if height < 15:
        told = 1 if numbers else max(1, min(3, height - 8))
        stop = max(LEAST_STOP, (width - side) * 2 // 5) if numbers and width > 2 * LEAST_STOP else 0
        return Arrangement(max(height - 3 - told, 1), 1, 0, 0, told, side, stop)
    if height < 22:
        told = 0 if numbers else 1
        lower = 5
        return _middle(height, lower, told, side, numbers=numbers)
    bar, told = (3, 3) if height >= 40 else (1, 1)
    rest = height - 2 - bar - told
    lower = max(6, rest * 7 // 26)
    word = max(5, rest * 6 // 26)
    return Arrangement(rest - word - lower, bar, word, lower, told, side)


def _middle(height: int, lower: int, told: int, side: int, *, numbers: bool) -> Arrangement:
    spare = height - 15
    if numbers:
        return Arrangement(7 + spare // 2, 1, 0, lower + spare - spare // 2, told, side)
    # A blank row where the bar would be keeps the word clear of the number.
    return Arrangement(6 + spare // 2, 1, lower, 0, told + spare - spare // 2, side)
