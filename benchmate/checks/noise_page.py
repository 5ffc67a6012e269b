"""An arm standing still as a picture for a report."""

import math
from collections.abc import Sequence

from benchmate.checks.standstill_noise import NOISE_OVER_S, StandstillNoise, StandstillRecord
from benchmate.reports.page import Mark, PaperPage, Rect, Stroke, Text
from benchmate.wording import printable

_WIDE, _HIGH = 180.0, 190.0
_LEFT, _RIGHT = 24.0, 174.0
_UPPER, _LOWER = (22.0, 88.0), (110.0, 176.0)
_MOST_POINTS = 1500
_LINE = 84


def page(title: str, says: str, record: StandstillRecord, standing: StandstillNoise) -> PaperPage:
    """Draw the angle over time, and below it the Allan deviation over averaging time."""
    return PaperPage(
        _WIDE,
        _HIGH,
        (
            Text(_LEFT, 7.0, printable(title, 90), 4.0, bold=True),
            *(Text(_LEFT, 12.0 + 4.0 * n, line, 3.0) for n, line in enumerate(_lines(says))),
            *_over_time(record),
            *_by_average(standing),
        ),
    )


def _over_time(record: StandstillRecord) -> list[Mark]:
    top, bottom = _UPPER
    middle = math.fsum(record.angles_deg) / len(record.angles_deg)
    most = max(abs(angle - middle) for angle in record.angles_deg) or 1e-3
    start, lasts = record.times_s[0], record.times_s[-1] - record.times_s[0]
    every = max(1, len(record.times_s) // _MOST_POINTS)
    through = tuple(
        (
            _LEFT + (_RIGHT - _LEFT) * (t - start) / lasts,
            (top + bottom) / 2 - (bottom - top) / 2 * (angle - middle) / most,
        )
        for t, angle in zip(record.times_s[::every], record.angles_deg[::every], strict=True)
    )
    heights = [(top + part * (bottom - top) / 4, most * (1 - part / 2)) for part in range(5)]
    return [
        Rect(_LEFT, top, _RIGHT - _LEFT, bottom - top),
        Stroke(through, 0.15),
        *_up([(y, f"{off:+.3f}") for y, off in heights]),
        *_across(
            bottom,
            [(_LEFT + (_RIGHT - _LEFT) * part / 4, f"{lasts * part / 4:.0f}") for part in range(5)],
        ),
        Text((_LEFT + _RIGHT) / 2, bottom + 9.0, "time [s]", 3.5, "middle"),
        Text(
            8.0, (top + bottom) / 2, "arm angle about its mean [deg]", 3.5, "middle", upright=True
        ),
    ]


def _by_average(standing: StandstillNoise) -> list[Mark]:
    top, bottom = _LOWER
    over = [math.log10(t) for t, _ in standing.allan]
    sizes = [math.log10(max(deviation, 1e-6)) for _, deviation in standing.allan]
    low, high = math.floor(min(sizes)), math.ceil(max(sizes) + 1e-9)
    first, last = math.floor(over[0]), math.ceil(over[-1] + 1e-9)

    def at(t: float, size: float) -> tuple[float, float]:
        return (
            _LEFT + (_RIGHT - _LEFT) * (t - first) / (last - first),
            bottom - (bottom - top) * (size - low) / (high - low),
        )

    through = tuple(at(t, size) for t, size in zip(over, sizes, strict=True))
    marked = [
        at(math.log10(t), math.log10(max(deviation, 1e-6)))
        for t, deviation in zip(NOISE_OVER_S, standing.noise_deg, strict=True)
        if deviation is not None
    ]
    return [
        Rect(_LEFT, top, _RIGHT - _LEFT, bottom - top),
        Stroke(through, 0.5),
        *(Rect(x - 0.9, y - 0.9, 1.8, 1.8, fill=0.0) for x, y in marked),
        *_up([(at(first, p)[1], f"{10.0**p:g}") for p in range(low, high + 1)]),
        *_across(bottom, [(at(p, low)[0], f"{10.0**p:g}") for p in range(first, last + 1)]),
        Text((_LEFT + _RIGHT) / 2, bottom + 9.0, "averaged over [s]", 3.5, "middle"),
        Text(8.0, (top + bottom) / 2, "noise left [deg]", 3.5, "middle", upright=True),
    ]


def _up(ticks: Sequence[tuple[float, str]]) -> list[Mark]:
    marks: list[Mark] = []
    for y, told in ticks:
        marks += [
            Stroke(((_LEFT - 1.2, y), (_LEFT, y))),
            Text(_LEFT - 2.0, y + 1.0, told, 2.8, "end"),
        ]
    return marks


def _across(bottom: float, ticks: Sequence[tuple[float, str]]) -> list[Mark]:
    marks: list[Mark] = []
    for x, told in ticks:
        marks += [
            Stroke(((x, bottom), (x, bottom + 1.2))),
            Text(x, bottom + 4.5, told, 2.8, "middle"),
        ]
    return marks


def _lines(says: str) -> list[str]:
    """Break a sentence into two lines that fit the page; what doesn't fit stands in the text."""
    first: list[str] = []
    rest = says.split()
    while rest and len(" ".join([*first, rest[0]])) <= _LINE:
        first.append(rest.pop(0))
    return [" ".join(first), printable(" ".join(rest), _LINE)] if rest else [" ".join(first)]
