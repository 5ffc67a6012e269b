"""Pages written as SVG."""

from collections.abc import Sequence
from pathlib import Path
from xml.sax.saxutils import escape

from benchmate.files import write_whole
from benchmate.reports.page import Mark, PaperPage, Rect, Stroke


def write_svg(path: Path, pages: Sequence[PaperPage]) -> list[Path]:
    """Write each page to an SVG of its own: NAME.svg, NAME-2.svg and so on."""
    written = []
    for number, page in enumerate(pages, start=1):
        name = path if number == 1 else path.with_stem(f"{path.stem}-{number}")
        write_whole(name, [_svg(page)])
        written.append(name)
    return written


def _svg(page: PaperPage) -> str:
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


def _svg_mark(mark: Mark) -> str:
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
