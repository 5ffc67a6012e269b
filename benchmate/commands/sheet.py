"""``benchmate sheet JOB``: the job on paper, as PDF or SVG."""

import argparse
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from benchmate import places
from benchmate.errors import Refusal
from benchmate.units import LengthUnit, own_division_mm
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.reports.page import PaperPage


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("job", metavar="JOB", help="name of the job (its file without .yaml)")
    parser.add_argument(
        "-o", "--output", type=Path, help="file to write, .pdf or .svg (JOB.pdf in this folder)"
    )
    parser.add_argument(
        "--other-end", action="store_true", help="as bent from the other end, its last bend first"
    )
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4")
    parser.add_argument("--unit", choices=get_args(LengthUnit), help="how lengths are shown")


def run(args: argparse.Namespace) -> int:
    """Compose the sheet and write it."""
    from benchmate.layout.cut_list import cut_list_of
    from benchmate.layout.tape import tape_marks
    from benchmate.reports.job_sheet import sheet
    from benchmate.runtime.planning import planned, unit_for
    from benchmate.shop import Shop

    path = args.output or Path(f"{args.job}.pdf")
    write = _writer(path)
    shop = Shop.for_job(places.shop_folder(args.shop), args.job)
    unit = unit_for(shop, args.job, args.unit)
    plan = planned(shop, args.job, args.store, unit, other_end=args.other_end)
    cut_mm = tape_marks(plan, own_division_mm(unit)).cut_length_mm
    tube = shop.tube(plan.tube)
    cuts = cut_list_of(cut_mm, plan.count, tube.stock_mm, shop.bench.kerf_mm)
    day = time.strftime("%Y-%m-%d")
    pages = sheet(plan, tube, args.paper, unit, printed=day, cuts=cuts)
    written = write(path, pages)
    print(printable(f"wrote {', '.join(map(str, written))}", limit=400))
    return 0


def _writer(path: Path) -> "Callable[[Path, Sequence[PaperPage]], list[Path]]":
    from benchmate.reports.pdf import write_pdf
    from benchmate.reports.svg import write_svg

    kinds = {".pdf": write_pdf, ".svg": write_svg}
    if path.suffix.lower() not in kinds:
        raise Refusal(printable(f"{path}: name a file that ends in .pdf or .svg", limit=400))
    return kinds[path.suffix.lower()]
