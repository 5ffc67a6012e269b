"""What stands beside the large number: the job's bends, this bend's hits, sentences, the curve."""

import textwrap

from benchmate.screen.instrument.answers import NOTHING, LargeNumber, strokes_left
from benchmate.screen.instrument.arm_curve import plot
from benchmate.screen.state.bench_state import BenchState
from benchmate.screen.state.shown_bend import ShownBend
from benchmate.screen.words.amounts import turn_seen_words
from benchmate.screen.words.fitting import Told, rest_lines
from benchmate.screen.words.ink import Ink, Line
from benchmate.stream import Target
from benchmate.units import show_on_tape

SQUARE = "\u25a0"
ARROW = "\u2192"


def side(state: BenchState, width: int, height: int, said: Told) -> list[Line]:
    """Give the side: the job's bends, this bend's hits, and its curve in the rows left.

    Sentences that found no room under the numbers stand in the curve's place.
    """
    telling = bool(said.rest)
    bends = _bend_lines(state, max(2, height // (3 if telling else 2)))
    lines: list[Line] = [*bends]
    if state.phase == "zeroing" and state.verdict is None:
        lines += _place_lines(state, width)
    elif not telling or state.verdict is None:
        lines += _hit_lines(state, max(1, min(4, height - len(bends) - 6)))
    left = height - len(lines) - 1
    if telling:
        lines.append((("", "plain"),))
        lines += rest_lines(said, width, left)
    elif left >= 4 and state.target is not None:
        lines.append((("", "plain"),))
        lines += _curve_lines(state, state.target, width, left)
    return lines[:height]


def strokes_number(state: BenchState, now: float) -> LargeNumber:
    """Give the pump strokes still to go as a number to be drawn large."""
    left = strokes_left(state, now)
    return NOTHING if left is None else LargeNumber(("STROKES", "LEFT"), f"{left}", 2)


def _curve_lines(state: BenchState, target: Target, width: int, height: int) -> list[Line]:
    top = max(target.over_angle, target.stop_angle) * 1.03
    rows = plot(state.curve, width, height, target.stop_angle, top)
    return [((row, "dim"),) for row in rows]


def _bend_lines(state: BenchState, rows: int) -> list[Line]:
    count = state.target.bends if state.target is not None else len(state.planned)
    if count < 2:
        return []
    at = state.target.bend if state.target is not None else 1
    shown = max(rows - 1, 1)
    first = max(1, min(at - shown // 2, count - shown + 1))
    lines: list[Line] = [(("  # want  bent hits", "dim"),)]
    for bend in range(first, min(first + shown, count + 1)):
        lines.append(_bend_line(state, bend, at))
    return lines


def _bend_line(state: BenchState, bend: int, at: int) -> Line:
    seen = state.seen(bend)
    planned = state.planned[bend - 1] if bend <= len(state.planned) else None
    wanted = seen.wanted if seen else planned
    want = f"{wanted:5.1f}" if wanted is not None else "    ?"
    mark, ink = _mark_of(seen, current=bend == at and not state.done)
    if seen is None or seen.verdict is None:
        return ((f"{mark}{bend:>2} {want}", ink),)
    return ((f"{mark}{bend:>2} {want} {seen.verdict.bend_angle:5.1f}  {seen.verdict.hits}", ink),)


def _mark_of(seen: ShownBend | None, *, current: bool) -> tuple[str, Ink]:
    if current:
        return ARROW, "bold"
    if seen is None or seen.verdict is None:
        return " ", "dim"
    if seen.unmeasured:
        return "?", "attend"
    return (SQUARE, "good") if seen.good else ("!", "bad")


def _place_lines(state: BenchState, width: int) -> list[Line]:
    target = state.target
    if target is None or target.mark is None:
        return []
    rows = [f"mark {show_on_tape(target.mark, state.unit)}"]
    if target.turn is not None:
        rows += textwrap.wrap(turn_seen_words(target.turn), max(width - 1, 8))
    return [((row, "plain"),) for row in rows]


def _hit_lines(state: BenchState, rows: int) -> list[Line]:
    lines: list[Line] = []
    for number, hit in enumerate(state.hits, start=1):
        rest = "" if hit.rest is None else f" {ARROW} {hit.rest:.1f}"
        lines.append(((f"hit {number}: {hit.peak:.1f}{rest}", "plain"),))
    return lines[-rows:]
