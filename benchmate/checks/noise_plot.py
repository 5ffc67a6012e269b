"""An arm standing still in letters, for any terminal: its angle over time, its noise by average."""

import math
from collections.abc import Sequence

from benchmate.checks.standstill_noise import StandstillNoise, StandstillRecord

_LEFT = 9
_MOST_COLUMNS = 120
_LEAST_WIDE, _LEAST_HIGH, _MOST_HIGH = 24, 5, 12


def plot(record: StandstillRecord, standing: StandstillNoise, columns: int, rows: int) -> list[str]:
    """Draw the angle against time, then the Allan deviation against averaging time."""
    wide = max(min(columns, _MOST_COLUMNS) - _LEFT - 2, _LEAST_WIDE)
    high = max(min(rows // 2 - 3, _MOST_HIGH), _LEAST_HIGH)
    return [*_over_time(record, wide, high), "", *_by_average(standing, wide, high)]


def _over_time(record: StandstillRecord, wide: int, high: int) -> list[str]:
    angles = record.angles_deg
    middle = math.fsum(angles) / len(angles)
    start, lasts = record.times_s[0], record.times_s[-1] - record.times_s[0]
    columns: list[list[float]] = [[] for _ in range(wide)]
    for t, angle in zip(record.times_s, angles, strict=True):
        columns[min(int((t - start) / lasts * wide), wide - 1)].append(angle - middle)
    top = max(abs(angle - middle) for angle in angles) or 1e-3
    field = [[" "] * wide for _ in range(high)]

    def row(off: float) -> int:
        return round((top - off) / (2.0 * top) * (high - 1))

    for column, seen in enumerate(columns):
        if not seen:
            continue
        for line in range(row(max(seen)), row(min(seen)) + 1):
            field[line][column] = "."
        field[row(math.fsum(seen) / len(seen))][column] = "o"
    labels = [f"{top * (1 - 2 * line / (high - 1)):+.3f}" for line in range(high)]
    told = "arm angle about its mean [deg]; o average, . all samples"
    return [*_framed(field, labels), _axis(wide, "0", f"{lasts:.0f} s"), told]


def _by_average(standing: StandstillNoise, wide: int, high: int) -> list[str]:
    over = [math.log10(t) for t, _ in standing.allan]
    sizes = [math.log10(max(deviation, 1e-6)) for _, deviation in standing.allan]
    top, bottom = max(sizes), min(sizes)
    step = (top - bottom) / (high - 1) or 1.0
    across = (over[-1] - over[0]) or 1.0
    field = [[" "] * wide for _ in range(high)]
    for t, size in zip(over, sizes, strict=True):
        column = round((t - over[0]) / across * (wide - 1))
        field[round((top - size) / step)][column] = "o"
    labels = [f"{10 ** (top - line * step):.4f}" for line in range(high)]
    first, last = (10**t for t in (over[0], over[-1]))
    told = "noise [deg] by how long one averages"
    return [*_framed(field, labels), _axis(wide, f"{first:.3g} s", f"{last:.3g} s"), told]


def _framed(field: Sequence[Sequence[str]], labels: Sequence[str]) -> list[str]:
    return [
        f"{label:>{_LEFT - 2}} |{''.join(letters).rstrip()}"
        for label, letters in zip(labels, field, strict=True)
    ] + [" " * (_LEFT - 1) + "+" + "-" * len(field[0])]


def _axis(wide: int, first: str, last: str) -> str:
    return " " * _LEFT + first + f"{last:>{wide - len(first)}}"
