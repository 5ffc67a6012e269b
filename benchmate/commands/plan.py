"""``benchmate plan JOB``: marks, turns, stop angles, cut length and warnings of one job."""

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple, get_args

from benchmate import places
from benchmate.errors import Refusal
from benchmate.units import (
    TURN_SEEN,
    LengthUnit,
    length_mm,
    own_division_mm,
    show_about,
    show_on_tape,
    show_turn,
)
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.ends import Ends
    from benchmate.layout.plan import Plan, Springback
    from benchmate.layout.tape import TapeMarks
    from benchmate.shop import Shop


CAUTION = (
    "Keep hands and bystanders clear of dies, arm and the tube's sweep; benchmate advises, the"
    " person at the pump decides."
)


class _Shown(NamedTuple):
    """How marks are to be shown: from which end, in which unit, to which division (0: none)."""

    end: str
    unit: LengthUnit
    division_mm: float


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("job", metavar="JOB", help="name of the job (its file without .yaml)")
    parser.add_argument("--json", action="store_true", help="one JSON object, lengths in mm")
    parser.add_argument(
        "--unit",
        choices=get_args(LengthUnit),
        help="how lengths are shown: mm, decimal inches, or inches in fractions (the job's else)",
    )
    parser.add_argument(
        "--from", dest="end", choices=("first", "last"), default="first", help="end to measure from"
    )
    parser.add_argument(
        "--tape", metavar="L", help="round marks and cut to a tape's division, as 1 mm or 1/16 in"
    )


def run(args: argparse.Namespace) -> int:
    """Print the plan as a table, or as one JSON object."""
    from benchmate.layout.ends import ends_of
    from benchmate.layout.tape import tape_marks
    from benchmate.shop import Shop

    shop = Shop.for_job(places.shop_folder(args.shop), args.job)
    unit = unit_for(shop, args.job, args.unit)
    plan, model = laid_out(shop, args.job, args.store, unit)
    ends = ends_of(plan, model)
    division = _division(args.tape, unit)
    last = args.end == "last"
    if args.json:
        tape = tape_marks(plan, division, from_last_end=last)
        print(json.dumps(as_json(plan) | _ends_json(ends) | _tape_json(tape, args.end)))
    else:
        # People mark to a tape's division; programs get the figure as it is.
        tape = tape_marks(plan, division or own_division_mm(unit), from_last_end=last)
        print("\n".join(_as_text(plan, ends, tape, _Shown(args.end, unit, division))))
    return 0


def planned(shop: "Shop", name: str, store: Path | None, unit: LengthUnit = "mm") -> "Plan":
    """Lay the named job out with what the bench has learned so far."""
    return laid_out(shop, name, store, unit)[0]


def laid_out(
    shop: "Shop", name: str, store: Path | None, unit: LengthUnit = "mm"
) -> "tuple[Plan, Springback]":
    """Give the named job's plan and the springback model that it was made with."""
    from dataclasses import replace

    from benchmate.commands.trials import found_for
    from benchmate.layout.plan import plan_job
    from benchmate.store import Log
    from benchmate.store.learning import model_for

    job = shop.job(name)
    die, tube = shop.die(job.die), shop.tube(job.tube)
    with Log.open(places.store_file(store)) as log:
        model = model_for(log, shop.bench, die, tube, job.lot, simulated=False)
        model = replace(model, over_limit=job.over_chance_pct / 100)
        found = found_for(log, die, tube)
    plan = plan_job(job, die, tube, model, found=found, keep_out=shop.bench.keep_out, unit=unit)
    return plan, model


def unit_for(shop: "Shop", job: str, asked: LengthUnit | None) -> LengthUnit:
    """Choose the unit to show: asked for, else the job's, else the bench's."""
    return asked or shop.job(job).unit or shop.bench.unit


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
        "figures": list(plan.figures.told()),
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


def _ends_json(ends: "Ends") -> dict[str, Any]:
    foretold = ends.foretold
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


def _tape_json(tape: "TapeMarks", end: str) -> dict[str, Any]:
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


def _as_text(plan: "Plan", ends: "Ends", tape: "TapeMarks", shown: _Shown) -> list[str]:
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
        *(f"  {told}" for told in plan.figures.told(unit)),
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


def _division(written: str | None, unit: LengthUnit) -> float:
    if written is None:
        return 0.0
    try:
        division = length_mm(written, unit)
    except ValueError as error:
        raise Refusal(f"--tape: {error}") from error
    if division <= 0:
        raise Refusal(f"--tape: {printable(written)} is no division; give one above 0, as 1 mm")
    return division


def _columns(rows: Sequence[tuple[str, ...]]) -> list[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]
