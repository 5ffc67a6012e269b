"""A plan as a table for a person, and as plain data for a program."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

from benchmate.units import TURN_SEEN, LengthUnit, show_about, show_on_tape, show_turn
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.plan import Plan
    from benchmate.layout.prediction import EndPrediction
    from benchmate.layout.tape import TapeMarks

CAUTION = (
    "Keep hands and bystanders clear of dies, arm and the tube's sweep; benchmate advises, the"
    " person at the pump decides."
)


class Shown(NamedTuple):
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
        "cut_length_mm": round(plan.cut_length_mm, 3),
        "tail_mm": round(plan.tail_mm, 3),
        "rests_on": list(plan.rests_on),
        "figures": list(plan.parameters.told()),
        "bends": [
            {
                "bend": bend.bend,
                "mark_mm": round(bend.mark_mm, 3),
                "turn_deg": round(bend.turn_deg, 4) + 0.0,
                "bend_angle_deg": round(bend.bend_angle_deg, 4),
                "stop_angle_deg": round(bend.stop_angle_deg, 3),
                "sd_deg": round(bend.sd_deg, 4),
                "free_radius_mm": round(bend.free_radius_mm, 3),
                "straight_mm": round(bend.straight_mm, 3),
                "start_mm": round(bend.start_mm, 3),
                "arc_mm": round(bend.arc_mm, 3),
            }
            for bend in plan.bends
        ],
        "warnings": list(plan.warnings),
    }


def ends_json(ends: "EndPrediction") -> dict[str, Any]:
    """Give how the part's ends may scatter, as plain data."""
    foretold = ends.scatter
    return {
        "ends": {
            "off_95_mm": round(foretold.off_95_mm, 3),
            "askew_95_deg": round(foretold.askew_95_deg, 3),
            "opening_mm": round(foretold.opening_mm, 3),
            "opening_95_mm": round(foretold.opening_95_mm, 3),
            "matters_most": foretold.matters_most,
            "least_tolerance_deg": round(ends.least_tolerance_deg, 3),
            "tolerance_reachable": ends.reachable,
        }
    }


def tape_json(tape: "TapeMarks", end: str) -> dict[str, Any]:
    """Give the marks as a tape gives them, as plain data."""
    return {
        "tape": {
            "from": end,
            "marks_mm": [round(mark, 3) for mark in tape.marks_mm],
            "between_mm": [round(between, 3) for between in tape.between_mm],
            "cut_length_mm": round(tape.cut_length_mm, 3),
            "first_end_off_mm": round(tape.first_end_off_mm, 3),
            "last_end_off_mm": round(tape.last_end_off_mm, 3),
            "off_mm": round(tape.off_mm, 3),
        }
    }


def as_text(plan: "Plan", ends: "EndPrediction", tape: "TapeMarks", shown: Shown) -> list[str]:
    """Give the plan line by line: table, scatter of the ends, sources, warnings."""
    end, unit, division = shown
    lot = f", lot {plan.lot}" if plan.lot else ""
    rows = [
        ("", "", "from the", "", "bend", "stop", "give or"),
        ("bend", "mark", "mark before", "turn", "angle", "angle", "take"),
    ]
    rows += [
        (
            str(bend.bend),
            show_on_tape(mark, unit, division),
            show_on_tape(abs(between), unit, division) + (" back" if between < 0 else ""),
            show_turn(bend.turn_deg),
            f"{bend.bend_angle_deg:.1f}",
            f"{bend.stop_angle_deg:.1f}",
            f"{2 * bend.sd_deg:.1f}",
        )
        for bend, mark, between in zip(plan.bends, tape.marks_mm, tape.between_mm, strict=True)
    ]
    back = min(tape.between_mm) < 0
    turned = any(round(bend.turn_deg, 1) for bend in plan.bends)
    return [
        printable(f"{plan.job}: die {plan.die}, tube {plan.tube}{lot}"),
        f"cut length {show_on_tape(tape.cut_length_mm, unit, division)},"
        f" tolerance {plan.tolerance_deg:g} deg; marks from the {end} end, degrees for the rest",
        "",
        *_columns(rows),
        "",
        *([f"back: towards the {end} end"] if back else []),
        *([f"turn: the tube, after the bend before, {TURN_SEEN}"] if turned else []),
        "give or take: what the bend angle may be off after the first hit, 19 times in 20;",
        "the less sure a stop angle is, the shorter it stops: the next hit brings the rest",
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
