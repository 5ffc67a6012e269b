"""Springback against bend angle as a picture for a report: SVG, or PNG where Pillow is there."""

import math
from pathlib import Path

from benchmate.errors import Refusal
from benchmate.reports.learned_table import KnownSetup, curve_for, points
from benchmate.reports.page import Mark, PaperPage, Rect, Stroke, Text
from benchmate.reports.png import write_png
from benchmate.reports.svg import write_svg
from benchmate.wording import printable

_WIDE, _HIGH = 180.0, 120.0
_LEFT, _TOP, _RIGHT, _BOTTOM = 20.0, 16.0, 174.0, 104.0
_PARTS = 6


def write(path: Path, known: KnownSetup) -> None:
    """Write the picture of a setup; Refusal for an ending that is neither .svg nor .png."""
    kind = path.suffix.lower()
    if kind == ".svg":
        write_svg(path, [page(known)])
    elif kind == ".png":
        write_png(path, page(known))
    else:
        raise Refusal(printable(f"{path}: name a file that ends in .svg or .png", limit=400))


def page(known: KnownSetup) -> PaperPage:
    """Draw the bends, the fitted line, and the bands of the next bend about it."""
    belief = known.model.belief()
    curve, dots = curve_for(known, belief), points(known, belief)
    springs = [spring for _, spring, _ in dots]
    end = 30.0 * math.ceil(float(curve.angle[-1]) / 30)
    top = _round_up(max([float((curve.springback + 2 * curve.bend_sd).max()), *springs]))

    def at(angle: float, springback: float) -> tuple[float, float]:
        x = _LEFT + (_RIGHT - _LEFT) * angle / end
        y = _BOTTOM - (_BOTTOM - _TOP) * min(max(springback / top, 0.0), 1.0)
        return x, y

    def line(reach: float, width: float, grey: float, dash: float = 0.0) -> Stroke:
        heights = curve.springback + reach * curve.bend_sd
        through = zip(curve.angle.tolist(), heights.tolist(), strict=True)
        return Stroke(tuple(at(*each) for each in through), width, grey, dash)

    bench, die, tube, lot = known.names
    title = f"{die}, {tube}" + (f", lot {lot}" if lot else "") + f", on {bench}"
    told = (
        f"slack {belief.slack_deg.value:.2f} deg, springback of 90 deg"
        f" {belief.springback_90_deg.value:.2f} +- {2 * belief.springback_90_deg.sd:.2f} deg,"
        f" scatter {belief.scatter_deg.value:.2f} deg, {len(known.bends)} bends"
    )
    marks: list[Mark] = [
        Text(_LEFT, 7.0, printable(title, 90), 4.0, bold=True),
        Text(_LEFT, 12.5, told, 3.2),
        Rect(_LEFT, _TOP, _RIGHT - _LEFT, _BOTTOM - _TOP),
        *_ticks(end, top),
        *(line(sign * 1.96, 0.25, 0.45, 1.6) for sign in (-1, 1)),
        *(line(sign * 0.9945, 0.25, 0.45) for sign in (-1, 1)),
        line(0.0, 0.6, 0.0),
        *(_dot(*at(angle, spring), outlying=outlying) for angle, spring, outlying in dots),
        Text((_LEFT + _RIGHT) / 2, _BOTTOM + 9, "bend angle [deg]", 3.5, "middle"),
        Text(8.0, (_TOP + _BOTTOM) / 2, "springback [deg]", 3.5, "middle", upright=True),
        Text(
            _LEFT, _HIGH - 2.5, "o bend, x odd; heavy line: fitted; thin: 68 %, dashed: 95 %"
            " of next bends lie between", 3.0,
        ),
    ]  # fmt: skip
    return PaperPage(_WIDE, _HIGH, tuple(marks))


def _round_up(most: float) -> float:
    """Give the least round number that isn't below."""
    power = 10.0 ** math.floor(math.log10(max(most, 0.1)))
    return next(
        step * power for step in (1.2, 1.8, 2.4, 3, 3.6, 4.8, 6, 7.2, 9, 12) if step * power >= most
    )


def _ticks(end: float, top: float) -> list[Mark]:
    marks: list[Mark] = []
    for part in range(_PARTS + 1):
        x = _LEFT + (_RIGHT - _LEFT) * part / _PARTS
        y = _BOTTOM - (_BOTTOM - _TOP) * part / _PARTS
        marks += [
            Stroke(((x, _BOTTOM), (x, _BOTTOM + 1.2))),
            Text(x, _BOTTOM + 4.5, f"{end * part / _PARTS:g}", 3.0, "middle"),
            Stroke(((_LEFT - 1.2, y), (_LEFT, y))),
            Text(_LEFT - 2, y + 1, f"{top * part / _PARTS:.2g}", 3.0, "end"),
        ]
    return marks


def _dot(x: float, y: float, *, outlying: bool) -> Stroke:
    if outlying:
        return Stroke(
            ((x - 1, y - 1), (x + 1, y + 1), (x, y), (x - 1, y + 1), (x + 1, y - 1)), 0.35
        )
    turns = [2 * math.pi * part / 12 for part in range(13)]
    return Stroke(tuple((x + 0.9 * math.cos(a), y + 0.9 * math.sin(a)) for a in turns), 0.3)
