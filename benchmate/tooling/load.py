"""From the bending moment to what follower, groove and bolts bear, each between two bounds.

Free body of the straight that the follower holds: the moment at the start of bend is the follower's
force times its distance from there, and the die answers with as much. Beyond that, mechanics knows
no single number without a drawing of the die: where the tube bears in its groove, how the plates
share their load among the bolts. So each figure comes as the least and the most under assumptions
that are stated with it.
"""

import math
from typing import NamedTuple

from benchmate.metal import moment_nmm, section_of, steel_of
from benchmate.shop.parts import Die, Tube
from benchmate.tooling.bounds import Bounds
from benchmate.tooling.groove import fit_of

LEVER_OD = Bounds(1.5, 4.0)
"""Follower's distance from the start of bend in outside diameters, where the die's file says
none: common practice on hand-pumped benders, no source."""
WEDGE_SHARE = 0.5
"""Push on each groove wall over the force that seats the tube, at most, in a groove that fits: even
pressure round the half circle. With pressure as the cosine, as of a bearing, it is 1/pi; on the
bottom alone 0."""
WEDGED_SHARE = 0.87
"""The same in a groove that is narrower than the tube, which then sits on its edges: half the
tangent of 60 degrees, without friction."""
_SQUEEZE_TO_SIDES = 1 - 2 / math.pi
UNKNOWN_LEVER = 2.0
"""Lever of the groove over that of the bolts about the pivot, where their radius isn't known."""


class Moment(NamedTuple):
    """The bending moment that a tube takes on a radius, N mm."""

    stated: float
    """By the strengths as they are written."""
    likely: Bounds
    """What holds 19 times in 20, the steel's doubt counted; never under its written yield."""


class Share(NamedTuple):
    """What is believed of a steel's moment over the one from its strengths."""

    mean: float
    sd: float


class Load(NamedTuple):
    """What a bend asks of a die, at the moment of the strengths as written."""

    moment_nmm: float
    angle_deg: float
    follower_n: Bounds
    bearing_n_per_mm: Bounds
    """On the groove, per mm along the tube."""
    pressure_mpa: Bounds
    """The same over the tube's shadow."""
    wedge_n: Bounds
    """On each plate, from the tube pressed into its groove at the follower."""
    spread_n: Bounds
    """On each plate, from the tube that wants to grow wider all along the arc."""
    assumed: tuple[str, ...]


def moment_of(tube: Tube, radius_mm: float, share: Share) -> Moment:
    """Give the moment of a tube on a radius, and where it likely lies."""
    section = section_of(tube)
    stated = moment_nmm(section, steel_of(tube), 1 / radius_mm)
    least = section.plastic_modulus_mm3 * min(tube.yield_strength_mpa, tube.tensile_strength_mpa)
    low, high = (stated * (share.mean + side * 2 * share.sd) for side in (-1, 1))
    low = max(low, min(least, stated))
    return Moment(stated, Bounds(low, max(high, low)))


def load_of(die: Die, tube: Tube, angle_deg: float) -> Load:
    """Give what bending the tube by that angle asks of the die."""
    radius = die.centreline_radius_mm
    moment = moment_nmm(section_of(tube), steel_of(tube), 1 / radius)
    lever, of_lever = _lever_mm(die, tube)
    follower = Bounds(moment, moment).over(lever)
    patch = Bounds(min(_flattened_mm(tube), lever.low), lever.high)
    bearing = follower.over(patch)
    wedged, of_wedge = _wedge(die, tube)
    return Load(
        moment_nmm=moment,
        angle_deg=angle_deg,
        follower_n=follower,
        bearing_n_per_mm=bearing,
        pressure_mpa=bearing.over(tube.od_mm),
        wedge_n=Bounds(0.0, follower.high * wedged),
        spread_n=_spread_n(die, tube, moment, angle_deg),
        assumed=(of_lever, of_wedge),
    )


def bolt_n(die: Die, load: Load, radius_mm: float | None) -> Bounds:
    """Give the pull on one bolt [N], of as many as the die has, at that radius from the pivot.

    Least: stiff plates share all push among all bolts. Most: the bolt by the follower takes the
    wedge's push alone and its part of the spreading among the bolts round the arc, and the plate
    levers about the pivot.
    """
    count = sum(each.count for each in die.bolts)
    groove_mm = die.centreline_radius_mm
    lever = UNKNOWN_LEVER if radius_mm is None else max(groove_mm / radius_mm, 1.0)
    round_arc = max(count * min(load.angle_deg / die.max_angle_deg, 1.0), 1.0)
    least = (load.wedge_n.low + load.spread_n.low) / count
    most = lever * (load.wedge_n.high + load.spread_n.high / round_arc)
    return Bounds(least, most)


def _lever_mm(die: Die, tube: Tube) -> tuple[Bounds, str]:
    follower = die.follower
    if follower is None:
        return (
            LEVER_OD.times(tube.od_mm),
            f"the follower bears {LEVER_OD.low:g} to {LEVER_OD.high:g} outside diameters from the"
            " start of bend (write follower: distance)",
        )
    half = (follower.length_mm or 0.0) / 2
    near = max(follower.distance_mm - half, follower.distance_mm / 2)
    return (
        Bounds(near, follower.distance_mm + half),
        f"the follower bears {follower.distance_mm:g} mm from the start of bend, as written",
    )


def _flattened_mm(tube: Tube) -> float:
    """Give the length over which a pinched tube spreads its load, r sqrt(r/t) [mm].

    The decay length of ovalising along a cylinder: C. R. Calladine, "Theory of Shell Structures",
    chapter on long waves; from memory.
    """
    middle = (tube.od_mm - tube.wall_mm) / 2
    return middle * math.sqrt(middle / tube.wall_mm)


def _wedge(die: Die, tube: Tube) -> tuple[float, str]:
    if die.groove is None:
        return WEDGE_SHARE, "the groove is as wide as the tube (write groove: width)"
    if fit_of(tube, die.groove).clearance_mm.low < 0:
        return WEDGED_SHARE, "a tube at the top of its tolerance sits on the groove's edges"
    return WEDGE_SHARE, "the tube fits its groove as measured"


def _spread_n(die: Die, tube: Tube, moment: float, angle_deg: float) -> Bounds:
    """Give the push on each plate of a tube that the groove keeps from growing wider [N].

    Bent, the fibres of each half pull towards the middle with q = (pi/2) M/(D R) per mm of arc in
    a thin wall of even flow stress. A quarter of the ring with plastic hinges at crown and side is
    in balance when the sides are held with H = q (1 - 2/pi) - 4 m/r per mm, m the wall's own
    plastic moment, s t^2/4 times 2/sqrt(3) in plane strain. Most: a wall that carries nothing of
    it, m = 0. Least: the wall carries what it can. Limit analysis as in J. F. Baker and J. Heyman,
    "Plastic Design of Frames"; the balance of the ring is worked out here.
    """
    radius = die.centreline_radius_mm
    inward = math.pi / 2 * moment / (tube.od_mm * radius)
    flow = moment / section_of(tube).plastic_modulus_mm3
    hinge = 2 / math.sqrt(3) * flow * tube.wall_mm**2 / 4
    arc = radius * math.radians(angle_deg)
    middle = (tube.od_mm - tube.wall_mm) / 2
    most = inward * _SQUEEZE_TO_SIDES
    least = max(0.0, most - 4 * hinge / middle)
    if die.groove is None or fit_of(tube, die.groove).clearance_mm.high > 0:
        # It may grow into the room that it has before the walls hold it.
        least = 0.0
    return Bounds(least * arc, most * arc)
