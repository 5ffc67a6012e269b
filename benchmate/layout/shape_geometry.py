"""Shapes as the trade measures them, turned into straights and bends by closed formulas.

All on the centreline, with the free radius R and T = R tan(a/2) a bend's tangent length. What is
measured outside or inside lies half an outside diameter further out or in than the centreline.
"""

import math
from collections.abc import Callable
from typing import Any

from benchmate.errors import Refusal
from benchmate.layout.centreline import Centreline, tangent_mm
from benchmate.shop.shapes import (
    Arch,
    Bridge,
    Frame,
    Gable,
    Hoop,
    MeasuredAt,
    Ring,
    Shape,
    Step,
)
from benchmate.units import LengthUnit, show_length

NEAR_CIRCLE_MM = 2.0
"""How far tube may stand off a circle that is bent in pieces, where no number is given."""
SAME_MM = 0.5
"""A hoop this near to twice the radius is one bend of 180."""


def shape_centreline(
    shape: Shape, od_mm: float, radius_mm: float, unit: LengthUnit = "mm"
) -> Centreline:
    """Give the bends of a shape in tube of this outside diameter, bent to this free radius.

    Raises Refusal, with lengths in ``unit``, when the radius or the bends don't go into the
    dimensions.
    """
    make: Callable[[Any, float, float], Centreline] = _MAKERS[type(shape)]
    centreline = make(shape, od_mm / 2, radius_mm)
    for number, straight in enumerate(centreline.straights_mm):
        if straight < -1e-9:
            raise Refusal(
                f"shape: the straight {_where(number, centreline)} would be"
                f" {show_length(straight, unit)}; a radius of {show_length(radius_mm, unit)}"
                " doesn't go into these dimensions"
            )
    return centreline


def _where(number: int, centreline: Centreline) -> str:
    last = len(centreline.angles_deg)
    if number == 0:
        return "before bend 1"
    return f"after bend {last}" if number == last else f"between bends {number} and {number + 1}"


def _inwards(at: MeasuredAt, half_od: float) -> float:
    """Give how far the centreline lies inside of what was measured."""
    return {"outside": half_od, "centre": 0.0, "inside": -half_od}[at]


def _hoop(hoop: Hoop, half_od: float, radius: float) -> Centreline:
    inwards = _inwards(hoop.at, half_od)
    leg = hoop.height_mm - inwards - radius
    if hoop.width_mm is None:
        return Centreline((leg, leg), (0.0,), (180.0,), radius)
    across = hoop.width_mm - 2 * inwards - 2 * radius
    if abs(across) < SAME_MM:
        return Centreline((leg, leg), (0.0,), (180.0,), radius)
    return Centreline((leg, across, leg), (0.0, 0.0), (90.0, 90.0), radius)


def _step(step: Step, _half_od: float, radius: float) -> Centreline:
    """Slope from corner to corner: height / sin a, with tan a = height / length."""
    if (step.angle_deg is None) == (step.length_mm is None):
        raise Refusal("shape step: give either angle or length")
    if step.angle_deg is not None:
        angle = step.angle_deg
    else:
        angle = math.degrees(math.atan2(step.height_mm, step.length_mm or 0.0))
    slope = step.height_mm / math.sin(math.radians(angle)) - 2 * tangent_mm(radius, angle)
    return Centreline(
        (step.first_leg_mm, slope, step.last_leg_mm), (0.0, 180.0), (angle, angle), radius
    )


def _bridge(bridge: Bridge, _half_od: float, radius: float) -> Centreline:
    """Three bends: the middle arc stands below its corner by R (1 / cos a - 1)."""
    angle = math.radians(bridge.angle_deg)
    tangent = tangent_mm(radius, bridge.angle_deg)
    if bridge.flat_mm is not None:
        slope = bridge.height_mm / math.sin(angle) - 2 * tangent
        return Centreline(
            (bridge.first_leg_mm, slope, bridge.flat_mm, slope, bridge.last_leg_mm),
            (0.0, 180.0, 0.0, 180.0),
            (bridge.angle_deg,) * 4,
            radius,
        )
    corner = bridge.height_mm + radius * (1 / math.cos(angle) - 1)
    slope = corner / math.sin(angle) - tangent - tangent_mm(radius, 2 * bridge.angle_deg)
    return Centreline(
        (bridge.first_leg_mm, slope, slope, bridge.last_leg_mm),
        (0.0, 180.0, 180.0),
        (bridge.angle_deg, 2 * bridge.angle_deg, bridge.angle_deg),
        radius,
    )


def _gable(gable: Gable, half_od: float, radius: float) -> Centreline:
    """Pitch p: tan p = (ridge - eaves) / (width / 2), eaves bend 90 - p, ridge bend 2 p.

    Lines moved in by k carry a corner of bend angle a back along them by k tan(a/2).
    """
    pitch = math.degrees(math.atan2(gable.ridge_mm - gable.eaves_mm, gable.width_mm / 2))
    if pitch <= 0:
        raise Refusal("shape gable: the ridge isn't above the eaves; measure both from the ends")
    eaves, ridge = 90 - pitch, 2 * pitch
    inwards = _inwards(gable.at, half_od)
    slope = math.hypot(gable.width_mm / 2, gable.ridge_mm - gable.eaves_mm)
    side = gable.eaves_mm - tangent_mm(inwards + radius, eaves)
    slope -= tangent_mm(inwards + radius, eaves) + tangent_mm(inwards + radius, ridge)
    return Centreline((side, slope, slope, side), (0.0,) * 3, (eaves, ridge, eaves), radius)


def _frame(frame: Frame, half_od: float, radius: float) -> Centreline:
    inwards = _inwards(frame.at, half_od)
    wide, high = (side - 2 * inwards - 2 * radius for side in (frame.width_mm, frame.height_mm))
    joint = wide / 2 if frame.joint_mm is None else frame.joint_mm
    straights = (joint, high, wide, high, wide - joint - frame.gap_mm)
    return Centreline(straights, (0.0,) * 4, (90.0,) * 4, radius)


def _arch(arch: Arch, half_od: float, radius: float) -> Centreline:
    """Circle by chord c and height h: radius (c^2/4 + h^2) / (2 h), angle 4 atan(2 h / c)."""
    inwards = _inwards(arch.at, half_od)
    half = arch.width_mm / 2
    circle = (half**2 + arch.height_mm**2) / (2 * arch.height_mm)
    turned = 4 * math.degrees(math.atan2(arch.height_mm, half))
    return _pieces(circle - inwards, turned, arch.bends, arch.leg_mm, radius)


def _ring(ring: Ring, half_od: float, radius: float) -> Centreline:
    circle = ring.radius_mm - _inwards(ring.at, half_od)
    return _pieces(circle, ring.angle_deg, ring.bends, ring.leg_mm, radius)


def _pieces(
    circle: float, turned: float, bends: int | None, leg: float, radius: float
) -> Centreline:
    """Go round part of a circle in equal bends b, its straights touching it half-way along.

    The straights are 2 (circle - R) tan(b/2), half of that at both ends; the tube stands off the
    circle most in the middle of each bend, by (circle - R) (1 / cos(b/2) - 1).
    """
    beyond = circle - radius
    if beyond < -SAME_MM:
        raise Refusal(
            "shape: the circle is tighter than the radius after springback; take a smaller die or a"
            " larger circle"
        )
    if bends is None:
        flattest = 2 * math.degrees(math.acos(beyond / (beyond + NEAR_CIRCLE_MM)))
        bends = max(1, math.ceil(turned / min(flattest, 180.0))) if beyond > SAME_MM else 1
    angle = turned / bends
    if angle > 180:
        raise Refusal(f"shape: {bends} bends for {turned:.1f} deg are too few; give more")
    half = max(beyond, 0.0) * math.tan(math.radians(angle) / 2) if angle < 180 else 0.0
    between = (2 * half,) * (bends - 1)
    return Centreline((leg + half, *between, leg + half), (0.0,) * bends, (angle,) * bends, radius)


_MAKERS: dict[type, Callable[[Any, float, float], Centreline]] = {
    Hoop: _hoop,
    Step: _step,
    Bridge: _bridge,
    Gable: _gable,
    Arch: _arch,
    Frame: _frame,
    Ring: _ring,
}
