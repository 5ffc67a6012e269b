"""Bolts by the size and grade that people write: which threads there are, as diameter and pitch.

Coarse and fine pitches: ISO 261 and ASME B1.1, tables of standard series, from memory.
"""

import re
from collections.abc import Collection
from typing import NamedTuple

from benchmate.units import INCH_MM
from benchmate.wording import nearest, printable

METRIC: dict[str, tuple[float, ...]] = {
    "5": (0.8,),
    "6": (1.0,),
    "8": (1.25, 1.0),
    "10": (1.5, 1.25, 1.0),
    "12": (1.75, 1.5, 1.25),
    "14": (2.0, 1.5),
    "16": (2.0, 1.5),
    "18": (2.5, 2.0, 1.5),
    "20": (2.5, 2.0, 1.5),
    "22": (2.5, 2.0, 1.5),
    "24": (3.0, 2.0),
    "27": (3.0, 2.0),
    "30": (3.5, 2.0),
    "36": (4.0, 3.0),
}
"""Pitches [mm] by nominal diameter [mm], the coarse one first."""
UNIFIED: dict[str, tuple[int, ...]] = {
    "1/4": (20, 28),
    "5/16": (18, 24),
    "3/8": (16, 24),
    "7/16": (14, 20),
    "1/2": (13, 20),
    "9/16": (12, 18),
    "5/8": (11, 18),
    "3/4": (10, 16),
    "7/8": (9, 14),
    "1": (8, 12, 14),
    "1-1/8": (7, 12),
    "1-1/4": (7, 12),
}
"""Threads an inch by nominal diameter [in], the coarse series first."""
METRIC_GRADES = ("4.6", "5.8", "8.8", "10.9", "12.9")
SAE_GRADES = ("sae-2", "sae-5", "sae-8")
GRADES = METRIC_GRADES + SAE_GRADES
"""Property classes of ISO 898-1, and grades of SAE J429."""


class Thread(NamedTuple):
    """One bolt thread."""

    size: str
    """As people write it in full: "M12", "M12x1.25", "1/2-13"."""
    diameter_mm: float
    """Nominal."""
    pitch_mm: float
    unified: bool
    """True: an inch thread."""


def thread(written: str) -> Thread:
    """Read a bolt's size: "M12", "M12x1.25", "1/2-13", "1/2"; ValueError for what there isn't."""
    text = re.sub(r"\s+", "", written).lower().removesuffix("in")
    if match := re.fullmatch(r"m(\d{1,2})(?:x(\d(?:\.\d{1,2})?))?", text):
        return _metric(written, match[1], match[2])
    if match := re.fullmatch(r"(\d(?:-\d/\d{1,2})?|\d{1,2}/\d{1,2})(?:-(\d{1,2}))?", text):
        return _unified(written, match[1], match[2])
    raise ValueError(f"{_shown(written)} is no bolt size; write it as M12, M12x1.25 or 1/2-13")


def is_metric_grade(grade: str) -> bool:
    """Say whether the grade is a property class of metric bolts."""
    return grade in METRIC_GRADES


def _metric(written: str, diameter: str, pitch: str | None) -> Thread:
    pitches = METRIC.get(diameter)
    if pitches is None:
        raise ValueError(f"there is no {_shown(written)} bolt; {_sizes(diameter, METRIC, 'M')}")
    if pitch is None:
        return Thread(f"M{diameter}", float(diameter), pitches[0], unified=False)
    if float(pitch) not in pitches:
        told = " or ".join(f"M{diameter}x{each:g}" for each in pitches)
        raise ValueError(f"there is no {_shown(written)} bolt; write {told}")
    return Thread(f"M{diameter}x{float(pitch):g}", float(diameter), float(pitch), unified=False)


def _unified(written: str, diameter: str, threads: str | None) -> Thread:
    series = UNIFIED.get(diameter)
    if series is None:
        raise ValueError(f"there is no {_shown(written)} bolt; {_sizes(diameter, UNIFIED, '')}")
    if threads is not None and int(threads) not in series:
        told = " or ".join(f"{diameter}-{each}" for each in series)
        raise ValueError(f"there is no {_shown(written)} bolt; write {told}")
    per_inch = series[0] if threads is None else int(threads)
    whole, _, part = diameter.rpartition("-")
    top, _, bottom = part.partition("/")
    inches = int(whole or 0) + int(top) / int(bottom or 1)
    return Thread(f"{diameter}-{per_inch}", inches * INCH_MM, INCH_MM / per_inch, unified=True)


def _sizes(like: str, known: Collection[str], before: str) -> str:
    close = nearest(like, known)
    told = ", ".join(before + each for each in known)
    return f"sizes are {told}" + (f" (nearest: {before}{close})" if close else "")


def _shown(text: str) -> str:
    return f"'{printable(text, 40)}'"
