"""``benchmate watch JOB``: the live bend, on the screen or as the plain stream."""

import argparse
import os
import sys
from dataclasses import replace
from typing import TYPE_CHECKING

from benchmate import places
from benchmate.errors import Refusal
from benchmate.runtime.options import degrees
from benchmate.screen.terminal import on_a_terminal

if TYPE_CHECKING:
    from benchmate.runtime.watch_process import WatchRequest
    from benchmate.shop.parts import Job

TOLERANCE_DEG = 0.5


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("job", nargs="?", metavar="JOB", help="name of the job")
    parser.add_argument("--bend", type=int, metavar="N", help="start with bend N")
    unfinished = parser.add_mutually_exclusive_group()
    unfinished.add_argument(
        "--go-on", action="store_true", help="go on with a part that was begun and not finished"
    )
    unfinished.add_argument(
        "--new", action="store_true", help="begin a new part, whatever was begun before"
    )
    parser.add_argument(
        "--as-planned",
        action="store_true",
        help="keep the first plan's angles, turns and marks whatever comes out",
    )
    parser.add_argument("--angle", type=degrees, metavar="A", help="one bend of A degrees, no job")
    parser.add_argument("--die", help="with --angle: the die")
    parser.add_argument("--tube", help="with --angle: the tube")
    parser.add_argument("--lot", default="", help="with --angle: the tube's lot")
    parser.add_argument(
        "--tolerance",
        type=degrees,
        default=TOLERANCE_DEG,
        help=f"with --angle: tolerance in degrees ({TOLERANCE_DEG:g})",
    )
    parser.add_argument(
        "--yes", action="store_true", help="bend it though it is more than the die has proven"
    )
    parser.add_argument(
        "--ask",
        action="store_true",
        help="with --plain: bend nothing that wants a yes, instead of saying so and going on",
    )
    parser.add_argument(
        "--plain", action="store_true", help="JSON lines out, commands in, no screen"
    )
    parser.add_argument(
        "--spoken", action="store_true", help="sentences to be read aloud, a line at a time"
    )
    parser.add_argument(
        "--follow",
        action="store_true",
        help="look on at a bench that is running, read-only; JOB may be left out",
    )
    parser.add_argument(
        "--serve",
        nargs="?",
        const="",
        metavar="ADDRESS:PORT",
        help="with --follow: in a browser, on this machine alone unless an address is named",
    )
    parser.add_argument(
        "--simulate", action="store_true", help="rehearse: a simulated bench in the chip's place"
    )
    parser.add_argument(
        "--operator", action="store_true", help="with --simulate: somebody works the pump as well"
    )
    parser.add_argument(
        "--quick", action="store_true", help="with --operator: don't wait for real time"
    )
    parser.add_argument(
        "--seed", type=int, default=1, help="with --simulate: another seed, another steel (1)"
    )


def run(args: argparse.Namespace) -> int:
    """Watch the job's bends until they are done or somebody quits."""
    asked = not (args.plain or args.quick or args.spoken)
    on_screen = asked and on_a_terminal(sys.stdin, sys.stdout, os.environ)
    if args.follow:
        return _look_on(args, on_screen=on_screen)
    _check(args, may_pick=on_screen)
    if not (args.simulate or on_screen):
        # The screen paints first: its bench process asks, and the screen tells what it said.
        _ask_first(args)
    if args.plain:
        from benchmate.runtime.watch_process import watch_plain

        asked_for = replace(wish(args), caution=getattr(args, "caution", ""))
        return watch_plain(asked_for, sys.stdin, sys.stdout)
    if args.spoken:
        from benchmate.runtime.screen_process import watch_aloud

        return watch_aloud(args)
    if on_screen:
        from benchmate.runtime.screen_process import watch_on_screen

        return watch_on_screen(args)
    from benchmate.runtime.watch_process import watch_as_text

    return watch_as_text(wish(args), sys.stdin, sys.stdout)


def _look_on(args: argparse.Namespace, *, on_screen: bool) -> int:
    of_a_bench = ("bend", "go_on", "new", "angle", "die", "tube", "simulate", "operator", "quick")
    given = [name for name in of_a_bench if getattr(args, name)]
    if given:
        name = given[0].replace("_", "-")
        raise Refusal(f"--follow looks on and touches nothing: leave --{name} out")
    from benchmate.runtime.follow_process import follow

    return follow(args, on_screen=on_screen)


def _ask_first(args: argparse.Namespace) -> None:
    """Ask for a yes where the die hasn't proven what this asks; it is then given on."""
    from benchmate.runtime.die_check import ask_first, check_die

    asked = wish(args)
    check = check_die(asked.shop, asked.job, asked.store)
    if args.plain and not args.ask and not check.out_of_use:
        # A program reads this: it is told with the first target, and decides for itself.
        args.caution = " ".join(check.warnings) if check.needs_yes and not args.yes else ""
        return
    ask_first(check, asked.job, said_yes=args.yes, known=asked.job.job in asked.shop.jobs)
    args.yes = True


def wish(args: argparse.Namespace) -> "WatchRequest":
    """Give what was asked for, with the shop's files read."""
    from benchmate.runtime.watch_process import WatchRequest
    from benchmate.shop import Shop

    folder = places.shop_folder(args.shop)
    if args.job:
        shop = Shop.for_job(folder, args.job)
    else:
        shop = Shop.for_bend(folder, die=args.die, tube=args.tube, angle_deg=args.angle)
    return WatchRequest(
        shop=shop,
        store=places.store_file(args.store),
        job=shop.job(args.job) if args.job else _one_bend(args),
        first_bend=args.bend,
        answer="go_on" if args.go_on else "new" if args.new else None,
        simulate=args.simulate,
        operator=args.operator,
        quick=args.quick,
        seed=args.seed,
        as_planned=args.as_planned,
    )


def _check(args: argparse.Namespace, *, may_pick: bool) -> None:
    if args.serve is not None:
        raise Refusal("--serve shows a running bench: say --follow --serve")
    single = (args.angle, args.die, args.tube)
    if args.job is None and None in single and not (may_pick and single == (None, None, None)):
        raise Refusal("name a JOB, or give --angle, --die and --tube for one bend")
    if args.job is not None and args.angle is not None:
        raise Refusal("JOB and --angle exclude each other: name a job, or ask for one bend")
    if args.spoken and (args.plain or args.quick):
        raise Refusal("--spoken, --plain and --quick exclude each other: ask for one")
    if (args.operator and not args.simulate) or (args.quick and not args.operator):
        raise Refusal("--quick needs --operator and --operator needs --simulate: they rehearse")
    from benchmate.shop.field_readers import free_text

    try:
        free_text(args.lot)
    except ValueError as error:
        raise Refusal(f"--lot: {error}") from error


def _one_bend(args: argparse.Namespace) -> "Job":
    from benchmate.shop.parts import Job, JobBend

    if not 0.0 < args.tolerance <= 10.0:
        raise Refusal(f"--tolerance {args.tolerance:g} makes no sense; give degrees, as in 0.5")
    return Job(
        job="single bend",
        die=args.die,
        tube=args.tube,
        lot=args.lot,
        tolerance_deg=args.tolerance,
        bends=(JobBend(straight_mm=0.0, angle_deg=args.angle),),
        tail_mm=0.0,
    )
