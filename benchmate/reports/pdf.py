"""Pages written as PDF."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from benchmate.errors import Refusal
from benchmate.files import write_whole
from benchmate.reports.page import PaperPage, Rect, Stroke, Text

if TYPE_CHECKING:
    from fpdf import FPDF


def write_pdf(path: Path, pages: Sequence[PaperPage]) -> list[Path]:
    """Write all pages to one PDF. Refusal when the library for it isn't installed."""
    try:
        from fpdf import FPDF
    except ImportError as error:
        raise Refusal(
            "sheets as PDF take fpdf2, which isn't installed here: sh hw/setup.sh check sets it up,"
            " or write an .svg"
        ) from error
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


def _pdf_stroke(pdf: "FPDF", stroke: Stroke) -> None:
    pdf.set_line_width(stroke.width)
    pdf.set_draw_color(round(255 * stroke.grey))
    if stroke.dash:
        pdf.set_dash_pattern(dash=stroke.dash, gap=stroke.dash / 2)
    pdf.polyline(list(stroke.points))
    if stroke.dash:
        pdf.set_dash_pattern()


def _pdf_text(pdf: "FPDF", text: Text) -> None:
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
