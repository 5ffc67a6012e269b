"""A job's plan as lines of text."""

import textwrap
from typing import TYPE_CHECKING, NamedTuple

from benchmate.screen.amounts import SEEN_FROM, give_or_take, shown_deg
from benchmate.screen.ink import Ink, Line
from benchmate.units import LengthUnit, show_on_tape
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.plan import Plan

DOUBT = "  give or take"
HEAD = "  #        mark   turn   bend   stop"
LITTLE_KNOWN = (
    "A stop angle below the bend angle is meant: little is known of this setup yet, so the first "
    "press stops short on purpose. Measure the tube after it, and the next press knows"
)
SENTENCE = 400
"""Characters of a sentence that are shown: none that the plan says is longer."""


class Laid(NamedTuple):
    """A job laid out, and what is foretold of the part, a sentence each."""

    plan: "Plan"
    foretold: tuple[str, ...] = ()


def plan_lines(laid: Laid | str, width: int, unit: LengthUnit = "mm") -> list[Line]:
    """Give the plan, or the sentence that says why there is none, wrapped to a width."""
    if isinstance(laid, str):
        return _wrapped(laid, "attend", width)
    plan = laid.plan
    # Half a number is worse than none: without room for it the doubt goes whole.
    doubts = width >= len(HEAD + DOUBT)
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
        ((HEAD + DOUBT if doubts else HEAD, "dim"),),
    ]
    for bend in plan.bends:
        row = (
            f"{bend.bend:>3} {show_on_tape(bend.mark_mm, unit):>11} {shown_deg(bend.turn_deg):>6} "
            f"{shown_deg(bend.bend_angle_deg):>6} {shown_deg(bend.stop_angle_deg):>6}"
        )
        doubt = f"{give_or_take(bend.sd_deg):>{len(DOUBT)}}" if doubts else ""
        lines.append(((row + doubt, "plain"),))
    lines.append((("", "plain"),))
    if any(bend.stop_angle_deg < bend.bend_angle_deg for bend in plan.bends):
        lines += _wrapped(f"! {_sentence(LITTLE_KNOWN)}", "attend", width, "  ")
    for warning in plan.warnings:
        lines += _wrapped(f"! {_sentence(warning)}", "attend", width, "  ")
    for told in laid.foretold:
        lines += _wrapped(f"- {_sentence(told)}", "plain", width, "  ")
    for legend in _legends(plan, doubts=doubts):
        lines += _wrapped(f"- {legend}", "dim", width, "  ")
    if plan.rests_on:
        lines += _wrapped(f"- Marks rest on: {', '.join(plan.rests_on)}.", "dim", width, "  ")
    return lines


def _legends(plan: "Plan", *, doubts: bool) -> list[str]:
    """Say what the columns mean that don't say it themselves."""
    said = []
    if any(shown_deg(bend.turn_deg) != "0.0" for bend in plan.bends):
        said.append(f"Turn: above 0 clockwise, below 0 anticlockwise, {SEEN_FROM}.")
    if doubts:
        said.append("Give or take: what the bend may be off after its first hit, 19 times in 20.")
    return said


def _wrapped(text: str, ink: Ink, width: int, then: str = "") -> list[Line]:
    rows = textwrap.wrap(printable(text, SENTENCE), max(width, 8), subsequent_indent=then)
    return [((row, ink),) for row in rows]


def _sentence(said: str) -> str:
    return f"{said[:1].upper()}{said[1:].rstrip('.')}."
