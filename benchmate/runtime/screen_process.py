"""The screen processes of ``watch``, ``demo`` and ``align``, each with its bench's command line."""

import argparse
import sys
from collections.abc import Callable, Sequence
from functools import partial
from pathlib import Path

from benchmate import places
from benchmate.clock import MonotonicClock
from benchmate.screen.app import BenchApp, Start
from benchmate.screen.client import BenchProcess, Happening
from benchmate.screen.pages.plan_lines import Laid
from benchmate.screen.remembered import Remembered
from benchmate.shop import Shop
from benchmate.units import LengthUnit

ONE_BEND = "single bend"


def watch_on_screen(args: argparse.Namespace) -> int:
    """Show the bend screen of the job or bend asked for; without either, the jobs to pick from."""
    folder, store = places.shop_folder(args.shop), places.store_file(args.store)
    shop = Shop.for_job(folder, args.job) if args.job else Shop.read(folder)[0]
    single = _single(args)
    chosen = ONE_BEND if single else args.job
    jobs = [chosen] if chosen else sorted(shop.jobs)

    def plan_of(name: str) -> Laid | None:
        return None if single else planned(shop, name, store)

    app = BenchApp(
        jobs,
        plan_of,
        _start_of(args, folder, store),
        job=chosen,
        rehearsal=args.simulate,
        by_hand=args.simulate and not args.operator,
        bites=shop.bench.arm.bites,
        has_foot=shop.bench.signals.foot_switch is not None and not args.simulate,
        unit_of=lambda name: unit_of(shop, name),
        history_of=history_of(shop, store, simulated=args.simulate),
        remembered=Remembered(places.choices_file()),
    )
    return app.run() or 0


def watch_aloud(args: argparse.Namespace) -> int:
    """Tell the job or bend asked for in sentences, worked by lines on standard input."""
    from benchmate.runtime.spoken_process import watch_spoken
    from benchmate.screen.text.spoken import Speaker

    folder, store = places.shop_folder(args.shop), places.store_file(args.store)
    shop = Shop.for_job(folder, args.job) if args.job else Shop.read(folder)[0]
    single = _single(args)
    name = ONE_BEND if single else args.job
    start = _start_of(args, folder, store)
    speaker = Speaker(name, unit_of(shop, name))
    argv = partial(start, name)
    clock = MonotonicClock()

    def opened(say: Callable[[Happening], None]) -> BenchProcess:
        return BenchProcess(lambda: argv(speaker.state.resume_at), say, clock)

    return watch_spoken(opened, speaker, sys.stdin, sys.stdout, clock)


def _start_of(args: argparse.Namespace, folder: Path, store: Path) -> Start:
    """Give what gives the bench's command line for a job, from a bend on."""
    single = _single(args)

    def start(job: str, bend: int) -> Sequence[str]:
        asked = [*(single or [job]), *(["--as-planned"] if args.as_planned else [])]
        if bend > 1:
            # The bench went in the middle of a part: what it kept is gone on with.
            asked = [*asked, "--go-on"]
        else:
            asked += [] if args.bend is None else ["--bend", str(args.bend)]
            asked += ["--go-on"] if args.go_on else ["--new"] if args.new else []
        asked = [*asked, *(["--yes"] if args.yes else ["--ask"])]
        return _bench(folder, store, "watch", [*asked, *_rehearsing(args)])

    return start


def demo_on_screen(shop: Shop, store: Path, chosen: str, seed: int, *, by_hand: bool) -> int:
    """Show a whole job being bent on the simulated bench."""
    who = [] if by_hand else ["--operator"]

    def start(job: str, bend: int) -> Sequence[str]:
        asked = [job, "--simulate", "--seed", str(seed), *who]
        asked += ["--go-on"] if bend > 1 else []
        return _bench(shop.path, store, "watch", asked)

    def plan_of(name: str) -> Laid | None:
        return planned(shop, name, store)

    app = BenchApp(
        [chosen],
        plan_of,
        start,
        job=chosen,
        rehearsal=True,
        by_hand=by_hand,
        unit_of=lambda name: unit_of(shop, name),
        history_of=history_of(shop, store, simulated=True),
        remembered=Remembered(places.choices_file()),
    )
    return app.run() or 0


def align_on_screen(args: argparse.Namespace) -> int:
    """Show the swing."""
    from benchmate.screen.pages.align_page import AlignApp

    folder, store = places.shop_folder(args.shop), places.store_file(args.store)
    asked = ["--simulate", "--seed", str(args.seed)] if args.simulate else []
    asked += ["--turn"] if args.turn else []
    asked += [f"--against={args.against}"] if args.against else []
    asked += [f"--chip={args.chip}"] if args.chip else []
    app = AlignApp(
        lambda: _bench(folder, store, "align", asked),
        turn=args.turn,
        rehearsal=args.simulate,
        against=args.against.chip if args.against else "",
    )
    return app.run() or 0


def planned(shop: Shop, job: str, store: Path) -> Laid:
    """Give the job's plan, and where its ends will lie."""
    # They bring numpy: the first paint doesn't wait for it.
    from benchmate.layout.prediction import predict_ends
    from benchmate.runtime.planning import laid_out

    unit = unit_of(shop, job)
    plan, model = laid_out(shop, job, store, unit)
    ends = predict_ends(plan, model)
    within = ("the job's tolerance is within reach on this setup",) if ends.reachable else ()
    return Laid(plan, (*ends.told(unit), *within))


def history_of(
    shop: Shop, store: Path, *, simulated: bool
) -> Callable[[str, int, int], Sequence[str]]:
    """Give what tells the bends of a job's setup, as lines that fit."""

    def lines_of(job: str, columns: int, rows: int) -> Sequence[str]:
        from benchmate.runtime.setup_history import history_lines

        return history_lines(shop, job, store, columns, rows, simulated=simulated)

    return lines_of


def unit_of(shop: Shop, job: str) -> LengthUnit:
    """Give the unit in which the job's lengths are shown."""
    asked = shop.jobs[job].unit if job in shop.jobs else None
    return asked or shop.bench.unit


def _bench(shop: Path, store: Path, command: str, asked: Sequence[str]) -> list[str]:
    # -P: where the person stands there may be a checkout, a folder named as the package is.
    program = [sys.executable, "-P", "-m", "benchmate"]
    return [*program, "--shop", str(shop), "--store", str(store), command, *asked, "--plain"]


def _rehearsing(args: argparse.Namespace) -> list[str]:
    if not args.simulate:
        return []
    return ["--simulate", "--seed", str(args.seed), *(["--operator"] if args.operator else [])]


def _single(args: argparse.Namespace) -> list[str]:
    if args.angle is None:
        return []
    asked = [f"--angle={args.angle}", f"--die={args.die}", f"--tube={args.tube}"]
    return [*asked, f"--lot={args.lot}", f"--tolerance={args.tolerance}"]
