"""``benchmate align``: swing the arm once; learn how the sensor sits."""

import argparse
import sys

from benchmate import places
from benchmate.errors import Refusal
from benchmate.runtime.options import chip_option


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "--turn",
        action="store_true",
        help="calibrate the chip first: turn its box once round in the swing plane, with stops",
    )
    parser.add_argument(
        "--against",
        type=chip_option,
        metavar="CHIP[@ADDRESS]",
        help="with --turn and an encoder: an accelerometer clamped to the arm gives the angles",
    )
    parser.add_argument(
        "--chip",
        type=chip_option,
        metavar="CHIP[@ADDRESS]",
        help="with --turn: calibrate this chip in the place of the one that bench.yaml names",
    )
    parser.add_argument(
        "--plain", action="store_true", help="JSON lines out; begin and end in, no screen"
    )
    parser.add_argument(
        "--simulate", action="store_true", help="rehearse: a simulated bench swings its arm"
    )
    parser.add_argument("--seed", type=int, default=1, help="with --simulate: another bench (1)")


def run(args: argparse.Namespace) -> int:
    """Take one swing, fit the mount, keep it in the store."""
    if not args.turn and (args.against or args.chip):
        raise Refusal("--against and --chip go with --turn: a swing is of bench.yaml's own sensor")
    if args.against and args.chip:
        raise Refusal("--against and --chip are two jobs: calibrate the chip first, by --chip")
    if args.plain:
        from benchmate.runtime.align_process import align_plain
        from benchmate.runtime.second_sensor import bench_of, check_against
        from benchmate.shop import Shop

        bench = Shop.read(places.shop_folder(args.shop))[0].bench
        if args.chip is not None:
            bench = bench_of(bench, args.chip)
        if args.against is not None:
            check_against(bench, args.against)
        return align_plain(
            bench,
            places.store_file(args.store),
            sys.stdin,
            sys.stdout,
            turn=args.turn,
            against=args.against,
            rehearse=args.seed if args.simulate else None,
        )
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise Refusal("align needs a terminal; without one use --plain and say begin and end")
    from benchmate.runtime.screen_process import align_on_screen

    return align_on_screen(args)
