"""The parameters that a plan is laid out with, and what each rests on: drawing or trial piece."""

import math
from dataclasses import dataclass
from typing import Literal

from benchmate.shop.parts import Die, Tube
from benchmate.units import LengthUnit, show_length

RestsOn = Literal["drawing", "trial piece"]

RADIUS_GUESS = 0.02
"""Relative standard uncertainty given to a drawing's radius (our own allowance, no source)."""
OFFSET_GUESS_MM = 3.0
"""Standard uncertainty given to a start offset that nobody measured (our own allowance)."""
DRAWN_OFFSET_GUESS_MM = 1.0
"""Standard uncertainty given to a start offset written in the die's file (our own allowance)."""
STRETCH_GUESS = 0.005
"""Standard uncertainty given to a stretch that nobody measured (our own allowance, no source)."""


@dataclass(frozen=True, slots=True)
class UncertainValue:
    """A figure with its standard uncertainty, both in the figure's own unit."""

    value: float
    u: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialFound:
    """What trial pieces showed of a die; None where they couldn't tell.

    ``die_radius_mm`` is the die's own centreline radius worked back from the free radius with the
    springback of that day, so that the die's other tubes gain by it too.
    """

    die: str
    tube: str
    start_offset_mm: UncertainValue | None = None
    free_radius_mm: UncertainValue | None = None
    die_radius_mm: float | None = None
    stretch: UncertainValue | None = None
    """The part of the arc's length that came from stretching; 0.01 is 1 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BendParameters:
    """What marks and cut length are worked out from, each with its standard uncertainty.

    A source None means that nobody measured or wrote it and it is taken as 0.
    """

    start_offset_mm: UncertainValue
    start_offset_from: RestsOn | None
    free_radius_mm: UncertainValue
    free_radius_from: RestsOn
    stretch: UncertainValue
    stretch_from: RestsOn | None

    @property
    def rests_on(self) -> tuple[RestsOn, ...]:
        """Name each kind of source once, "drawing" first.

        Start offset and radius are a drawing's until measured; a stretch is in no drawing.
        """
        sources = (self.start_offset_from or "drawing", self.free_radius_from, self.stretch_from)
        kinds: tuple[RestsOn, ...] = ("drawing", "trial piece")
        return tuple(kind for kind in kinds if kind in sources)

    def told(self, unit: LengthUnit = "mm") -> tuple[str, ...]:
        """Say of each figure in a few words what it is and where it comes from."""
        offset = show_length(self.start_offset_mm.value, unit)
        radius = show_length(self.free_radius_mm.value, unit)
        expected = "drawing and the springback expected"
        return (
            f"start offset {offset}: {self.start_offset_from}"
            if self.start_offset_from
            else "start offset: unknown, taken as 0",
            f"radius after springback {radius}:"
            f" {expected if self.free_radius_from == 'drawing' else self.free_radius_from}",
            f"stretch {100 * self.stretch.value:.2f} %: {self.stretch_from}"
            if self.stretch_from
            else "stretch: not measured, taken as 0",
        )


def parameters_for(
    die: Die, tube: Tube, expected_mm: UncertainValue, found: TrialFound | None = None
) -> BendParameters:
    """Choose the best known figure of each kind: from a trial piece, else from the drawing.

    ``expected_mm`` is the free radius that the springback model expects of the die as drawn.
    """
    found = found or TrialFound(die=die.die, tube=tube.tube)
    offset, offset_from = _start_offset(die, found)
    radius, radius_from = _radius(die, tube, expected_mm, found)
    return BendParameters(
        start_offset_mm=offset,
        start_offset_from=offset_from,
        free_radius_mm=radius,
        free_radius_from=radius_from,
        stretch=found.stretch or UncertainValue(0.0, STRETCH_GUESS),
        stretch_from="trial piece" if found.stretch else None,
    )


def _start_offset(die: Die, found: TrialFound) -> tuple[UncertainValue, RestsOn | None]:
    if found.start_offset_mm is not None:
        return found.start_offset_mm, "trial piece"
    if die.start_offset_mm is not None:
        return UncertainValue(die.start_offset_mm, DRAWN_OFFSET_GUESS_MM), "drawing"
    return UncertainValue(0.0, OFFSET_GUESS_MM), None


def _radius(
    die: Die, tube: Tube, expected_mm: UncertainValue, found: TrialFound
) -> tuple[UncertainValue, RestsOn]:
    measured = found.free_radius_mm
    if measured is not None and found.tube == tube.tube:
        return measured, "trial piece"
    if measured is not None and found.die_radius_mm is not None:
        # Another tube springs back otherwise, on the same true radius.
        opened = expected_mm.value / die.centreline_radius_mm
        return UncertainValue(found.die_radius_mm * opened, measured.u * opened), "trial piece"
    drawn_u = RADIUS_GUESS * expected_mm.value
    return UncertainValue(expected_mm.value, math.hypot(expected_mm.u, drawn_u)), "drawing"
