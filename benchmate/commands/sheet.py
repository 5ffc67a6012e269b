"""``benchmate sheet JOB``: the job on paper, as PDF or SVG."""

import argparse
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, get_args
from xml.sax.saxutils import escape

from benchmate import places
from benchmate.commands.plan import planned, unit_for
from benchmate.errors import Refusal
from benchmate.files import write_whole
from benchmate.units import LengthUnit
from benchmate.wording import printable

if TYPE_CHECKING:
    from fpdf import FPDF

    from benchmate.layout.paper import Mark, Page, Stroke, Text


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("job", metavar="JOB", help="name of the job (its file without .yaml)")
    parser.add_argument(
        "-o", "--output", type=Path, help="file to write, .pdf or .svg (JOB.pdf in this folder)"
    )
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4")
    parser.add_argument("--unit", choices=get_args(LengthUnit), help="how lengths are shown")


def run(args: argparse.Namespace) -> int:
    """Compose the sheet and write it."""
    from benchmate.layout.sheet import sheet
    from benchmate.shop import Shop

    path = args.output or Path(f"{args.job}.pdf")
    write = _writer(path)
    shop = Shop.for_job(places.shop_folder(args.shop), args.job)
    unit = unit_for(shop, args.job, args.unit)
    plan = planned(shop, args.job, args.store, unit)
    pages = sheet(plan, shop.tube(plan.tube), args.paper, unit, printed=time.strftime("%Y-%m-%d"))
    written = write(path, pages)
    print(printable(f"wrote {', '.join(map(str, written))}", limit=400))
    return 0


def _writer(path: Path) -> "Callable[[Path, Sequence[Page]], list[Path]]":
    kinds = {".pdf": write_pdf, ".svg": write_svg}
    if path.suffix.lower() not in kinds:
        raise Refusal(printable(f"{path}: name a file that ends in .pdf or .svg", limit=400))
    return kinds[path.suffix.lower()]


def write_pdf(path: Path, pages: "Sequence[Page]") -> list[Path]:
    """Write all pages to one PDF. Refusal when the library for it isn't installed."""
    try:
        from fpdf import FPDF
    except ImportError as error:
        raise Refusal(
            "sheets as PDF take fpdf2, which isn't installed here: sh hw/setup.sh check sets it up,"
            " or write an .svg"
        ) from error
    from benchmate.layout.paper import Rect, Stroke

    pdf = FPDF(unit="mm")
    pdf.set_auto_page_break(auto=False)
    pdf.set_creator("benchmate")
    for page in pages:
        pdf.add_page(format=(page.wide, page.high))
        for mark in page.marks:
            if isinstance(mark, Stroke):
                _pdf_stroke(pdf, mark)
            elif isinstance(mark, Rect):
                pdf.set_line_width(mark.width)
                pdf.set_draw_color(0)
                pdf.set_fill_color(round(255 * (1.0 if mark.fill is None else mark.fill)))
                style = "D" if mark.fill is None else "DF"
                pdf.rect(mark.x, mark.y, mark.wide, mark.high, style=style)
            else:
                _pdf_text(pdf, mark)
    write_whole(path, [bytes(pdf.output())])
    return [path]


def _pdf_stroke(pdf: "FPDF", stroke: "Stroke") -> None:
    pdf.set_line_width(stroke.width)
    pdf.set_draw_color(round(255 * stroke.grey))
    if stroke.dash:
        pdf.set_dash_pattern(dash=stroke.dash, gap=stroke.dash / 2)
    pdf.polyline(list(stroke.points))
    if stroke.dash:
        pdf.set_dash_pattern()


def _pdf_text(pdf: "FPDF", text: "Text") -> None:
    # The standard fonts hold Latin letters only; a grade in another script shows question marks.
    shown = text.text.encode("latin-1", "replace").decode("latin-1")
    pdf.set_font("Helvetica", style="B" if text.bold else "", size=text.size * 72 / 25.4)
    wide = pdf.get_string_width(shown)
    back = {"start": 0.0, "middle": wide / 2, "end": wide}[text.anchor]
    if not text.upright:
        pdf.text(text.x - back, text.y, shown)
        return
    with pdf.rotation(90, text.x, text.y):
        pdf.text(text.x - back, text.y, shown)


def write_svg(path: Path, pages: "Sequence[Page]") -> list[Path]:
    """Write each page to an SVG of its own: NAME.svg, NAME-2.svg and so on."""
    written = []
    for number, page in enumerate(pages, start=1):
        name = path if number == 1 else path.with_stem(f"{path.stem}-{number}")
        write_whole(name, [_svg(page)])
        written.append(name)
    return written


def _svg(page: "Page") -> str:
    size = f'width="{page.wide:g}mm" height="{page.high:g}mm"'
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" {size}'
            f' viewBox="0 0 {page.wide:g} {page.high:g}"'
            ' font-family="Helvetica, Arial, sans-serif">',
            f'<rect width="{page.wide:g}" height="{page.high:g}" fill="white"/>',
            *map(_svg_mark, page.marks),
            "</svg>\n",
        ]
    )


def _svg_mark(mark: "Mark") -> str:
    from benchmate.layout.paper import Rect, Stroke

    if isinstance(mark, Stroke):
        points = " ".join(f"{x:.3f},{y:.3f}" for x, y in mark.points)
        dash = f' stroke-dasharray="{mark.dash:g} {mark.dash / 2:g}"' if mark.dash else ""
        return (
            f'<polyline points="{points}" fill="none" stroke="{_grey(mark.grey)}"'
            f' stroke-width="{mark.width:g}"{dash}/>'
        )
    if isinstance(mark, Rect):
        fill = "none" if mark.fill is None else _grey(mark.fill)
        return (
            f'<rect x="{mark.x:.3f}" y="{mark.y:.3f}" width="{mark.wide:.3f}"'
            f' height="{mark.high:.3f}" fill="{fill}" stroke="black"'
            f' stroke-width="{mark.width:g}"/>'
        )
    upright = f' transform="rotate(-90 {mark.x:.3f} {mark.y:.3f})"' if mark.upright else ""
    weight = ' font-weight="bold"' if mark.bold else ""
    return (
        f'<text x="{mark.x:.3f}" y="{mark.y:.3f}" font-size="{mark.size:g}"'
        f' text-anchor="{mark.anchor}"{weight}{upright}>{escape(mark.text)}</text>'
    )


def _grey(grey: float) -> str:
    return f"rgb({round(255 * grey)},{round(255 * grey)},{round(255 * grey)})"
