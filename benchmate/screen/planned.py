"""A job's plan as lines of text."""

import textwrap
from typing import TYPE_CHECKING

from benchmate.screen.ink import Line
from benchmate.units import LengthUnit, show_length
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.plan import Plan

HEAD = "  #        mark   turn   bend   stop    sd"


def plan_lines(plan: "Plan | str", width: int, unit: LengthUnit = "mm") -> list[Line]:
    """Give the plan, or the sentence that says why there is none, wrapped to a width."""
    if isinstance(plan, str):
        return [((row, "attend"),) for row in textwrap.wrap(printable(plan), width)]
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
        ((HEAD, "dim"),),
    ]
    for bend in plan.bends:
        row = (
            f"{bend.bend:>3} {show_length(bend.mark_mm, unit):>11} {bend.turn_deg:6.1f} "
            f"{bend.bend_angle_deg:6.1f} {bend.stop_angle_deg:6.1f} {bend.sd_deg:5.2f}"
        )
        lines.append(((row, "plain"),))
    lines.append((("", "plain"),))
    lines += [((row, "dim"),) for row in textwrap.wrap(_rests_on(plan), width)]
    for warning in plan.warnings:
        lines += [((row, "attend"),) for row in textwrap.wrap("! " + printable(warning), width)]
    return lines


def _rests_on(plan: "Plan") -> str:
    return "Marks rest on: " + ", ".join(plan.rests_on) if plan.rests_on else ""
