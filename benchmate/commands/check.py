"""``benchmate check``: what works, what doesn't, and what to do about it."""

import argparse
import json
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

from benchmate import places
from benchmate.errors import Refusal
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.checks.finding import Finding
    from benchmate.shop import Shop


STILL_TO_DO = {"alignment"}
"""Not there on a new bench: something to do, nothing that fails."""
SECONDS = 120.0
TOLERANCE_DEG = 0.5


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.add_argument(
        "--sounds", action="store_true", help="play every tone and lamp pattern, with its meaning"
    )
    parser.add_argument(
        "--sensor", action="store_true", help="watch the arm stand still: noise, drift, rate, bus"
    )
    parser.add_argument(
        "--store", action="store_true", dest="through_store",
        help="look through all that the store holds, every trace replayed",
    )  # fmt: skip
    parser.add_argument("--seconds", type=float, help=f"with --sensor: for how long ({SECONDS:g})")
    parser.add_argument("--job", help="with --sensor: the job whose tolerance is to be held")
    parser.add_argument(
        "-o", "--output", type=Path, metavar="FILE", help="with --sensor: picture, .svg"
    )
    parser.add_argument(
        "--simulate", action="store_true", help="with --sensor: rehearse, without waiting"
    )
    parser.add_argument("--seed", type=int, help="with --simulate: another bench (1)")


def run(args: argparse.Namespace) -> int:
    """Print a line for each thing looked at; 0: all works, 1: bench or store fails, 2: a file."""
    if args.sounds:
        from benchmate.checks.sounds import play_all
        from benchmate.clock import MonotonicClock
        from benchmate.shop import Shop

        shop = Shop.read(places.shop_folder(args.shop))[0]
        return play_all(shop.bench.signals, MonotonicClock(), print)
    if args.sensor and args.through_store:
        raise Refusal("--sensor and --store are two looks: ask for one")
    if args.sensor:
        return _watch_sensor(args)
    alone = (args.seconds, args.job, args.output, args.seed, args.simulate or None)
    if any(each is not None for each in alone):
        raise Refusal("--seconds, --job, -o, --simulate and --seed are for 'check --sensor'")
    return _look_at_all(args)


def _watch_sensor(args: argparse.Namespace) -> int:
    from benchmate.checks.sensor_report import SensorCheckRequest, report
    from benchmate.shop import Shop

    seconds = SECONDS if args.seconds is None else args.seconds
    if not 10.0 <= seconds <= 3600.0:
        raise Refusal(f"--seconds {seconds:g} makes no sense; give 10 to 3600")
    if args.output is not None and args.output.suffix.lower() != ".svg":
        raise Refusal(printable(f"{args.output}: name a file that ends in .svg", limit=400))
    if args.seed is not None and not args.simulate:
        raise Refusal("--seed is for --simulate")
    folder = places.shop_folder(args.shop)
    shop = Shop.for_job(folder, args.job) if args.job else Shop.read(folder)[0]
    return report(
        SensorCheckRequest(
            bench=shop.bench,
            store=places.store_file(args.store),
            seconds=seconds,
            tolerance_deg=shop.job(args.job).tolerance_deg if args.job else TOLERANCE_DEG,
            job=args.job or "",
            output=args.output,
            as_json=args.json,
            rehearse=(args.seed or 1) if args.simulate else None,
        )
    )


def _look_at_all(args: argparse.Namespace) -> int:
    from benchmate.shop import Shop

    shop, problems = Shop.read(places.shop_folder(args.shop))
    found = []
    store = places.store_file(args.store)
    for finding in _look_through(shop, store) if args.through_store else _look(shop, store):
        found.append(finding)
        if not args.json:
            # As each is found: a bus that hangs is then the line that doesn't come.
            print(_line(finding), flush=True)
    fails = any(
        finding.mark in ("missing", "wrong") and finding.what not in STILL_TO_DO
        for finding in found
    )
    status = 2 if problems else int(fails)
    if args.json:
        print(json.dumps({"findings": [_plain(finding) for finding in found], "exit": status}))
    return status


def _look_through(shop: "Shop", store: Path) -> Iterator["Finding"]:
    from benchmate.checks.disk import look_at_disk
    from benchmate.checks.store import look_at_copy, look_through_store

    yield from look_through_store(store)
    if (bench := shop.good_bench) is not None:
        yield from look_at_copy(store, bench.store_copy, bench.bench)
    yield from look_at_disk(store)


def _look(shop: "Shop", store: Path) -> Iterator["Finding"]:
    from benchmate.checks.disk import look_at_disk
    from benchmate.checks.power import look_at_supply
    from benchmate.checks.shop_files import look_at_files
    from benchmate.checks.store import look_at_copy, look_at_store

    yield from look_at_files(shop)
    yield from look_at_store(store)
    if (bench := shop.good_bench) is not None:
        yield from look_at_copy(store, bench.store_copy, bench.bench)
    yield from look_at_disk(store)
    yield from _look_at_bench(shop, store)
    yield from look_at_supply()


def _look_at_bench(shop: "Shop", store: Path) -> Iterator["Finding"]:
    from benchmate.checks.alignment import look_at_alignment
    from benchmate.checks.finding import Finding
    from benchmate.checks.pins import look_at_pins
    from benchmate.checks.sensor import look_at_chip, look_at_sensor
    from benchmate.checks.store import writer_of
    from benchmate.clock import MonotonicClock

    if shop.good_bench is None:
        yield Finding("missing", "sensor", "not looked at until bench.yaml is right")
    elif writer := writer_of(store):
        # Setting the chip up afresh would end a live bend.
        told = f"not touched while benchmate (process {writer}) uses them; end it first"
        yield Finding("works", "sensor and pins", told)
    else:
        yield look_at_alignment(shop.good_bench, store)
        yield from look_at_sensor(shop.good_bench.sensor, MonotonicClock())
        if shop.good_bench.frame_sensor is not None:
            yield look_at_chip(shop.good_bench.frame_sensor, MonotonicClock(), "frame sensor")
        yield from look_at_pins(shop.good_bench.signals)


def _line(finding: "Finding") -> str:
    told = f"{finding.what}: {finding.says}" if finding.says else finding.what
    return f"{finding.mark:<8} {printable(told, 600)}"


def _plain(finding: "Finding") -> dict[str, str]:
    return {"mark": finding.mark, "what": finding.what, "says": finding.says}
