"""What the person at the pump is answered: one large number, one large word, two numbers below.

Functions of the state alone. The places never swap: what the tube or arm is now stands largest,
what is wanted of it below at the left, and the difference below at the right.
"""

import math
from typing import NamedTuple

from benchmate.screen.instrument.approach_bar import BarPiece, approach, judged
from benchmate.screen.state.bench_state import BenchState
from benchmate.screen.words.amounts import (
    DEGREE,
    NO_NUMBER,
    PLUS_MINUS,
    between,
    shown_deg,
    two_sd,
)
from benchmate.screen.words.cues import WORDS, LargeWord, Situation
from benchmate.screen.words.ink import Ink, Line
from benchmate.stream import Cue, Say, Target, Verdict
from benchmate.units import show_on_tape
from benchmate.wording import printable

FLASHES_A_SECOND = 3
LAMPS = 5

Label = tuple[str, ...]
"""A word or two beside a number, one a row."""


class LargeNumber(NamedTuple):
    """A number to be drawn large, with the words beside it and the room it is given."""

    label: Label
    text: str
    digits: int = 3
    """Digits that the room is cut for, so that the number keeps its size while it moves."""
    ink: Ink = "bold"


NOTHING = LargeNumber((), "")
_OF_CUE: dict[Cue, Situation] = {
    "pump": "pump",
    "slow": "slow",
    "stop": "stop",
    "release": "release",
    "over": "past",
    "wait": "ready",
}
_OF_VERDICT: dict[Say, Situation] = {
    "accept": "good",
    "again": "again",
    "over": "over",
    "measure": "measure",
}
_BESIDE_OF: dict[Say, str] = {"accept": "BENT", "again": "BENT", "over": "BENT", "measure": "ABOUT"}
JUDGED: tuple[Situation, ...] = ("good", "again", "over", "measure")
WITH_NUMBERS: tuple[Situation, ...] = ("ready", "pump", "slow", "releasing", "resting", "placing")
"""Where a small panel gives its rows to the two numbers below, not to the word."""


def situation(state: BenchState, now: float) -> Situation:  # noqa: PLR0911 - one a question
    """Say which question the person at the pump has before them."""
    if state.link in {"again", "lost"} or state.blinding:
        return "fault"
    if state.link == "leaving" and not state.mid_hit:
        return "leaving"
    if state.done:
        return "done"
    if state.unfinished is not None:
        return "unfinished"
    if state.verdict is not None and not state.reseats:
        return _OF_VERDICT[state.verdict.say]
    if state.target is None or state.reading is None:
        return "starting"
    return _live_situation(state, now)


def _live_situation(state: BenchState, now: float) -> Situation:
    if not state.live(now):
        return "blind"
    if state.phase == "zeroing":
        return "unzeroed" if state.unzeroed_deg else "still" if state.zero_asked else "placing"
    if state.latched:
        return "latched"
    if state.phase in {"releasing", "resting"}:
        return "releasing" if state.phase == "releasing" else "resting"
    return _OF_CUE[state.cue(now)]


def large_number(state: BenchState, now: float) -> LargeNumber:
    """Give the number that the person is after: where the mark is, the arm, or the bend angle."""
    which = situation(state, now)
    digits = digit_count(state)
    if which == "unfinished" and state.unfinished is not None:
        arm = state.unfinished.arm
        return LargeNumber(("TUBE", "AT"), NO_NUMBER if arm is None else shown_deg(arm), digits)
    if state.verdict is not None and which in JUDGED:
        bent = shown_deg(state.verdict.bend_angle)
        return LargeNumber((_BESIDE_OF[state.verdict.say],), bent, digits, WORDS[which].ink)
    if which in {"placing", "still"} and state.target is not None:
        return _placing(state, state.target, digits)
    if not state.live(now) or state.shown is None or state.phase == "zeroing":
        return LargeNumber(("ARM",), NO_NUMBER, digits, "dim")
    return LargeNumber(("ARM",), f"{state.shown.arm:.1f}", digits, WORDS[which].ink)


def _placing(state: BenchState, target: Target, digits: int) -> LargeNumber:
    if target.zero_at is not None:
        return LargeNumber(("TUBE", "AT"), shown_deg(target.zero_at), digits)
    if target.mark is None:
        return LargeNumber(("BEND",), shown_deg(target.bend_angle), digits)
    amount, _, unit = show_on_tape(target.mark, state.unit).rpartition(" ")
    return LargeNumber(("MARK", unit), amount, max(sum(map(str.isdigit, amount)), 3))


def lower_numbers(state: BenchState, now: float) -> tuple[LargeNumber, LargeNumber]:
    """Give what is wanted and the difference to it: stop angle and to go, as a rule."""
    which, target, verdict = situation(state, now), state.target, state.verdict
    if target is None or which in {"unfinished", "starting"}:
        return NOTHING, NOTHING
    digits = digit_count(state)
    if verdict is not None and which in JUDGED:
        return _judged_numbers(verdict, target, digits)
    if which in {"placing", "still"} and target.mark is not None:
        bend = LargeNumber(("BEND",), shown_deg(target.bend_angle), digits)
        turn = target.turn or 0.0
        way = () if round(abs(turn), 1) in {0.0, 180.0} else (("CW",) if turn > 0 else ("CCW",))
        return bend, LargeNumber(("TURN", *way), shown_deg(abs(turn)), digits)
    return LargeNumber(("STOP", "AT"), f"{target.stop_angle:.1f}", digits), _to_go(state, now)


def _judged_numbers(
    verdict: Verdict, target: Target, digits: int
) -> tuple[LargeNumber, LargeNumber]:
    off = between(verdict.bend_angle, target.bend_angle)
    wanted = LargeNumber(("WANT",), shown_deg(target.bend_angle), digits)
    if verdict.say == "again" and verdict.stop_angle is not None:
        stop = LargeNumber(("STOP", "AT"), f"{verdict.stop_angle:.1f}", digits)
        return stop, _off(off, digits)
    if verdict.say == "measure":
        return wanted, LargeNumber((PLUS_MINUS,), two_sd(verdict.sd).split()[-1], digits, "act")
    if verdict.say == "accept":
        return wanted, LargeNumber(("OFF",), f"{off:+.1f}" if off else "0.0", digits)
    return wanted, _off(off, digits)


def _off(off: float, digits: int) -> LargeNumber:
    if off == 0.0:
        return LargeNumber(("OFF",), "0.0", digits)
    return LargeNumber(("SHORT",) if off < 0 else ("OVER",), f"{abs(off):.1f}", digits)


def _to_go(state: BenchState, now: float) -> LargeNumber:
    digits, to_go = digit_count(state), state.to_go()
    if not state.live(now) or state.phase == "zeroing" or to_go is None:
        return LargeNumber(("TO", "GO"), NO_NUMBER, digits, "dim")
    if to_go < 0:
        return LargeNumber(("PAST",), f"{-to_go:.1f}", digits, "bad")
    return LargeNumber(("TO", "GO"), f"{to_go:.1f}", digits, WORDS[situation(state, now)].ink)


def digit_count(state: BenchState) -> int:
    """Give how many digits the numbers need in this bend, so that they keep one size through it."""
    target = state.target
    largest = 0.0 if target is None else max(target.over_angle, target.stop_angle)
    return 4 if largest >= 97.0 else 3


def large_word(state: BenchState, now: float) -> LargeWord:
    """Give the word of the situation."""
    return WORDS[situation(state, now)]


def lit(word: LargeWord, now: float) -> bool:
    """Say whether a word's face is lit at this moment: some flash."""
    return not word.flashes or int(now * 2 * FLASHES_A_SECOND) % 2 == 0


def bar(state: BenchState, now: float, width: int) -> tuple[BarPiece, ...]:
    """Give the bar: the way to the stop, or where the verdict puts the bend."""
    which, target = situation(state, now), state.target
    if state.verdict is not None and which in JUDGED:
        return judged(state.verdict.say, width)
    if target is None or which in {"unfinished", "starting", "placing", "still", "unzeroed"}:
        return (BarPiece(" " * width, "dim"),)
    seen = state.live(now) and state.shown is not None and state.phase != "zeroing"
    arm = state.shown.arm if seen and state.shown is not None else None
    ink: Ink = WORDS[which].ink if which in {"pump", "slow", "stop", "release", "past"} else "dim"
    return approach(arm, target.stop_angle, target.over_angle, width, ink)


def word_row(state: BenchState, now: float, width: int) -> tuple[BarPiece, ...]:
    """Give the word as one row of cells, for a panel too small to draw it large."""
    word = large_word(state, now)
    strokes = "" if state.reading is None else strokes_words(state, now)
    text = f"{word.texts[0]}{strokes}".center(width)[:width]
    return (BarPiece(text, word.ink, filled=word.filled and lit(word, now)),)


def label_row(state: BenchState, now: float, width: int, stop_columns: int) -> Line:
    """Give the words under the two numbers of the smallest panel, with what is to go."""
    left, right = lower_numbers(state, now)
    large = large_number(state, now)
    ends = " ".join(left.label) if left.text else ""
    aside = f", {' '.join(right.label).lower()} {right.text}" if right.text else ""
    words = f" {' '.join(large.label)}{aside}"
    room = max(width - stop_columns, 0)
    return ((words[:room].ljust(room), "dim"), (ends, "dim"))


def strokes_words(state: BenchState, now: float) -> str:
    """Say how many strokes are left, where that can be said."""
    left = strokes_left(state, now)
    return f"   strokes left {left}" if left is not None else ""


def strokes_left(state: BenchState, now: float) -> int | None:
    """Give the pump strokes still to go while they are pumped."""
    reading = state.reading
    if reading is None or reading.strokes is None or not state.live(now) or not state.steering:
        return None
    return math.ceil(reading.strokes) if reading.cue in {"pump", "slow"} else None


def header(state: BenchState, lamps: tuple[bool, ...], width: int) -> Line:
    """Give the top line: job, bend, hit, what is wanted; the lamps; the rehearsal's mark."""
    mark = f"{' SIMULATED ' if state.rehearsal else ''}{' LOOKING ON ' if state.following else ''}"
    lights = "".join("\u25a0" if lamp else "\u00b7" for lamp in lamps)
    ends = sum(map(len, (mark, lights))) + (1 if lights else 0)
    text = _heading(state, width - ends)
    room = max(width - ends, 0)
    if len(text) > room:
        lights, room = "", max(width - len(mark), 0)
    gap: Line = ((" ", "plain"),) if lights else ()
    return ((text[:room].ljust(room), "bold"), (lights, "plain"), *gap, (mark[:width], "mark"))


def _heading(state: BenchState, room: int) -> str:
    """Give job, bend and bend angle with the drawing's where they differ, as far as they fit."""
    job, target = " " + printable(state.job), state.target
    if target is None:
        return job
    bend = f"bend {target.bend} of {target.bends}"
    hit = f"  hit {target.hit}" if target.hit > 1 else ""
    wanted = f"{shown_deg(target.bend_angle)}{DEGREE} {PLUS_MINUS}{target.tolerance:g}"
    drawn = ""
    if target.drawn_angle is not None and between(target.drawn_angle, target.bend_angle):
        drawn = f" (drawn {shown_deg(target.drawn_angle)}{DEGREE})"
    tube = f"  tube {target.tube} of {target.tubes}" if target.tubes > 1 else ""
    tries = (
        f"{job}{tube}  {bend}{hit}  {wanted}{drawn}",
        f"{tube[1:]}{' ' * bool(tube)} {bend}{hit}  {wanted}{drawn}",
        f" {bend}{hit}  {wanted}{drawn}",
    )
    return next((text for text in tries if len(text) <= room), f" {bend}{hit}  {wanted}")
