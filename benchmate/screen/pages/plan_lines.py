"""A job's plan as lines of text."""

import textwrap
from typing import TYPE_CHECKING, NamedTuple

from benchmate.screen.words.amounts import SEEN_FROM, shown_deg, two_sd
from benchmate.screen.words.ink import Ink, Line
from benchmate.units import LengthUnit, show_on_tape
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.plan import Plan

SPREAD = "   should give"
HEAD = "  #        mark    turn   bend   stop"
LITTLE_KNOWN = (
    "A stop angle below the bend angle is meant: little is known of this setup yet, so the first "
    "press stops short on purpose. Measure the tube after it, and the next press knows"
)
SENTENCE = 400
"""Characters of a sentence that are shown: none that the plan says is longer."""


class Laid(NamedTuple):
    """A job laid out, and what is expected of the part, a sentence each."""

    plan: "Plan"
    expected: tuple[str, ...] = ()


def plan_lines(laid: Laid | str, width: int, unit: LengthUnit = "mm") -> list[Line]:
    """Give the plan, or the sentence that says why there is none, wrapped to a width."""
    if isinstance(laid, str):
        return _wrapped(laid, "attend", width)
    plan = laid.plan
    # Half a number is worse than none: without room for it the column goes whole.
    spreads = width >= len(HEAD + SPREAD)
    lines: list[Line] = [
        ((printable(f"{plan.tube} on {plan.die}"), "bold"),),
        ((printable(f"lot {plan.lot}" if plan.lot else "no lot named"), "dim"),),
        (
            (
                f"cut {show_on_tape(plan.cut_length_mm, unit)}   "
                f"tolerance \u00b1{plan.tolerance_deg:g}\u00b0",
                "plain",
            ),
        ),
        (("", "plain"),),
        ((HEAD + SPREAD if spreads else HEAD, "dim"),),
    ]
    for bend in plan.bends:
        row = (
            f"{bend.bend:>3} {show_on_tape(bend.mark_mm, unit):>11} {_signed(bend.turn_deg):>7} "
            f"{shown_deg(bend.bend_angle_deg):>6} {shown_deg(bend.stop_angle_deg):>6}"
        )
        gives = f"{shown_deg(bend.expected_angle_deg)} \u00b1{two_sd(bend.expected_sd_deg)}"
        spread = f"{gives:>{len(SPREAD)}}" if spreads else ""
        lines.append(((row + spread, "plain"),))
    lines.append((("", "plain"),))
    if any(bend.stop_angle_deg < bend.bend_angle_deg for bend in plan.bends):
        lines += _wrapped(f"! {_sentence(LITTLE_KNOWN)}", "attend", width, "  ")
    for warning in plan.warnings:
        lines += _wrapped(f"! {_sentence(warning)}", "attend", width, "  ")
    if laid.expected:
        # One speaks of the one before: they stand together.
        told = " ".join(map(_sentence, laid.expected))
        lines += _wrapped(f"- {told}", "plain", width, "  ", len(laid.expected) * SENTENCE)
    for legend in _legends(plan, spreads=spreads):
        lines += _wrapped(f"- {legend}", "dim", width, "  ")
    if plan.rests_on:
        lines += _wrapped(
            f"- The marks come from the {' and the '.join(plan.rests_on)}.", "dim", width, "  "
        )
    return lines


def _legends(plan: "Plan", *, spreads: bool) -> list[str]:
    """Say what the columns mean that don't say it themselves."""
    said = []
    if any(shown_deg(bend.turn_deg) != "0.0" for bend in plan.bends):
        said.append(f"Turn: + is clockwise, - anticlockwise, {SEEN_FROM}.")
    if spreads:
        said.append("Should give: the bend angle after the first hit; \u00b1: 19 times in 20.")
    return said


def _wrapped(text: str, ink: Ink, width: int, then: str = "", limit: int = SENTENCE) -> list[Line]:
    rows = textwrap.wrap(printable(text, limit), max(width, 8), subsequent_indent=then)
    return [((row, ink),) for row in rows]


def _signed(turn_deg: float) -> str:
    shown = shown_deg(turn_deg)
    return shown if shown in {"0.0", "180.0"} or shown.startswith("-") else f"+{shown}"


def _sentence(said: str) -> str:
    return f"{said[:1].upper()}{said[1:].rstrip('.')}."
