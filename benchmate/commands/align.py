"""``benchmate align``: swing the arm once; learn how the sensor sits."""

import argparse
import sys

from benchmate import places
from benchmate.errors import Failure


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument(
        "--plain", action="store_true", help="JSON lines out; begin and end in, no screen"
    )
    parser.add_argument(
        "--simulate", action="store_true", help="rehearse: a simulated bench swings its arm"
    )
    parser.add_argument("--seed", type=int, default=1, help="with --simulate: another bench (1)")


def run(args: argparse.Namespace) -> int:
    """Take one swing, fit the mount, keep it in the store."""
    from benchmate.commands.aligning import align_plain, align_simulated
    from benchmate.shop import Shop

    folder = places.shop_folder(args.shop)
    bench = Shop.read(folder)[0].bench
    store = places.store_file(args.store)
    if args.simulate:
        return align_simulated(bench, args.seed, sys.stdout)
    if args.plain:
        return align_plain(bench, store, sys.stdin, sys.stdout)
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        raise Failure("align needs a terminal; or use --plain and say begin and end")
    from benchmate.commands.screens import align_on_screen

    return align_on_screen(folder, store)
