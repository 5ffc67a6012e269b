"""``benchmate die NAME``: what a die is, has proven and may carry; inspect, repair, retire."""

import argparse
import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from benchmate import places
from benchmate.errors import Refusal
from benchmate.units import LengthUnit
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.shop import Shop
    from benchmate.tooling.history import History
    from benchmate.tooling.proven import LoadAsked

ACTIONS = ("inspect", "repair", "retire")


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("name", metavar="NAME", help="name of the die (its file without .yaml)")
    parser.add_argument("action", nargs="?", choices=ACTIONS, help="what was done to it")
    parser.add_argument("--job", metavar="JOB", help="hold this job's load against it")
    parser.add_argument(
        "--step", type=float, metavar="P", help="per cent past proven that need no yes (25)"
    )
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.add_argument("-o", "--output", type=Path, metavar="FILE", help="picture: .svg or .png")
    parser.add_argument("--plot", action="store_true", help="load of each bend in the terminal")
    parser.add_argument(
        "--unit", choices=get_args(LengthUnit), help="how lengths are shown (the bench's else)"
    )
    told = parser.add_argument_group("inspect, repair, retire")
    told.add_argument(
        "--groove", action="append", metavar="L",
        help="groove's width by callipers, once a station, from the start of bend on",
    )  # fmt: skip
    told.add_argument("--depth", action="append", metavar="L", help="groove's depth, as --groove")
    told.add_argument("--torqued", action="store_true", help="all bolts were tightened anew")
    told.add_argument("--moved", type=int, metavar="N", help="bolts of them that had let go")
    told.add_argument("--cracks", metavar="WHERE", help="where cracks are seen; 'none' for none")
    told.add_argument("--photo", metavar="FILE", help="name of a photo's file")
    told.add_argument(
        "--part", action="append", metavar="PART",
        help="repair: what was made anew: core, plates, bolts, groove, bushing, follower",
    )  # fmt: skip
    told.add_argument("--note", default="", help="a line to keep with it")


def run(args: argparse.Namespace) -> int:
    """Show the die, or keep what was done to it."""
    from benchmate.runtime.die_history import asked_of, history_of
    from benchmate.shop import Shop
    from benchmate.store import Log

    shop, _ = Shop.read(places.shop_folder(args.shop))
    shop.bench  # noqa: B018 - refuses where bench.yaml is wrong
    shop.die(args.name)
    store = places.store_file(args.store)
    if args.action is not None:
        from benchmate.runtime.die_record import keep

        if args.action == "inspect" and not _given(args) and sys.stdin.isatty():
            from benchmate.prompts.die_prompts import ask_inspection

            ask_inspection(args, shop.die(args.name), shop.bench.unit)
        print("\n".join(keep(args, shop, store)))
        return 0
    _only_with_an_action(args)
    with Log.open(store) as log:
        history = history_of(log, shop, args.name)
    step = history.die.step_pct / 100 if args.step is None else _step(args.step)
    wanted = None if args.job is None else asked_of(history, shop, shop.job(args.job))
    if args.output is not None:
        from benchmate.reports.die_picture import write

        write(args.output, history, wanted)
    if args.json:
        print(json.dumps(as_json(history, shop, wanted), allow_nan=False))
    elif args.plot:
        from benchmate.reports.die_picture import plot

        print("\n".join(plot(history, wanted)))
    elif args.output is not None:
        print(printable(f"wrote {args.output}", limit=400))
    else:
        from benchmate.reports.die_page import page

        unit = args.unit or shop.bench.unit
        print("\n".join(page(history, shop, wanted, unit=unit, step=step, job=args.job)))
    return 0


def as_json(history: "History", shop: "Shop", wanted: "LoadAsked | None") -> dict[str, Any]:
    """Give the die as plain data; loads in N m, N and MPa."""
    from benchmate.tooling.limits import limits_of
    from benchmate.tooling.proven import largest, state_of

    proven = largest(history.carried)
    if wanted is not None:
        limits, state = wanted.limits, wanted.state
    else:
        limits = () if proven is None else limits_of(history.die, proven.load, shop.materials)
        state = state_of(None if proven is None else 1.0, limits)
    drift = history.changed
    return {
        "die": history.die.die,
        "bends": sum(each.bends for each in (*history.carried, *history.before)),
        "proven_nm": None if proven is None else round(proven.load.moment_nmm / 1000, 2),
        "proven_by": None if proven is None else proven.tube.tube,
        "next_nm": None if wanted is None else round(wanted.load.moment_nmm / 1000, 2),
        "next_ratio": _rounded(None if wanted is None else wanted.ratio),
        "next_ratio_learned": _rounded(None if wanted is None else wanted.learned_ratio),
        "state": state,
        "limits": [
            {
                "part": limit.part,
                "demand": round(limit.demand.high, 3),
                "capacity": round(limit.capacity.high, 3),
                "unit": limit.unit,
                "ratio": round(limit.ratio, 4),
                "source": limit.source,
                "demand_low": round(limit.demand.low, 3),
                "capacity_low": round(limit.capacity.low, 3),
                "says": limit.says,
            }
            for limit in limits
        ],
        "drift": None
        if drift is None
        else {
            "since_seq": drift.drift.since_seq,
            "size_deg": round(drift.drift.size_deg, 3),
            "of": drift.of,
            "sd_deg": round(drift.drift.sd_deg, 3),
            "found_seq": drift.drift.found_seq,
        },
        "retired": history.retired,
        "cracks": history.cracks or None,
    }


def _rounded(ratio: float | None) -> float | None:
    return None if ratio is None else round(ratio, 4)


def _step(per_cent: float) -> float:
    if not 0 < per_cent <= 200:
        raise Refusal(f"--step {per_cent:g} makes no sense; give per cent, as in 25")
    return per_cent / 100


def _only_with_an_action(args: argparse.Namespace) -> None:
    if given := _given(args):
        raise Refusal(
            f"--{given[0]} goes with inspect, repair or retire: benchmate die NAME inspect"
        )
    if args.json and args.plot:
        raise Refusal("--json and --plot exclude each other")


def _given(args: argparse.Namespace) -> list[str]:
    names = ("groove", "depth", "torqued", "moved", "cracks", "photo", "part", "note")
    return [name for name in names if getattr(args, name)]
