"""A plan as a table for a person, and as plain data for a program."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from benchmate.layout.cut_list import cut_list_lines
from benchmate.units import TURN_SEEN, LengthUnit, show_about, show_on_tape, show_turn
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.cut_list import CutList
    from benchmate.layout.plan import Plan
    from benchmate.layout.prediction import EndPrediction
    from benchmate.layout.tape import TapeMarks

CAUTION = (
    "Keep hands and bystanders clear of dies, arm and the tube's sweep; benchmate advises, the"
    " person at the pump decides."
)

STOPS_SHORT = (
    "The first press stops short on purpose where little is known: an over-bent tube is scrap, an"
    " under-bent one is pressed again. Measure it after that press; the next one brings the rest."
)
SHORT_DEG = 0.25
"""A first press that should end so far below the bend angle stops short on purpose."""


def stops_short(plan: "Plan") -> bool:
    """Say whether the first press of some bend is meant to leave a second one to do."""
    return any(bend.bend_angle_deg - bend.expected_angle_deg > SHORT_DEG for bend in plan.bends)


class PlanView(NamedTuple):
    """How marks are to be shown: from which end, in which unit, to which division (0: none)."""

    end: str
    unit: LengthUnit
    division_mm: float


def as_json(plan: "Plan") -> dict[str, Any]:
    """Give the plan as plain data, lengths in mm and angles in degrees."""
    return {
        "job": plan.job,
        "die": plan.die,
        "tube": plan.tube,
        "lot": plan.lot,
        "tolerance_deg": plan.tolerance_deg,
        "cut_length_mm": _rounded(plan.cut_length_mm, 3),
        "tail_mm": _rounded(plan.tail_mm, 3),
        "rests_on": list(plan.rests_on),
        "figures": list(plan.parameters.told()),
        "bends": [
            {
                "bend": bend.bend,
                "mark_mm": _rounded(bend.mark_mm, 3),
                "turn_deg": _rounded(bend.turn_deg, 4),
                "bend_angle_deg": _rounded(bend.bend_angle_deg, 4),
                "stop_angle_deg": _rounded(bend.stop_angle_deg, 3),
                "sd_deg": _rounded(bend.sd_deg, 4),
                "expected_angle_deg": _rounded(bend.expected_angle_deg, 3),
                "expected_sd_deg": _rounded(bend.expected_sd_deg, 4),
                "free_radius_mm": _rounded(bend.free_radius_mm, 3),
                "straight_mm": _rounded(bend.straight_mm, 3),
                "start_mm": _rounded(bend.start_mm, 3),
                "arc_mm": _rounded(bend.arc_mm, 3),
            }
            for bend in plan.bends
        ],
        "warnings": list(plan.warnings),
    }


def cut_lines(plan: "Plan", cuts: "CutList | None", unit: LengthUnit) -> list[str]:
    """Give the cut list of all tubes of the job; nothing for one."""
    if plan.count == 1:
        return []
    if cuts is None:
        return [f"{plan.count} of these: write the tube's stock length in its file for a cut list"]
    first, *bars = cut_list_lines(cuts, unit)
    return [f"{plan.count} of these: {first}", *(f"  {bar}" for bar in bars)]


def cut_json(plan: "Plan", cuts: "CutList | None") -> dict[str, Any]:
    """Give how many are to be made, and the cut list, as plain data; null without a stock."""
    bars = None
    if cuts is not None:
        bars = [
            {
                "pieces_mm": [_rounded(piece, 3) for piece in bar],
                "left_mm": _rounded(cuts.left_mm(bar), 3),
            }
            for bar in cuts.bars
        ]
    return {"count": plan.count, "bars": bars}


def ends_json(ends: "EndPrediction") -> dict[str, Any]:
    """Give how the part's ends may scatter, as plain data."""
    foretold = ends.scatter
    return {
        "ends": {
            "off_95_mm": _rounded(foretold.off_95_mm, 3),
            "askew_95_deg": _rounded(foretold.askew_95_deg, 3),
            "opening_mm": _rounded(foretold.opening_mm, 3),
            "opening_95_mm": _rounded(foretold.opening_95_mm, 3),
            "matters_most": foretold.matters_most,
            "least_tolerance_deg": _rounded(ends.least_tolerance_deg, 3),
            "tolerance_reachable": ends.reachable,
        }
    }


def tape_json(tape: "TapeMarks", end: str) -> dict[str, Any]:
    """Give the marks as a tape gives them, as plain data."""
    return {
        "tape": {
            "from": end,
            "marks_mm": [_rounded(mark, 3) for mark in tape.marks_mm],
            "between_mm": [_rounded(between, 3) for between in tape.between_mm],
            "cut_length_mm": _rounded(tape.cut_length_mm, 3),
            "first_end_off_mm": _rounded(tape.first_end_off_mm, 3),
            "last_end_off_mm": _rounded(tape.last_end_off_mm, 3),
            "off_mm": _rounded(tape.off_mm, 3),
        }
    }


def as_text(plan: "Plan", ends: "EndPrediction", tape: "TapeMarks", shown: PlanView) -> list[str]:
    """Give the plan line by line: table, scatter of the ends, sources, warnings."""
    end, unit, division = shown
    lot = f", lot {plan.lot}" if plan.lot else ""
    rows = [
        ("", "", "from the", "", "bend", "stop", "first press"),
        ("bend", "mark", "mark before", "turn", "angle", "angle", "should give"),
    ]
    rows += [
        (
            str(bend.bend),
            show_on_tape(mark, unit, division),
            show_on_tape(abs(between), unit, division) + (" back" if between < 0 else ""),
            show_turn(bend.turn_deg),
            f"{bend.bend_angle_deg:.1f}",
            f"{bend.stop_angle_deg:.1f}",
            f"{bend.expected_angle_deg:.1f} ± {2 * bend.expected_sd_deg:.1f}",
        )
        for bend, mark, between in zip(plan.bends, tape.marks_mm, tape.between_mm, strict=True)
    ]
    back = min(tape.between_mm) < 0
    turned = any(_rounded(bend.turn_deg, 1) for bend in plan.bends)
    return [
        printable(f"{plan.job}: die {plan.die}, tube {plan.tube}{lot}"),
        f"cut length {show_on_tape(tape.cut_length_mm, unit, division)},"
        f" tolerance {plan.tolerance_deg:g} deg; marks from the {end} end, degrees for the rest",
        "",
        *_columns(rows),
        "",
        *([f"back: towards the {end} end"] if back else []),
        *([f"turn: the tube, after the bend before, {TURN_SEEN}"] if turned else []),
        "should give: the bend angle after the first press, ± what holds 19 times in 20",
        *([STOPS_SHORT] if stops_short(plan) else []),
        *(_rounding(tape, unit) if division else []),
        *ends.told(unit),
        f"rests on: {', '.join(plan.rests_on)}",
        *(f"  {told}" for told in plan.parameters.told(unit)),
        *(printable(f"warning: {warning}", limit=400) for warning in plan.warnings),
        CAUTION,
    ]


def _rounding(tape: "TapeMarks", unit: LengthUnit) -> list[str]:
    first, last, both = (
        show_about(off, unit) for off in (tape.first_end_off_mm, tape.last_end_off_mm, tape.off_mm)
    )
    return [
        "marks and cut rounded to the tape: with bend 1 in its place that moves the first end by"
        f" {first}, the last end by {last}, and the one against the other by {both}"
    ]


def _columns(rows: Sequence[tuple[str, ...]]) -> list[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]


def _rounded(number: float, digits: int) -> float:
    """Round; a nought has no sign."""
    return round(number, digits) + 0.0
