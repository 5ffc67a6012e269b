"""How the bend screen shares out the rows and columns of a terminal."""

from typing import NamedTuple

LEAST_STOP = 19
"""Columns in which four narrow digits stand clear of what is beside them."""


class Sizes(NamedTuple):
    """Rows of each part and the width of the side panel; 0: the part is left out."""

    live: int
    label: int
    pair: int
    """Rows of the stop angle and the to-go digits; 0: the stop angle stands beside the arm's."""
    cue: int
    status: int
    """0: hit, strokes and deviations stand at the right of the top line where there is room."""
    told: int
    """0: what is to be told stands in the bottom line, or where the to-go digits are."""
    side: int
    """Columns."""
    beside: int = 0
    """Columns of the stop angle where it stands beside the arm angle."""


def share(width: int, height: int, *, steering: bool = True) -> Sizes:
    """Share out a terminal of that size; header and footer take one row each.

    On the smallest the lamps and labels make room for words while nobody is ``steering``.
    """
    side = 0 if width < 72 else max(19, min(34, width // 4 - 1))
    if height < 15:
        return _small(width - side, height, side, steering=steering)
    cue = 3 if height >= 28 else 2 if height >= 24 else 1
    status, told = 1, 2 if height >= 26 else 1
    if height in {24, 25}:
        # The usual terminal: a second row for words, the status on the top line.
        status, told = 0, 2
    elif height in {15, 16}:
        # A panel with large letters: all that can be spared goes to the three numbers.
        status, told = 0, height - 15
    rest = height - 2 - cue - status - told
    if height >= 40:
        label, pair = 1, (rest - 1) * 2 // 5
    elif height >= 22:
        label, pair = 1, 7
    else:
        label, pair = 0, 5
    return Sizes(max(1, rest - label - pair), label, pair, cue, status, told, side)


def _small(room: int, height: int, side: int, *, steering: bool) -> Sizes:
    status = 1 if height >= 12 else 0
    label, cue, told = (1, 1, 1) if steering else (0, 0, 3)
    live = max(1, height - 2 - label - cue - status - told)
    return Sizes(live, label, 0, cue, status, told, side, max(LEAST_STOP, room * 2 // 5))
