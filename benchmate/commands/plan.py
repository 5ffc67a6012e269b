"""``benchmate plan JOB``: marks, turns, stop angles, cut length and warnings of one job."""

import argparse
import json
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from benchmate import places
from benchmate.units import LengthUnit, show_length
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.plan import Plan
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


def run(args: argparse.Namespace) -> int:
    """Print the plan as a table, or as one JSON object."""
    from benchmate.shop import Shop

    shop = Shop.for_job(places.shop_folder(args.shop), args.job)
    unit = unit_for(shop, args.job, args.unit)
    plan = planned(shop, args.job, args.store, unit)
    if args.json:
        print(json.dumps(as_json(plan)))
    else:
        print("\n".join(as_text(plan, unit)))
    return 0


def planned(shop: "Shop", name: str, store: Path | None, unit: LengthUnit = "mm") -> "Plan":
    """Lay the named job out with what the bench has learned so far."""
    from benchmate.commands.trials import found_for
    from benchmate.layout.plan import plan_job
    from benchmate.store import Log
    from benchmate.store.teaching import model_for

    job = shop.job(name)
    die, tube = shop.die(job.die), shop.tube(job.tube)
    with Log.open(places.store_file(store)) as log:
        model = model_for(log, shop.bench, die, tube, job.lot, simulated=False)
        found = found_for(log, die, tube)
    return plan_job(job, die, tube, model, found=found, unit=unit)


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


def as_text(plan: "Plan", unit: LengthUnit) -> list[str]:
    """Give the plan as lines for a person."""
    lot = f", lot {plan.lot}" if plan.lot else ""
    rows = [("bend", "mark", "turn", "bend angle", "stop angle", "give or take")]
    rows += [
        (
            str(bend.bend),
            show_length(bend.mark_mm, unit),
            f"{bend.turn_deg:.1f}",
            f"{bend.bend_angle_deg:.1f}",
            f"{bend.stop_angle_deg:.1f}",
            f"{2 * bend.sd_deg:.1f}",
        )
        for bend in plan.bends
    ]
    return [
        printable(f"{plan.job}: die {plan.die}, tube {plan.tube}{lot}"),
        f"cut length {show_length(plan.cut_length_mm, unit)},"
        f" tolerance {plan.tolerance_deg:g} deg; marks from the first end, degrees for the rest",
        "",
        *_columns(rows),
        "",
        "give or take: what the bend angle may be off after the first hit, 19 times in 20;",
        "the less sure a stop angle is, the shorter it stops: the next hit brings the rest",
        f"rests on: {', '.join(plan.rests_on)}",
        *(f"  {told}" for told in plan.figures.told(unit)),
        *(printable(f"warning: {warning}", limit=400) for warning in plan.warnings),
    ]


def _columns(rows: Sequence[tuple[str, ...]]) -> list[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [
        "  ".join(cell.rjust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]
