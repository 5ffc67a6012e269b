"""The bend in figures, and the sensor's: pages of lines, functions of what the stream has told."""

import statistics
import textwrap
from collections.abc import Sequence

from benchmate.screen.state.bench_state import BenchState
from benchmate.screen.words.amounts import DEGREE, give_or_take, shown_deg, two_sd
from benchmate.screen.words.ink import Line
from benchmate.screen.words.sentences import told, verdict_words
from benchmate.stream import Reading
from benchmate.wording import printable

STILL_DEG_S = 0.5
"""Slower than this an arm is standing, and what it reads is noise."""


def bend_lines(state: BenchState, width: int) -> list[Line]:
    """Give this bend in figures: what was aimed at, its hits, what it came back to."""
    target = state.target
    if target is None:
        return [((" No bend yet.", "plain"),)]
    lines: list[Line] = [
        ((f" Bend {target.bend} of {target.bends} in figures", "bold"),),
        (("", "plain"),),
        (
            (
                f"  wanted {shown_deg(target.bend_angle)}{DEGREE} \u00b1{target.tolerance:g}, first"
                f" stop good to \u00b1{_first_spread(state)}",
                "plain",
            ),
        ),
        (("", "plain"),),
        (("  hit   stopped at   came back to   springback", "dim"),),
    ]
    for number, hit in enumerate(state.hits, start=1):
        peak = f"{hit.peak:.1f}{'' if hit.sure else ' or more'}"
        rest = "not known" if hit.rest is None else f"{hit.rest:.1f}"
        back = "" if hit.springback is None else f"{hit.springback:.1f}"
        lines.append(((f"  {number:>3} {peak:>12} {rest:>14} {back:>12}", "plain"),))
    if not state.hits:
        lines.append((("  no hit yet", "plain"),))
    lines.append((("", "plain"),))
    for sentence in _verdicts(state):
        lines += _wrapped(sentence, width)
    return lines


def _first_spread(state: BenchState) -> str:
    target = state.target
    seen = None if target is None else state.seen(target.bend)
    return "" if seen is None else two_sd(seen.stop_sd)


def _verdicts(state: BenchState) -> list[str]:
    verdict = state.verdict
    seen = None if state.target is None else state.seen(state.target.bend)
    if verdict is None or seen is None:
        return [told(state)]
    before = seen.verdicts[-2] if len(seen.verdicts) > 1 else None
    said = [verdict_words(verdict, state.target)]
    if verdict.stop_angle is not None:
        said.append(f"A press again would stop at {verdict.stop_angle:.1f}{DEGREE}.")
    if before is not None:
        said.append(
            f"The hit before had left it at {shown_deg(before.bend_angle)}{DEGREE}, "
            f"{give_or_take(before.sd)}."
        )
    known = "It is in the log." if seen.id else "It is not in the log yet."
    taught = "A fault hid the arm: this bend teaches nothing." if seen.fault else ""
    return [*said, f"{known} {taught}".strip()]


def sensor_lines(
    state: BenchState, recent: Sequence[Reading], now: float, width: int
) -> list[Line]:
    """Give the sensor's page: the arm live, how often it is read, its noise, what is wrong."""
    lines: list[Line] = [((" The sensor", "bold"),), (("", "plain"),)]
    reading = state.reading
    if reading is None or reading.arm is None or not state.live(now):
        lines.append((("  arm        no angle that can be trusted", "attend"),))
    else:
        spread = "" if reading.sd is None else f", to \u00b1{two_sd(reading.sd)}"
        before = "  (zero is not set)" if state.phase == "zeroing" else ""
        arm = f"  arm        {reading.arm:.2f}{DEGREE}{spread}{before}"
        lines.append(((arm, "plain"),))
        if reading.rate is not None:
            lines.append(((f"  moving     {reading.rate:+.1f}{DEGREE} a second", "plain"),))
    lines.append(((f"  readings   {_readings(recent)}", "plain"),))
    lines.append(((f"  noise      {_noise(recent)}", "plain"),))
    lines.append((("", "plain"),))
    if state.faults:
        for fault in state.faults:
            lines += _wrapped(f"Fault ({fault.what}): {printable(fault.detail, 300)}", width)
    else:
        lines += _wrapped("No fault stands.", width)
    advice = "" if reading is None else printable(reading.advice, 300)
    return [*lines, *(_wrapped(advice, width) if advice else [])]


def _readings(recent: Sequence[Reading]) -> str:
    if len(recent) < 2 or recent[-1].t <= recent[0].t:
        return "none yet"
    return f"{(len(recent) - 1) / (recent[-1].t - recent[0].t):.0f} a second reach the screen"


def _noise(recent: Sequence[Reading]) -> str:
    still = [
        reading.arm
        for reading in recent
        if reading.arm is not None and abs(reading.rate or 0.0) < STILL_DEG_S
    ]
    if len(still) < 20 or len(still) < len(recent) // 2:
        return "let the arm stand still for a few seconds"
    return f"{statistics.stdev(still):.3f}{DEGREE} standing still (one standard deviation)"


def _wrapped(sentence: str, width: int) -> list[Line]:
    rows = textwrap.wrap(sentence, max(width - 4, 12))
    return [((f"  {row}", "plain"),) for row in rows]
