"""Bends as they came out, and the part as far as it is bent."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from benchmate.errors import Refusal
from benchmate.layout.centreline import Centreline
from benchmate.layout.tube_layout import TubeLayout

MEASURED_SD = (0.5, 0.15, 0.15)
"""Start of bend (mm), turn and bend angle (deg) that somebody measured, one standard deviation,"""
ASKED_SD = (1.0, 1.0, 0.5)
"""and as asked for, when nobody did (our own allowances, no source)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class AsBent:
    """One bend as it came out; None: nobody measured it, taken as it was asked for.

    ``start_mm`` is where the bend really starts, along the straight tube from the first end. What a
    bend was asked for is what the plan in force said then: the first plan, as changed by the bends
    before.
    """

    angle_deg: float | None = None
    turn_deg: float | None = None
    start_mm: float | None = None


def bent_so_far(part: TubeLayout, done: Sequence[AsBent]) -> Centreline:
    """Give the bends done, in order, as they came out, and the straight up to the next bend.

    What nobody measured is taken as planned; after the last bend the tail is the straight. Raises
    Refusal for more bends done than the part has.
    """
    count = len(done)
    if count > len(part.angles_deg):
        raise Refusal(f"{count} bends done, and the part has {len(part.angles_deg)}")
    starts, turns, angles = part.starts_mm.copy(), part.turns_deg.copy(), part.angles_deg.copy()
    for bend, came in enumerate(done):
        for values, value in (
            (starts, came.start_mm),
            (turns, came.turn_deg),
            (angles, came.angle_deg),
        ):
            if value is not None:
                values[bend] = value
    whole = replace(part, starts_mm=starts, turns_deg=turns, angles_deg=angles).centreline
    return Centreline(
        straights_mm=whole.straights_mm[: count + 1],
        turns_deg=whole.turns_deg[:count],
        angles_deg=whole.angles_deg[:count],
        radius_mm=whole.radius_mm,
    )
