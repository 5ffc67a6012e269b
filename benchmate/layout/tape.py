"""Marks as a tape gives them: from either end, from the last mark, to its own divisions."""

from dataclasses import dataclass

import numpy as np

from benchmate.errors import Refusal
from benchmate.layout.plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeMarks:
    """Where to put the marks, mm, and what rounding them costs."""

    marks_mm: tuple[float, ...]
    """From the end chosen, in bending order."""
    between_mm: tuple[float, ...]
    """From the mark before, the first from the end chosen; below 0: back towards it."""
    off_mm: float
    """How far rounding moves the last end of the part."""


def tape_marks(plan: Plan, division_mm: float = 0.0, *, from_last_end: bool = False) -> TapeMarks:
    """Give the plan's marks to the nearest division of a tape; 0 leaves them as they are."""
    if division_mm < 0:
        raise Refusal(f"a tape's division of {division_mm:g} mm; give one above 0, as 1 mm")
    exact = np.array([bend.mark_mm for bend in plan.bends])
    seen = plan.cut_length_mm - exact if from_last_end else exact
    rounded = np.round(seen / division_mm) * division_mm if division_mm else seen
    shift = (rounded - seen) * (-1.0 if from_last_end else 1.0)
    none = np.zeros_like(shift)
    marked = plan.marked
    moved = marked.nudged(shift, none, none).stations()[-1, :3, 3]
    return TapeMarks(
        marks_mm=tuple(map(float, rounded)),
        between_mm=tuple(map(float, np.diff(rounded, prepend=0.0))),
        off_mm=float(np.linalg.norm(moved - marked.stations()[-1, :3, 3])),
    )
