"""The parts of the bend screen that are text, as lines: functions of the state alone."""

import math
import textwrap

from benchmate.screen.amounts import doubted, give_or_take, shown_deg, turn_seen_words
from benchmate.screen.ink import Ink, Line
from benchmate.screen.keys import LAST, KeyWord, key_line
from benchmate.screen.seen import BendSeen
from benchmate.screen.sizes import Sizes
from benchmate.screen.snapshot import BenchState
from benchmate.screen.telling import TIMES_A_SECOND, Said, rest_lines, told_lines
from benchmate.screen.trace import plot
from benchmate.screen.words import CUE_SHAPES, CUE_WORDS, CUES, due
from benchmate.stream import Cue, Target
from benchmate.units import show_on_tape
from benchmate.wording import printable

DEGREE = "\u00b0"
SQUARE = "\u25a0"
ARROW = "\u2192"


def header(state: BenchState, now: float, width: int, sizes: Sizes | None = None) -> Line:
    """Give the top line: job, bend, what is wanted, the rehearsal's mark.

    With ``sizes`` that leave the status no row of its own, it stands here as far as it fits.
    """
    mark = " SIMULATED " if state.rehearsal else ""
    room = max(width - len(mark), 0)
    text = _heading(state, room)
    aside = sizes is not None and sizes.status == 0
    parts = _status(state, now, stop=aside and sizes is not None and sizes.label == 0)
    told = _fitting(parts, room - len(text) - 2) if aside else ""
    text = text[: room - len(told)].ljust(room - len(told))
    return ((text, "bold"), (told, "dim"), (mark[:width], "mark"))


def _heading(state: BenchState, room: int) -> str:
    """Give job, bend and bend angle with the drawing's where they differ, as far as they fit."""
    job, target = " " + printable(state.job), state.target
    if target is None:
        return job
    bend = f"bend {target.bend} of {target.bends}"
    wanted = f"{shown_deg(target.bend_angle)}{DEGREE} \u00b1{target.tolerance:g}"
    drawn = ""
    if target.drawn_angle is not None and shown_deg(target.drawn_angle) != shown_deg(
        target.bend_angle
    ):
        drawn = f" (drawn {shown_deg(target.drawn_angle)}{DEGREE})"
    tries = [f"{job}  {bend}  {wanted}{drawn}", f" {bend}  {wanted}{drawn}"]
    return next((text for text in tries if len(text) <= room), f" {bend}  {wanted}")


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


def label_lines(
    state: BenchState, now: float, width: int, sizes: Sizes, *, to_go: bool = True
) -> list[Line]:
    """Give the words to the numbers, over stop angle and to go or under arm and stop angle."""
    _, _, distance = numbers(state, now)
    past = distance[0] == "-" and distance != "--.-"
    ink: Ink = "bad" if past else "dim"
    if sizes.beside:
        words = f" ARM, {distance.lstrip('-')} past the stop" if past else f" ARM, to go {distance}"
        return [((words.ljust(width - sizes.beside)[: width - sizes.beside], ink), ("STOP", "dim"))]
    left = width // 2
    doubt = "" if state.target is None else f", {doubted(state.target.sd)}"
    words = "\u2190 PAST THE STOP" if past else f"TO GO {ARROW}" if to_go else ""
    return [((f" STOP AT{doubt}"[:left].ljust(left), "dim"), (f" {words}", ink))]


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
    lines: list[Line] = [*bends, (("", "plain"),), *_place_lines(state, width), *hits]
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


def status(state: BenchState, now: float, *, stop: bool = False) -> Line:
    """Give the line under the numbers: hit, strokes left, with ``stop`` how sure the stop is."""
    return ((" " + "   ".join(_status(state, now, stop=stop)), "dim"),)


def _status(state: BenchState, now: float, *, stop: bool) -> list[str]:
    parts: list[str] = []
    if state.target is not None:
        parts.append(f"hit {state.target.hit}")
    if state.reading is not None and state.live(now):
        if state.phase == "zeroing" and state.reading.arm is not None:
            parts.append(f"arm reads {shown_deg(state.reading.arm)}{DEGREE} before zero")
        if state.reading.strokes is not None and not state.latched:
            parts.append(f"strokes left {math.ceil(state.reading.strokes)}")
    elif state.link == "up":
        parts.append("no reading")
    if stop and state.target is not None:
        parts.append(f"stop give or take {give_or_take(state.target.sd)}")
    return parts


def _fitting(parts: list[str], width: int) -> str:
    """Join as many whole parts as fit: half a number is worse than none."""
    told = ""
    for part in parts:
        if len(told) + len(part) + 2 > width:
            break
        told += part + "  "
    return told


def bottom(state: BenchState, now: float, width: int, *, telling: bool) -> Line:
    """Give the bottom line; with ``telling`` it also says what has no row of its own."""
    if not telling or not worth_telling(state):
        return footer(state, width)
    what = due(state)
    first = f" {what.short or what.words} " if what.command else ""
    (line,) = told_lines(state, now, width - len(first), 1, narrow=True)
    return ((first, "act"), *line)


def worth_telling(state: BenchState) -> bool:
    """Say whether there is more to be told than the phase."""
    return bool(
        state.link != "up"
        or state.faults
        or state.notice
        or (state.reading is not None and state.reading.advice)
        or state.verdict
        or state.latched
    )


def footer(state: BenchState, width: int) -> Line:
    """Give the bottom line: what Enter does now, and the other keys as far as they fit."""
    what = due(state)
    last = (("q", "leave at once"),) if state.link == "leaving" else LAST
    ink: Ink = "act" if what.command else "dim"
    must: tuple[KeyWord, ...] = ()
    if state.link == "up" and state.verdict is not None and state.verdict.say == "measure":
        must = (("n", "unmeasured"),)
    elif state.link == "up" and state.bites and state.mid_hit and not state.latched:
        must = (("b", "ram at its end"),)
    return key_line(what.words, ink, _keys(state), width, last=last, short=what.short, must=must)


def _keys(state: BenchState) -> list[KeyWord]:
    """Give the keys that do something now, the most wanted first."""
    if state.link != "up" or state.target is None:
        return []
    keys: list[KeyWord] = []
    if state.by_hand and state.verdict is None and state.phase != "zeroing":
        keys = [("p", "pump"), ("r", "release")] if state.mid_hit else [("p", "pump")]
    if state.verdict is not None:
        # What is over-bent can't be pressed to be less so.
        order = {"over": "mu", "measure": "au"}.get(state.verdict.say, "mau")
        words = {"m": "measured", "a": "press again", "u": "undo"}
        keys += [(key, words[key]) for key in order]
        keys += [("k", "mark"), ("t", "turn")] if state.target.mark is not None else []
    elif not state.mid_hit:
        keys += [("u", "undo"), ("s", "skip")]
    if state.planned and not state.mid_hit:
        keys += [("v", "part")]
    if state.target.changed and not state.mid_hit:
        keys = [*keys[:1], ("c", "changes"), *keys[1:]]
    return keys


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
    if seen.unread:
        return "?", "attend"
    return (SQUARE, "good") if seen.in_tolerance else ("!", "bad")


def _place_lines(state: BenchState, width: int) -> list[Line]:
    target = state.target
    if target is None or target.mark is None:
        return []
    rows = [f"mark {show_on_tape(target.mark, state.unit)}"]
    if target.turn is not None:
        rows += textwrap.wrap(turn_seen_words(target.turn), max(width, 8))
    return [((row, "plain"),) for row in rows]


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
