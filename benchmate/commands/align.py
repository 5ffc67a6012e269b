"""``benchmate align``: swing the arm once; learn how the sensor sits."""

import argparse
import sys

from benchmate import places
from benchmate.errors import Refusal


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "--turn",
        action="store_true",
        help="calibrate the chip first: turn its box once round in the swing plane, with stops",
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
    if args.plain:
        from benchmate.commands.aligning import align_plain
        from benchmate.shop import Shop

        bench = Shop.read(places.shop_folder(args.shop))[0].bench
        return align_plain(
            bench,
            places.store_file(args.store),
            sys.stdin,
            sys.stdout,
            turn=args.turn,
            rehearse=args.seed if args.simulate else None,
        )
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise Refusal("align needs a terminal; without one use --plain and say begin and end")
    from benchmate.commands.screens import align_on_screen

    return align_on_screen(args)
