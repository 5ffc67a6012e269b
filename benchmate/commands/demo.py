"""``benchmate demo``: a whole simulated job, no hardware."""

import argparse
import os
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from benchmate import places
from benchmate.screen.terminal import on_a_terminal

if TYPE_CHECKING:
    from benchmate.shop import Shop

JOB = "cold-frame-rib"
"""The starter shop's job that shows most: several bends in one plane."""


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("job", nargs="?", metavar="JOB", help=f"a job of the shop ({JOB})")
    parser.add_argument("--seed", type=int, default=1, help="another seed, another steel (1)")
    parser.add_argument(
        "--hand", action="store_true", help="work the simulated pump yourself (p pumps, r releases)"
    )
    parser.add_argument(
        "--text", action="store_true", help="as text at a quick clock, as without a terminal"
    )


def run(args: argparse.Namespace) -> int:
    """Bend the job on the simulated bench: on the screen, or as text when there is no terminal."""
    from benchmate.shop import Shop

    folder = places.shop_folder(args.shop) if args.shop or args.job else places.starter_shop()
    shop = Shop.for_job(folder, args.job or JOB)
    if args.store is not None or os.environ.get(places.STORE):
        return _bend(args, shop, places.store_file(args.store))
    # A store that knows no tube yet, and goes when the demo does.
    with tempfile.TemporaryDirectory(prefix="benchmate-demo-", ignore_cleanup_errors=True) as kept:
        status = _bend(args, shop, Path(kept) / "bends.db")
    print("Nothing of it is kept; benchmate --store FILE demo keeps its bends.")
    return status


def _bend(args: argparse.Namespace, shop: "Shop", store: Path) -> int:
    from benchmate.runtime.watch_process import WatchRequest, watch_as_text

    job = args.job or JOB
    if not args.text and on_a_terminal(sys.stdin, sys.stdout, os.environ):
        from benchmate.runtime.screen_process import demo_on_screen

        return demo_on_screen(shop, store, job, args.seed, by_hand=args.hand)
    print("A rehearsal on a simulated bench, at a quick clock.")
    wish = WatchRequest(
        shop=shop,
        store=store,
        job=shop.job(job),
        simulate=True,
        operator=True,
        quick=True,
        seed=args.seed,
    )
    return watch_as_text(wish, sys.stdin, sys.stdout)
