"""Pressure of the tube in the groove, and what a core of that material bears of it."""

import math
from typing import NamedTuple

from benchmate.shop.tooling import Core, Material
from benchmate.tooling.bounds import Bounds

LINE_MM = 0.45
"""Width of one printed line round the outside: the usual nozzle of 0.4 mm, common practice."""


class LineContact(NamedTuple):
    """Where two cylinders with parallel axes touch."""

    half_width_mm: float
    peak_mpa: float


def hertz_line(
    force_per_mm: float,
    radius_mm: float,
    groove_mm: float,
    first: tuple[float, float],
    second: tuple[float, float],
) -> LineContact | None:
    """Give half width [mm] and peak pressure [MPa] of a cylinder in a groove, or on a flat.

    ``groove_mm`` is the groove's radius, inf for a flat; ``first`` and ``second`` are modulus [MPa]
    and Poisson's ratio of cylinder and groove. None where the contact comes out as wide as the
    cylinder, and Hertz's assumptions (a contact narrow beside the radii) no longer hold.
    H. Hertz (1882); K. L. Johnson, "Contact Mechanics", chapter 4, line contact.
    """
    relative = 1 / radius_mm - 1 / groove_mm
    if relative <= 0:
        return None
    compliance = sum((1 - nu**2) / modulus for modulus, nu in (first, second))
    half = math.sqrt(4 * force_per_mm * compliance / (math.pi * relative))
    if half > radius_mm / 2:
        return None
    return LineContact(half, 2 * force_per_mm / (math.pi * half))


def core_strength_mpa(core: Core, material: Material, depth_mm: float) -> Bounds:
    """Give what the core bears on its groove [MPa], between the two ways of thinking of infill.

    At most: everything solid in it bears as a whole, along the layers (the rule of mixtures,
    after W. Voigt). At least: thin cell walls bend instead of being pressed, so that strength falls
    with the square of what is filled (L. J. Gibson and M. F. Ashby, "Cellular Solids", honeycombs
    pressed in their plane: from memory), across the layers; the solid walls round it bear along
    with it over their share of ``depth_mm``. A solid core: across to along the layers.
    """
    filled = core.infill_pct / 100
    if filled >= 1:
        return Bounds(material.across_mpa, material.along_mpa)
    walls = min(core.walls * LINE_MM / depth_mm, 1.0)
    least = walls + (1 - walls) * filled**2
    most = walls + (1 - walls) * filled
    return Bounds(material.across_mpa * least, material.along_mpa * most)


def creep_note(material: Material, pressure: Bounds, strength: Bounds) -> str | None:
    """Say what time does to a core that gives way slowly; None where nothing need be said.

    Plastics under a lasting load of more than about a quarter of their short-time strength keep
    giving way, the sooner the warmer: common practice in designing with plastics, no source.
    """
    if not material.creeps:
        return None
    hot = (
        f"; keep it well below {material.softens_c:g} C, where it softens, as in a car in the sun"
        if material.softens_c is not None and material.softens_c < 80
        else ""
    )
    if pressure.high < 0.25 * strength.low:
        return None
    return (
        f"{material.material} gives way in time under such a load: don't leave the tube under"
        f" pressure, and measure the groove every few dozen bends{hot}"
    )
