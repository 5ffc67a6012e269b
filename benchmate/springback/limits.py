"""The limits that a bend must end between, and what a measured angle is against them. Pure."""

from dataclasses import dataclass
from typing import Literal

_ROUNDING_DEG = 1e-9
"""What sums of degrees may be off by in floating point: 33.3 + 0.3 is no 33.6."""


@dataclass(frozen=True, slots=True)
class Limits:
    """The smallest and the largest bend angle in tolerance [deg]."""

    lowest: float
    highest: float

    @property
    def middle(self) -> float:
        """Give the bend angle that the tolerance is counted from [deg]."""
        return (self.lowest + self.highest) / 2.0


def limits(drawn: float, wanted: float, tolerance: float) -> Limits:
    """Give the limits of a bend that is drawn with one angle and now bent to another [deg].

    They are the drawing's angle and the tolerance, as long as re-planning moved the angle within
    half the tolerance; further it goes only for points that the job names, and then those are what
    matters: the limits are the wanted angle and the tolerance.
    """
    moved = abs(wanted - drawn) > tolerance / 2.0 + _ROUNDING_DEG
    middle = wanted if moved else drawn
    return Limits(middle - tolerance, middle + tolerance)


def verdict_of(bend_angle: float, limits: Limits) -> Literal["accept", "again", "over"]:
    """Give the verdict on a measured bend angle taken as it is [deg].

    A tube bent too little is pressed again; one bent too far is scrap.
    """
    if bend_angle > limits.highest + _ROUNDING_DEG:
        return "over"
    if bend_angle < limits.lowest - _ROUNDING_DEG:
        return "again"
    return "accept"
