"""A job's plan as lines of text."""

import textwrap
from typing import TYPE_CHECKING, NamedTuple

from benchmate.screen.ink import Ink, Line
from benchmate.units import LengthUnit, show_length
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.plan import Plan

HEAD = "  #        mark   turn   bend   stop    sd"
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
    # Half a number is worse than none: without room for it the deviation goes whole.
    columns = len(HEAD) if width >= len(HEAD) else len(HEAD) - len("    sd")
    lines: list[Line] = [
        ((printable(f"{plan.tube} on {plan.die}"), "bold"),),
        ((printable(f"lot {plan.lot}" if plan.lot else "no lot named"), "dim"),),
        (
            (
                f"cut {show_length(plan.cut_length_mm, unit)}   "
                f"tolerance \u00b1{plan.tolerance_deg:g}\u00b0",
                "plain",
            ),
        ),
        (("", "plain"),),
        ((HEAD[:columns], "dim"),),
    ]
    for bend in plan.bends:
        row = (
            f"{bend.bend:>3} {show_length(bend.mark_mm, unit):>11} {bend.turn_deg:6.1f} "
            f"{bend.bend_angle_deg:6.1f} {bend.stop_angle_deg:6.1f} {bend.sd_deg:5.2f}"
        )
        lines.append(((row[:columns], "plain"),))
    lines.append((("", "plain"),))
    for warning in plan.warnings:
        lines += _wrapped(f"! {_sentence(warning)}", "attend", width, "  ")
    for told in laid.foretold:
        lines += _wrapped(f"- {_sentence(told)}", "plain", width, "  ")
    if plan.rests_on:
        lines += _wrapped(f"- Marks rest on: {', '.join(plan.rests_on)}.", "dim", width, "  ")
    return lines


def _wrapped(text: str, ink: Ink, width: int, then: str = "") -> list[Line]:
    rows = textwrap.wrap(printable(text, SENTENCE), max(width, 8), subsequent_indent=then)
    return [((row, ink),) for row in rows]


def _sentence(said: str) -> str:
    return f"{said[:1].upper()}{said[1:].rstrip('.')}."
