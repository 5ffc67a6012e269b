"""The figures that a plan is laid out with, and what each rests on: the drawing or a trial piece."""

from dataclasses import dataclass
from typing import Literal

from benchmate.shop.parts import Die, Tube

RestsOn = Literal["drawing", "trial piece"]


@dataclass(frozen=True, slots=True)
class Measured:
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
    start_offset_mm: Measured | None = None
    free_radius_mm: Measured | None = None
    die_radius_mm: float | None = None
    stretch: Measured | None = None
    """The part of the centreline that the arc gained by stretching; 0.01 is 1 %."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Figures:
    """What marks and cut length are worked out from, each with its standard uncertainty where known."""

    start_offset_mm: float
    start_offset_known: bool
    start_offset_u_mm: float
    free_radius_mm: float
    free_radius_u_mm: float
    stretch: float
    stretch_u: float
    rests_on: tuple[RestsOn, ...]
    told: tuple[str, ...]
    """One plain sentence a figure: what it is and where it comes from."""


RADIUS_GUESS = 0.02
"""Relative standard uncertainty given to a drawing's radius (our own allowance, no source)."""
OFFSET_GUESS_MM = 3.0
"""Standard uncertainty given to a start offset that nobody measured (our own allowance, no source)."""
DRAWN_OFFSET_GUESS_MM = 1.0
"""Standard uncertainty given to a start offset written in the die's file (our own allowance)."""
STRETCH_GUESS = 0.005
"""Standard uncertainty given to a stretch that nobody measured (our own allowance, no source)."""


def figures_for(
    die: Die, tube: Tube, foretold_radius_mm: float, found: TrialFound | None = None
) -> Figures:
    """Choose the best known figure of each kind: from a trial piece, else from the drawing.

    ``foretold_radius_mm`` is the free radius that the springback model expects of the drawing's die.
    """
    offset, offset_known, offset_u, offset_told = _start_offset(die, found)
    radius, radius_u, radius_told, radius_measured = _radius(die, tube, foretold_radius_mm, found)
    stretch = found.stretch if found is not None else None
    measured = [
        found is not None and found.start_offset_mm is not None,
        radius_measured,
        stretch is not None,
    ]
    # The stretch is in no drawing: unmeasured it is taken as none, and the sentence says so.
    rests: list[RestsOn] = []
    if not (measured[0] and measured[1]):
        rests.append("drawing")
    if any(measured):
        rests.append("trial piece")
    told_stretch = (
        "stretch 0: not measured"
        if stretch is None
        else f"stretch {100 * stretch.value:.2f} %: trial piece"
    )
    return Figures(
        start_offset_mm=offset,
        start_offset_known=offset_known,
        start_offset_u_mm=offset_u,
        free_radius_mm=radius,
        free_radius_u_mm=radius_u,
        stretch=stretch.value if stretch is not None else 0.0,
        stretch_u=stretch.u if stretch is not None else STRETCH_GUESS,
        rests_on=tuple(rests),
        told=(offset_told, radius_told, told_stretch),
    )


def _start_offset(die: Die, found: TrialFound | None) -> tuple[float, bool, float, str]:
    if found is not None and found.start_offset_mm is not None:
        offset = found.start_offset_mm
        return offset.value, True, offset.u, f"start offset {offset.value:.1f} mm: trial piece"
    if die.start_offset_mm is not None:
        told = f"start offset {die.start_offset_mm:.1f} mm: drawing (the die's file)"
        return die.start_offset_mm, True, DRAWN_OFFSET_GUESS_MM, told
    return 0.0, False, OFFSET_GUESS_MM, "start offset: unknown, taken as 0"


def _radius(
    die: Die, tube: Tube, foretold_radius_mm: float, found: TrialFound | None
) -> tuple[float, float, str, bool]:
    if found is not None and found.free_radius_mm is not None:
        measured = found.free_radius_mm
        if found.tube == tube.tube:
            told = f"radius after springback {measured.value:.1f} mm: trial piece"
            return measured.value, measured.u, told, True
        if found.die_radius_mm is not None:
            springback = foretold_radius_mm / die.centreline_radius_mm
            radius = found.die_radius_mm * springback
            told = f"radius after springback {radius:.1f} mm: trial piece in {found.tube}"
            return radius, measured.u * springback, told, True
    told = f"radius after springback {foretold_radius_mm:.1f} mm: drawing and expected springback"
    return foretold_radius_mm, RADIUS_GUESS * foretold_radius_mm, told, False
