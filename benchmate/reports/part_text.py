"""The part drawn in letters, for any terminal: braille dots where they can be shown, else plain."""

import itertools
import math

from benchmate.layout.centreline import Centreline
from benchmate.layout.projection import three_views, turned_view

_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
"""Braille dots by row and column: the Unicode Standard, block Braille Patterns (U+2800)."""


def part_lines(part: Centreline, columns: int, rows: int, *, braille: bool) -> list[str]:
    """Draw the part as seen from the front, or turned where it isn't flat, with its bends numbered.

    One bend after another from the first end; lines are no longer than ``columns``.
    """
    front, top, _ = three_views(part)
    _, low, _, high = top.box()
    view = front if high - low < 1.0 else turned_view(part)
    across, down = (2, 4) if braille else (1, 1)
    wide, tall = columns * across, rows * down
    left, bottom, right, top_mm = view.box()
    # A letter is about twice as high as wide, a braille dot as high as wide.
    aspect = 1.0 if braille else 2.0
    scale = max((right - left) / (wide - 1), (top_mm - bottom) / aspect / (tall - 1), 1e-9)

    def at(x: float, y: float) -> tuple[int, int]:
        return round((x - left) / scale), round((top_mm - y) / scale / aspect)

    dots: set[tuple[int, int]] = set()
    for one, two in itertools.pairwise(view.lines[0].tolist()):
        (x0, y0), (x1, y1) = at(*one), at(*two)
        steps = max(abs(x1 - x0), abs(y1 - y0), 1)
        dots |= {
            (round(x0 + (x1 - x0) * step / steps), round(y0 + (y1 - y0) * step / steps))
            for step in range(steps + 1)
        }
    used = 1 + max(y for _, y in dots) // down
    field = [[" "] * columns for _ in range(used)]
    for x, y in dots:
        row, column = y // down, x // across
        if row >= used or column >= columns:
            continue
        if braille:
            here = field[row][column]
            bits = 0 if here == " " else ord(here) - 0x2800
            field[row][column] = chr(0x2800 + (bits | _DOTS[y % 4][x % 2]))
        else:
            field[row][column] = "#"
    for label in view.labels:
        x, y = at(label.x_mm, label.y_mm)
        row = min(max(y // down + round(-label.out_y), 0), used - 1)
        column = min(max(x // across + math.ceil(label.out_x * 2), 0), columns - len(label.text))
        for shift, letter in enumerate(label.text):
            field[row][column + shift] = letter
    return ["".join(row).rstrip() for row in field]
