"""The parts of the bend screen that are text, as lines: functions of the state alone."""

import math

from benchmate.screen.ink import Ink, Line
from benchmate.screen.keys import key_line
from benchmate.screen.sizes import Sizes
from benchmate.screen.snapshot import BenchState, BendSeen
from benchmate.screen.telling import TIMES_A_SECOND, Said, rest_lines, told_lines
from benchmate.screen.trace import plot
from benchmate.screen.words import CUE_SHAPES, CUE_WORDS, CUES, due, shown_deg
from benchmate.stream import Cue, Target
from benchmate.units import show_length
from benchmate.wording import printable

DEGREE = "\u00b0"
SQUARE = "\u25a0"
ARROW = "\u2192"


def header(state: BenchState, now: float, width: int, *, with_status: bool = False) -> Line:
    """Give the top line: job, bend, what is wanted, the status if asked, the rehearsal's mark."""
    target = state.target
    bend = f"bend {target.bend} of {target.bends}" if target else ""
    wanted = (
        f"{target.bend_angle:.1f}{DEGREE} \u00b1{target.tolerance:g}" if target is not None else ""
    )
    mark = " SIMULATED " if state.rehearsal else ""
    room = max(width - len(mark), 0)
    text = "  ".join(part for part in (" " + printable(state.job), bend, wanted) if part.strip())
    told = _fitting(_status(state, now), room - len(text) - 2) if with_status else ""
    text = text[: room - len(told)].ljust(room - len(told))
    return ((text, "bold"), (told, "dim"), (mark[:width], "mark"))


def numbers(state: BenchState, now: float) -> tuple[str, str, str]:
    """Give the three numbers as text - arm, stop angle, to go - dashes where one is not known.

    Until zero is taken the sensor's angle is no arm angle, and nothing can be to go.
    """
    stop = "--.-" if state.target is None else f"{state.target.stop_angle:.1f}"
    to_go = state.to_go()
    if not state.live(now) or state.shown is None or state.phase == "zeroing":
        return "--.-", stop, "--.-"
    return f"{state.shown.arm:.1f}", stop, "--.-" if to_go is None else f"{to_go:.1f}"


def digit_count(state: BenchState) -> int:
    """Give how many digits the numbers need in this bend, so that they keep one size through it."""
    return 4 if state.target is not None and state.target.over_angle >= 97.0 else 3


def label_lines(state: BenchState, now: float, width: int, sizes: Sizes) -> list[Line]:
    """Give the words over the stop angle and to go; on a small terminal the two numbers as well."""
    _, stop, to_go = numbers(state, now)
    if sizes.pair == 1:
        return [((f" stop at {stop}   to go {to_go}"[:width], "bold"),)]
    left = width // 2
    words = f"TO GO {ARROW}"
    ink: Ink = "dim"
    if to_go[0] == "-" and to_go != "--.-":
        words, ink = "\u2190 PAST THE STOP", "bad"
    return [((" STOP AT".ljust(left), "dim"), (f" {words}", ink))]


def lamps(state: BenchState, now: float, width: int) -> list[tuple[Cue, str, bool]]:
    """Give the six lamps from left to right: cue, text filling its cells, lit or not.

    The lit one carries its word between its shapes; OVER flashes.
    """
    cue = state.cue(now)
    found = []
    for place, lamp in enumerate(CUES):
        start, end = width * place // len(CUES), width * (place + 1) // len(CUES)
        lit = lamp == cue
        word = CUE_WORDS[lamp]
        shape = CUE_SHAPES[lamp]
        texts = (f"{shape} {word} {shape}", f"{shape} {word}", f"{shape}{word}", word)
        fitting = [text for text in texts if len(text) <= end - start]
        text = fitting[0] if fitting and lit else word if lit else word.lower()
        shown = lit and not (lamp == "over" and int(now * TIMES_A_SECOND) % 2)
        found.append((lamp, text[: end - start].center(end - start), shown))
    return found


def side(state: BenchState, width: int, height: int, said: Said | None = None) -> list[Line]:
    """Give the side panel: the job's bends, this bend's hits, and its trace in the rows left.

    Sentences that found no room under the numbers stand in the trace's place.
    """
    telling = said is not None and bool(said.rest)
    bends = _bend_lines(state, width, max(3, height // (4 if telling else 2)))
    hits = _hit_lines(state, 1 if telling else max(1, min(5, height - len(bends) - 6)))
    lines: list[Line] = [*bends, (("", "plain"),), *_place_lines(state), *hits]
    left = height - len(lines) - 1
    if left >= 3:
        lines.append((("", "plain"),))
        if said is not None and telling:
            lines += rest_lines(said, width, left)
        elif state.target is not None:
            lines += _trace_lines(state, state.target, width, left)
    return lines[:height]


def _trace_lines(state: BenchState, target: Target, width: int, height: int) -> list[Line]:
    top = max(target.over_angle, target.stop_angle) * 1.03
    rows = plot(state.trace, width, height, target.stop_angle, top)
    return [((row, "dim"),) for row in rows]


def status(state: BenchState, now: float) -> Line:
    """Give the line under the numbers: hit, strokes left, how sure the angle and the stop are."""
    return ((" " + "   ".join(_status(state, now)), "dim"),)


def _status(state: BenchState, now: float) -> list[str]:
    parts: list[str] = []
    if state.target is not None:
        parts.append(f"hit {state.target.hit}")
    if state.reading is not None and state.live(now):
        if state.phase == "zeroing" and state.reading.arm is not None:
            parts.append(f"sensor at {state.reading.arm:.1f}")
        if state.reading.strokes is not None:
            parts.append(f"strokes left {math.ceil(state.reading.strokes)}")
        if state.reading.sd is not None:
            parts.append(f"angle \u00b1{state.reading.sd:.2f}")
    elif state.link == "up":
        parts.append("no reading")
    if state.target is not None:
        parts.append(f"stop \u00b1{state.target.sd:.2f}")
    return parts


def _fitting(parts: list[str], width: int) -> str:
    """Join as many whole parts as fit: half a number is worse than none."""
    told = ""
    for part in parts:
        if len(told) + len(part) + 2 > width:
            break
        told += part + "  "
    return told


def bottom(state: BenchState, now: float, width: int, *, bites: bool, telling: bool) -> Line:
    """Give the bottom line; with ``telling`` it also says what has no row of its own."""
    if not telling or not worth_telling(state):
        return footer(state, width, bites=bites)
    command, words = due(state)
    first = f" {words} " if command else ""
    (line,) = told_lines(state, now, width - len(first), 1)
    return ((first, "act"), *line)


def worth_telling(state: BenchState) -> bool:
    """Say whether there is more to be told than the phase."""
    return bool(state.link != "up" or state.faults or state.notice or state.verdict)


def footer(state: BenchState, width: int, *, bites: bool = False) -> Line:
    """Give the bottom line: what Enter does now, and the other keys as far as they fit."""
    command, words = due(state)
    return key_line(words, "act" if command else "dim", _keys(state, bites=bites), width)


def _keys(state: BenchState, *, bites: bool) -> list[tuple[str, str]]:
    """Give the keys that do something now, the most wanted first."""
    if state.link == "leaving":
        return [("q", "leave at once")]
    keys = []
    if state.by_hand and state.verdict is None and state.phase != "zeroing":
        keys = [("p", "pump"), ("r", "release")] if state.mid_hit else [("p", "pump")]
    if state.verdict is not None:
        keys += [("m", "measured"), ("a", "press again"), ("u", "undo")]
    elif state.mid_hit:
        keys += [("b", "bite")] if bites else []
    else:
        keys += [("u", "undo"), ("s", "skip")]
    if state.planned and not state.mid_hit:
        keys += [("v", "part")]
    if state.target is not None and state.target.changed:
        keys = [("c", "changes"), *keys]
    return [*keys, ("?", "help"), ("q", "quit")]


def _bend_lines(state: BenchState, width: int, rows: int) -> list[Line]:
    count = state.target.bends if state.target is not None else len(state.planned)
    at = state.target.bend if state.target is not None else 1
    shown = max(rows - 1, 1)
    first = max(1, min(at - shown // 2, count - shown + 1))
    lines: list[Line] = [(("  # want  bent hits"[:width], "dim"),)]
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


def _mark_of(seen: BendSeen | None, *, current: bool) -> tuple[str, Ink]:
    if current:
        return ARROW, "bold"
    if seen is None or seen.verdict is None:
        return " ", "dim"
    return (SQUARE, "good") if seen.in_tolerance else ("!", "bad")


def _place_lines(state: BenchState) -> list[Line]:
    target = state.target
    if target is None or target.mark is None:
        return []
    where = f"mark {show_length(target.mark, state.unit)}"
    turn = "" if target.turn is None else f"turn {shown_deg(target.turn)}{DEGREE}"
    return [((line, "plain"),) for line in (where, turn) if line]


def _hit_lines(state: BenchState, rows: int) -> list[Line]:
    lines: list[Line] = []
    for number, hit in enumerate(state.hits, start=1):
        rest = "" if hit.rest is None else f" {ARROW} {hit.rest:.1f}"
        lines.append(((f"hit {number}: {hit.peak:.1f}{rest}", "plain"),))
    if state.mid_hit and state.target is not None and len(lines) < state.target.hit:
        lines.append(((f"hit {state.target.hit} under way", "dim"),))
    if not lines:
        lines = [(("no hit yet", "dim"),)]
    return lines[-rows:]
