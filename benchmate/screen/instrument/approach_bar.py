"""The way to the stop angle as a bar across the screen; a bend's verdict as one of three places.

The last ten degrees take more than half of the bar, so that a degree can be seen; the stop stands
at the same place in every hit.
"""

from typing import NamedTuple

from benchmate.screen.words.ink import Ink
from benchmate.stream import Say

FINE_DEG = 10.0
FINE_FROM = 0.35
"""Where, along the bar, the last ten degrees begin."""
STOP_AT = 0.9
"""Where the stop angle stands along the bar."""
MARKS_DEG = (10.0, 5.0, 3.0, 1.0)


class BarPiece(NamedTuple):
    """Cells of a bar from left to right: their text, ink, and whether they are filled."""

    text: str
    ink: Ink
    filled: bool = False


def place_of(arm: float, stop_angle: float, over_angle: float) -> float:
    """Give where an arm angle stands along the bar, 0 to 1 [deg]."""
    to_go = stop_angle - arm
    if to_go > FINE_DEG:
        far = max(stop_angle - FINE_DEG, 1.0)
        return FINE_FROM * max(1.0 - (to_go - FINE_DEG) / far, 0.0)
    if to_go >= 0.0:
        return FINE_FROM + (STOP_AT - FINE_FROM) * (1.0 - to_go / FINE_DEG)
    past = min(-to_go / max(over_angle - stop_angle, 0.1), 1.0)
    return STOP_AT + (1.0 - STOP_AT) * past


def approach(
    arm: float | None, stop_angle: float, over_angle: float, width: int, ink: Ink
) -> tuple[BarPiece, ...]:
    """Give the bar: filled up to the arm, then marks at 10, 5, 3 and 1 degree to go, and STOP."""
    row = [" "] * width
    for degrees in MARKS_DEG:
        at = int(width * place_of(stop_angle - degrees, stop_angle, over_angle))
        _write(row, at, f"{degrees:g}")
    stop = min(int(width * STOP_AT), max(width - 1, 0))
    if width:
        _write(row, stop, "|STOP" if width - stop >= 5 else "|")
    text = "".join(row)
    if arm is None:
        return (BarPiece(text, "dim"),)
    full = min(max(int(width * place_of(arm, stop_angle, over_angle)), 0), width)
    return (BarPiece(text[:full], ink, filled=True), BarPiece(text[full:], "dim"))


def judged(say: Say, width: int) -> tuple[BarPiece, ...]:
    """Give three places - short, good, over - with the one lit that the verdict says."""
    words: tuple[tuple[str, Ink, Say], ...] = (
        ("SHORT", "act", "again"),
        ("GOOD", "good", "accept"),
        ("OVER", "bad", "over"),
    )
    ends = (0, width * 2 // 5, width * 3 // 5, width)
    pieces = []
    for (word, ink, which), start, end in zip(words, ends, ends[1:], strict=False):
        lit = which == say
        text = (word if lit else word.lower())[: end - start].center(end - start)
        pieces.append(BarPiece(text, ink if lit else "dim", filled=lit))
    return tuple(pieces)


def _write(row: list[str], at: int, text: str) -> None:
    """Write a mark where it has room, with a blank before it."""
    span = range(at, at + len(text))
    inside = span.start >= 0 and span.stop <= len(row)
    clear = at == 0 or text.startswith("|") or row[at - 1 : at] == [" "]
    if inside and clear and all(row[cell] == " " for cell in span):
        row[at : at + len(text)] = text
