"""Marks as a tape gives them: from either end, from the mark before, to its own divisions."""

from dataclasses import dataclass, replace

import numpy as np

from benchmate.errors import Refusal
from benchmate.layout.centreline import Array
from benchmate.layout.plan import Plan


@dataclass(frozen=True, slots=True, kw_only=True)
class TapeMarks:
    """Where to put the marks and where to cut, mm, and what rounding them costs.

    Either end's cost is told with the first bend in its place, the ends' against each other with
    the first end in its own.
    """

    marks_mm: tuple[float, ...]
    """From the end chosen, in bending order."""
    between_mm: tuple[float, ...]
    """From the mark before, the first from the end chosen; below 0: back towards it."""
    cut_length_mm: float
    first_end_off_mm: float
    last_end_off_mm: float
    off_mm: float
    """How far the last end moves against the first."""


def tape_marks(plan: Plan, division_mm: float = 0.0, *, from_last_end: bool = False) -> TapeMarks:
    """Give the plan's marks and cut length to the nearest division of a tape; 0: as they are."""
    if division_mm < 0:
        raise Refusal(f"a tape's division of {division_mm:g} mm; give one above 0, as 1 mm")
    exact = np.array([bend.mark_mm for bend in plan.bends])
    cut = _rounded(np.array(plan.cut_length_mm), division_mm)
    rounded = _rounded(cut - exact if from_last_end else exact, division_mm)
    shift = (cut - rounded if from_last_end else rounded) - exact
    layout = plan.layout
    made = replace(layout, starts_mm=layout.starts_mm + shift, cut_length_mm=float(cut))
    moved = made.stations()[-1, :3, 3] - layout.stations()[-1, :3, 3]
    return TapeMarks(
        marks_mm=tuple(map(float, rounded)),
        between_mm=tuple(map(float, np.diff(rounded, prepend=0.0))),
        cut_length_mm=float(cut),
        first_end_off_mm=float(abs(shift[0])),
        last_end_off_mm=float(np.linalg.norm(moved - [shift[0], 0.0, 0.0])),
        off_mm=float(np.linalg.norm(moved)),
    )


def _rounded(lengths: Array, division_mm: float) -> Array:
    return np.round(lengths / division_mm) * division_mm if division_mm else lengths
