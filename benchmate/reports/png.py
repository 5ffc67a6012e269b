"""One page written as PNG, where Pillow is there."""

import io
import math
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

from benchmate.errors import Refusal
from benchmate.files import write_whole
from benchmate.reports.page import PaperPage, Rect, Stroke, Text

if TYPE_CHECKING:
    from PIL.Image import Image as Picture
    from PIL.ImageDraw import ImageDraw

_DOTS_PER_MM = 8


def write_png(path: Path, drawn: PaperPage) -> None:
    """Write the page at 8 dots a mm. Refusal when the library for it isn't installed."""
    try:
        from PIL import Image, ImageDraw
    except ImportError as error:
        raise Refusal(
            "pictures as PNG take Pillow, which isn't installed here: pip install pillow,"
            " or write an .svg"
        ) from error
    size = (round(drawn.wide * _DOTS_PER_MM), round(drawn.high * _DOTS_PER_MM))
    image = Image.new("L", size, 255)
    canvas = ImageDraw.Draw(image)
    for mark in drawn.marks:
        if isinstance(mark, Stroke):
            _png_stroke(canvas, mark)
        elif isinstance(mark, Rect):
            corners = [(mark.x, mark.y), (mark.x + mark.wide, mark.y + mark.high)]
            canvas.rectangle(
                [_dots(*corner) for corner in corners],
                outline=0,
                width=max(round(mark.width * _DOTS_PER_MM), 1),
            )
        else:
            _png_text(image, mark)
    whole = io.BytesIO()
    image.save(whole, "PNG", dpi=(25.4 * _DOTS_PER_MM, 25.4 * _DOTS_PER_MM))
    write_whole(path, [whole.getvalue()])


def _png_stroke(canvas: "ImageDraw", stroke: Stroke) -> None:
    width = max(round(stroke.width * _DOTS_PER_MM), 1)
    grey = round(255 * stroke.grey)
    if not stroke.dash:
        canvas.line([_dots(*each) for each in stroke.points], fill=grey, width=width)
        return
    gone = 0.0
    for (x0, y0), (x1, y1) in pairwise(stroke.points):
        steps = max(math.ceil(math.hypot(x1 - x0, y1 - y0) / (stroke.dash / 8)), 1)
        for step in range(steps):
            # A dash and a gap half as long, counted along the line from its beginning.
            if gone % (1.5 * stroke.dash) < stroke.dash:
                ends = [
                    _dots(x0 + (x1 - x0) * part / steps, y0 + (y1 - y0) * part / steps)
                    for part in (step, step + 1)
                ]
                canvas.line(ends, fill=grey, width=width)
            gone += math.hypot(x1 - x0, y1 - y0) / steps


def _png_text(image: "Picture", text: Text) -> None:
    from PIL import Image, ImageDraw, ImageFont

    font = ImageFont.load_default(size=text.size * _DOTS_PER_MM)
    at = {"start": "ls", "middle": "ms", "end": "rs"}[text.anchor]
    if not text.upright:
        ImageDraw.Draw(image).text(_dots(text.x, text.y), text.text, fill=0, font=font, anchor=at)
        return
    wide = round(font.getlength(text.text))
    label = Image.new("L", (wide, round(1.4 * text.size * _DOTS_PER_MM)), 255)
    ImageDraw.Draw(label).text(
        (0, text.size * _DOTS_PER_MM), text.text, fill=0, font=font, anchor="ls"
    )
    turned = label.rotate(90, expand=True)
    x, y = _dots(text.x - text.size, text.y)
    image.paste(turned, (x, y - turned.height // 2))


def _dots(x_mm: float, y_mm: float) -> tuple[int, int]:
    return round(x_mm * _DOTS_PER_MM), round(y_mm * _DOTS_PER_MM)
