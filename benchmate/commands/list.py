"""``benchmate list``: jobs, dies and tubes on the rack; what is made, what is ready to bend."""

import argparse
import json
import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from benchmate import places
from benchmate.errors import BenchmateError
from benchmate.screen.terminal import shows_braille
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.shop import Shop
    from benchmate.shop.parts import Job
    from benchmate.store.tubes_made import TubesMade

_WIDE, _HIGH = 30, 6


@dataclass(frozen=True, slots=True)
class Listed:
    """One job of the shop: what it is of, how many are made, and what stops it."""

    name: str
    job: "Job | None"
    made: int
    scrapped: int
    stops: tuple[str, ...]
    """Sentences; none: it is ready to bend."""


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("--json", action="store_true", help="one JSON object")
    parser.add_argument(
        "--cut", action="store_true", help="the cut list of all that is to be made, tube by tube"
    )
    parser.add_argument("--plain", action="store_true", help="no drawings")


def run(args: argparse.Namespace) -> int:
    """List what the shop holds."""
    from benchmate.shop import Shop

    shop, _ = Shop.read(places.shop_folder(args.shop))
    made = _made(args)
    jobs = _jobs(shop, made)
    if args.json:
        print(json.dumps(_plain(shop, jobs)))
    elif args.cut:
        print("\n".join(_cut(shop, jobs, args)))
    else:
        print("\n".join(_lines(shop, jobs, drawn=not args.plain)))
    return 0


def _made(args: argparse.Namespace) -> "Mapping[str, TubesMade]":
    from benchmate.store import Log
    from benchmate.store.tubes_made import tubes_made

    with Log.open(places.store_file(args.store)) as log:
        return tubes_made(log)


def _jobs(shop: "Shop", made: "Mapping[str, TubesMade]") -> list[Listed]:
    from benchmate.layout.plan import centreline_of
    from benchmate.store.tubes_made import TubesMade

    found = []
    for name, job in shop.jobs.items():
        stops: tuple[str, ...] = ()
        try:
            tube, die = shop.tube(job.tube), shop.die(job.die)
            part = centreline_of(job, tube.od_mm, die.centreline_radius_mm)
            too_far = [angle for angle in part.angles_deg if angle > die.max_angle_deg + 1e-9]
            if too_far:
                stops = (f"die {die.die} bends to {die.max_angle_deg:g} deg, not {max(too_far):g}",)
        except BenchmateError as error:
            stops = (str(error).splitlines()[0],)
        tubes = made.get(name, TubesMade())
        found.append(Listed(name, job, tubes.made, tubes.scrapped, stops))
    files = {str(shop.path / "jobs" / f"{name}.yaml"): name for name in _written(shop)}
    broken: dict[str, list[str]] = {}
    for problem in shop.problems:
        if problem.file in files and files[problem.file] not in shop.jobs:
            broken.setdefault(files[problem.file], []).append(": ".join(problem.parts()[1:]))
    found += [Listed(name, None, 0, 0, tuple(says)) for name, says in broken.items()]
    return sorted(found, key=lambda each: each.name)


def _written(shop: "Shop") -> list[str]:
    folder = shop.path / "jobs"
    return [path.stem for path in folder.glob("*.yaml")] if folder.is_dir() else []


def _state(listed: Listed) -> str:
    if listed.stops:
        return "can't be bent"
    count = listed.job.count if listed.job is not None else 1
    scrapped = f", {listed.scrapped} scrapped" if listed.scrapped else ""
    if count == 1:
        return (f"made {listed.made}" if listed.made else "to make") + scrapped
    return f"made {listed.made} of {count}{scrapped}"


def _lines(shop: "Shop", jobs: list[Listed], *, drawn: bool) -> list[str]:
    from benchmate.units import show_size

    unit = "mm" if shop.good_bench is None else shop.bench.unit
    lines = ["jobs" if jobs else "no jobs yet: benchmate add job"]
    for listed in jobs:
        of = f"{listed.job.tube} on {listed.job.die}" if listed.job is not None else ""
        lines.append(printable(f"  {listed.name:<20} {_state(listed):<14} {of}".rstrip(), 200))
        lines += [printable(f"      {says}", 300) for says in listed.stops]
        if drawn and listed.job is not None and not listed.stops:
            lines += [f"      {line}" for line in _drawing(shop, listed.job)]
    lines.append("dies" if shop.dies else "no dies yet: benchmate add die")
    lines += [
        printable(
            f"  {name:<20} for {show_size(die.for_od_mm, unit)},"
            f" radius {show_size(die.centreline_radius_mm, unit)}, to {die.max_angle_deg:g} deg"
        )
        for name, die in sorted(shop.dies.items())
    ]
    lines.append("tubes" if shop.tubes else "no tubes yet: benchmate add tube")
    lines += [
        printable(
            f"  {name:<20} {show_size(tube.od_mm, unit)} x {show_size(tube.wall_mm, unit)},"
            f" {tube.grade}"
        )
        for name, tube in sorted(shop.tubes.items())
    ]
    if shop.problems:
        lines.append("some files are wrong: benchmate check says which")
    return lines


def _drawing(shop: "Shop", job: "Job") -> list[str]:
    from benchmate.layout.plan import centreline_of
    from benchmate.reports.part_text import part_lines

    part = centreline_of(job, shop.tube(job.tube).od_mm, shop.die(job.die).centreline_radius_mm)
    braille = shows_braille(sys.stdout, os.environ)
    return part_lines(part, _WIDE, _HIGH, braille=braille)


def _cut(shop: "Shop", jobs: list[Listed], args: argparse.Namespace) -> list[str]:
    """Give the cut list of all that is still to be made, tube by tube."""
    from benchmate.layout.cut_list import cut_list, cut_list_lines
    from benchmate.layout.tape import tape_marks
    from benchmate.runtime.planning import planned
    from benchmate.units import own_division_mm

    unit = "mm" if shop.good_bench is None else shop.bench.unit
    wanted: dict[str, list[float]] = {}
    for listed in jobs:
        if listed.job is None or listed.stops:
            continue
        left = max(listed.job.count - listed.made, 0)
        plan = planned(shop, listed.name, args.store, unit)
        length = tape_marks(plan, own_division_mm(unit)).cut_length_mm
        wanted.setdefault(listed.job.tube, []).extend([length] * left)
    lines = []
    for name, lengths in sorted(wanted.items()):
        stock = shop.tube(name).stock_mm
        if not lengths:
            continue
        if stock is None:
            many = f"{len(lengths)} piece{'' if len(lengths) == 1 else 's'}"
            lines.append(f"{name}: {many}; write the tube's stock length for a cut list")
            continue
        cuts = cut_list(lengths, stock, shop.bench.kerf_mm)
        first, *bars = cut_list_lines(cuts, unit)
        lines += [printable(f"{name}: {first}", 200), *(f"  {bar}" for bar in bars)]
    return lines or ["nothing is left to be made"]


def _plain(shop: "Shop", jobs: list[Listed]) -> dict[str, Any]:
    return {
        "jobs": [
            {
                "job": each.name,
                "tube": each.job.tube if each.job is not None else None,
                "die": each.job.die if each.job is not None else None,
                "count": each.job.count if each.job is not None else None,
                "made": each.made,
                "scrapped": each.scrapped,
                "ready": not each.stops,
                "stops": list(each.stops),
            }
            for each in jobs
        ],
        "dies": sorted(shop.dies),
        "tubes": sorted(shop.tubes),
    }
