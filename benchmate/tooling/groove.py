"""How a tube fits the groove: clearance with the tolerance of the tube's standard."""

from typing import NamedTuple

from benchmate.shop.parts import Tube
from benchmate.shop.tooling import Groove
from benchmate.tooling.bounds import Bounds
from benchmate.units import INCH_MM


class Fit(NamedTuple):
    """Tube in groove."""

    clearance_mm: Bounds
    """Groove's width less the tube's diameter over its tolerance; below 0 the tube wedges."""
    tolerance_mm: float
    """How much larger or smaller the tube may be."""
    source: str
    says: str


def od_tolerance_mm(tube: Tube) -> tuple[float, str]:
    """Give how far the outside diameter may be off [mm], and the standard that says so."""
    grade, inches = tube.grade.upper(), tube.od_mm / INCH_MM
    if "DOM" in grade:
        return (
            (0.005 if inches < 1.7 else 0.006) * INCH_MM,
            "ASTM A513 type 5 (DOM), plus side, as tube merchants' tables give it",
        )
    if "A513" in grade or "ERW" in grade:
        return (
            (0.0035 if inches <= 1.125 else 0.005) * INCH_MM,
            "ASTM A513 as-welded, as tube merchants' tables give it",
        )
    if any(name in grade for name in ("E155", "E195", "E235", "E275", "E355")):
        return (
            0.08 if tube.od_mm <= 30 else 0.15 if tube.od_mm <= 40 else 0.20,
            "EN 10305-1, from memory",
        )
    return 0.01 * tube.od_mm, "1 % of the diameter, as for pipe: common practice, no source"


def fit_of(tube: Tube, groove: Groove) -> Fit:
    """Say how the tube fits the groove as measured."""
    off, source = od_tolerance_mm(tube)
    gap = groove.width_mm - tube.od_mm
    clearance = Bounds(gap - off, gap + off)
    if clearance.high < 0:
        says = "the tube wedges in the groove, and wedging parts the plates"
    elif clearance.low < 0:
        says = "a tube at the top of its tolerance wedges in the groove"
    elif clearance.low > LOOSE * tube.od_mm:
        says = "loose: nothing holds the tube's sides, it flattens more, and slack grows"
    else:
        says = "fits"
    return Fit(clearance, off, source, says)


LOOSE = 0.02
"""Clearance over diameter past which the groove holds the tube's sides no more: common practice, no
source (the ovality that it would stop is of that size)."""
