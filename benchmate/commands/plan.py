"""``benchmate plan JOB``: marks, turns, stop angles, cut length and warnings of one job."""

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from benchmate import places
from benchmate.errors import Refusal
from benchmate.units import LengthUnit, length_mm, show_length
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.ends import Ends
    from benchmate.layout.plan import Plan, Springback
    from benchmate.layout.tape import TapeMarks
    from benchmate.shop import Shop


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
        "--tape", metavar="L", help="round marks to a tape's division, as 1 mm or 1/16 in"
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
    tape = tape_marks(plan, _division(args.tape), from_last_end=args.end == "last")
    if args.json:
        print(json.dumps(as_json(plan) | _ends_json(ends) | _tape_json(tape, args.end)))
    else:
        print("\n".join(_as_text(plan, ends, tape, (args.end, unit))))
    return 0


def planned(shop: "Shop", name: str, store: Path | None, unit: LengthUnit = "mm") -> "Plan":
    """Lay the named job out with what the bench has learned so far."""
    return laid_out(shop, name, store, unit)[0]


def laid_out(
    shop: "Shop", name: str, store: Path | None, unit: LengthUnit = "mm"
) -> "tuple[Plan, Springback]":
    """Give the named job's plan and the springback model that it was made with."""
    from benchmate.commands.trials import found_for
    from benchmate.layout.plan import plan_job
    from benchmate.store import Log
    from benchmate.store.teaching import model_for

    job = shop.job(name)
    die, tube = shop.die(job.die), shop.tube(job.tube)
    with Log.open(places.store_file(store)) as log:
        model = model_for(log, shop.bench, die, tube, job.lot, simulated=False)
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
                "turn_deg": round(bend.turn_deg, 4),
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
            "off_mm": round(tape.off_mm, 3),
        }
    }


def _as_text(
    plan: "Plan", ends: "Ends", tape: "TapeMarks", shown: tuple[str, LengthUnit]
) -> list[str]:
    end, unit = shown
    lot = f", lot {plan.lot}" if plan.lot else ""
    rows = [("bend", "mark", "from last", "turn", "bend angle", "stop angle", "give or take")]
    rows += [
        (
            str(bend.bend),
            show_length(mark, unit),
            show_length(between, unit),
            f"{bend.turn_deg:.1f}",
            f"{bend.bend_angle_deg:.1f}",
            f"{bend.stop_angle_deg:.1f}",
            f"{2 * bend.sd_deg:.1f}",
        )
        for bend, mark, between in zip(plan.bends, tape.marks_mm, tape.between_mm, strict=True)
    ]
    small: LengthUnit = "mm" if unit == "mm" else "in"
    rounded = (
        [f"marks rounded to the tape: that moves the last end by {show_length(tape.off_mm, small)}"]
        if tape.off_mm > 1e-6
        else []
    )
    return [
        printable(f"{plan.job}: die {plan.die}, tube {plan.tube}{lot}"),
        f"cut length {show_length(plan.cut_length_mm, unit)},"
        f" tolerance {plan.tolerance_deg:g} deg; marks from the {end} end, degrees for the rest",
        "",
        *_columns(rows),
        "",
        "give or take: what the bend angle may be off after the first hit, 19 times in 20;",
        "the less sure a stop angle is, the shorter it stops: the next hit brings the rest",
        *rounded,
        *ends.told(unit),
        f"rests on: {', '.join(plan.rests_on)}",
        *(f"  {told}" for told in plan.figures.told(unit)),
        *(printable(f"warning: {warning}", limit=400) for warning in plan.warnings),
    ]


def _division(written: str | None) -> float:
    if written is None:
        return 0.0
    try:
        division = length_mm(written)
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
