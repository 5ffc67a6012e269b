"""The screen process of ``watch`` and ``demo``: the app, and the command line of its bench."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from benchmate import places
from benchmate.commands.plan import planned
from benchmate.layout.plan import Plan
from benchmate.screen.app import BenchApp
from benchmate.shop import Shop


def watch_on_screen(args: argparse.Namespace) -> int:
    """Show the bend screen of the job, or of the one bend asked for."""
    folder = places.shop_folder(args.shop)
    store = places.store_file(args.store)
    shop = Shop.for_job(folder, args.job) if args.job else Shop.open(folder)
    rehearsal = ["--seed", str(args.seed), "--simulate"] if args.simulate else []
    if args.operator:
        rehearsal.append("--operator")
    single = _single(args)

    def start(job: str, bend: int) -> Sequence[str]:
        asked = single or [job, "--bend", str(max(bend, args.bend))]
        return bench_command(folder, store, [*asked, *rehearsal])

    def plan_of(job: str) -> Plan | None:
        return None if single else planned(shop, job, store)

    BenchApp(
        [args.job or "single bend"],
        plan_of,
        start,
        job=args.job or "single bend",
        rehearsal=args.simulate,
        bites=shop.bench.arm.bites,
    ).run()
    return 0


def demo_on_screen(shop: Shop, store: Path, job: str, seed: int, *, by_hand: bool) -> int:
    """Show a whole job being bent on the simulated bench."""
    who = [] if by_hand else ["--operator"]

    def start(job: str, bend: int) -> Sequence[str]:
        asked = [job, "--bend", str(bend), "--simulate", "--seed", str(seed), *who]
        return bench_command(shop.path, store, asked)

    BenchApp([job], lambda name: planned(shop, name, store), start, job=job, rehearsal=True).run()
    return 0


def bench_command(shop: Path, store: Path, asked: Sequence[str]) -> list[str]:
    """Give the command line of the bench process."""
    program = [sys.executable, "-m", "benchmate", "--shop", str(shop), "--store", str(store)]
    return [*program, "watch", *asked, "--plain"]


def _single(args: argparse.Namespace) -> list[str]:
    if args.job:
        return []
    asked = [f"--angle={args.angle}", f"--die={args.die}", f"--tube={args.tube}"]
    return [*asked, f"--lot={args.lot}", f"--tolerance={args.tolerance}"]
