"""``benchmate plan JOB``: marks, turns, stop angles, cut length and warnings of one job."""

import argparse
import json
from dataclasses import replace
from typing import get_args

from benchmate import places
from benchmate.errors import Refusal
from benchmate.units import LengthUnit, length_mm, own_division_mm
from benchmate.wording import printable


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("job", metavar="JOB", help="name of the job (its file without .yaml)")
    parser.add_argument("--json", action="store_true", help="one JSON object, lengths in mm")
    parser.add_argument(
        "--other-end", action="store_true", help="as bent from the other end, its last bend first"
    )
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
    from benchmate.layout.cut_list import cut_list_of
    from benchmate.layout.prediction import predict_ends
    from benchmate.layout.tape import tape_marks
    from benchmate.reports.plan_table import (
        PlanView,
        as_json,
        as_text,
        cut_json,
        cut_lines,
        ends_json,
        tape_json,
    )
    from benchmate.runtime.die_check import check_die
    from benchmate.runtime.planning import laid_out, unit_for
    from benchmate.shop import Shop

    shop = Shop.for_job(places.shop_folder(args.shop), args.job)
    unit = unit_for(shop, args.job, args.unit)
    plan, model = laid_out(shop, args.job, args.store, unit, other_end=args.other_end)
    ends = predict_ends(plan, model)
    check = check_die(shop, shop.job(args.job), places.store_file(args.store))
    plan = replace(plan, warnings=(*plan.warnings, *check.warnings))
    division = _division(args.tape, unit)
    last = args.end == "last"
    stock = shop.tube(plan.tube).stock_mm
    if args.json:
        tape = tape_marks(plan, division, from_last_end=last)
        cuts = cut_list_of(tape.cut_length_mm, plan.count, stock, shop.bench.kerf_mm)
        whole = as_json(plan) | ends_json(ends) | tape_json(tape, args.end) | cut_json(plan, cuts)
        print(json.dumps(whole | check.plain))
    else:
        # People mark to a tape's division; programs get the figure as it is.
        tape = tape_marks(plan, division or own_division_mm(unit), from_last_end=last)
        *told, caution = as_text(plan, ends, tape, PlanView(args.end, unit, division))
        cuts = cut_list_of(tape.cut_length_mm, plan.count, stock, shop.bench.kerf_mm)
        told += cut_lines(plan, cuts, unit)
        print("\n".join([*told, *check.forming, *check.ladder, caution]))
    return 0


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
