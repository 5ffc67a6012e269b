"""The bending moment that a curvature takes, and what the tube gives back of it.

Plane sections, equal flow stress in tension and compression, no axial force, wall and roundness
kept: R. Hill, "The Mathematical Theory of Plasticity", chapter on bending; W. Johnson and
P. B. Mellor, "Engineering Plasticity", chapter on elastic-plastic bending.
"""

import math

import numpy as np

from benchmate.errors import Refusal
from benchmate.metal.hardening import Array, Hardening, PerfectlyPlastic
from benchmate.metal.section import Section

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(48)
_UNIT, _UNIT_WEIGHTS = (_NODES + 1) / 2, _WEIGHTS / 2
# Nodes crowded towards the yield point, where the laws with a fractional power are steep.
_CROWDED, _CROWDED_WEIGHTS = _UNIT**4, 4 * _UNIT**3 * _UNIT_WEIGHTS

ELASTIC = 1e-9
"""Share of a curvature under which what is left of it is rounding: the tube stayed elastic."""


def moment_nmm(section: Section, steel: Hardening, curvature_per_mm: float) -> float:
    """Give the moment [N mm] at a curvature [1/mm] of the centreline.

    Closed form for perfect plasticity; for hardening laws a 48-point quadrature whose relative
    error stays below 1e-8.
    """
    if curvature_per_mm <= 0:
        return 0.0
    core_mm = steel.yield_strain / curvature_per_mm
    of_circle = _perfect if isinstance(steel, PerfectlyPlastic) else _by_quadrature
    return of_circle(section.outer_mm, core_mm, steel, curvature_per_mm) - of_circle(
        section.inner_mm, core_mm, steel, curvature_per_mm
    )


def released_per_mm(section: Section, steel: Hardening, radius_mm: float) -> float:
    """Give the curvature [1/mm] that unloading takes back of a tube bent to the radius: M/(E I)."""
    moment = moment_nmm(section, steel, 1 / radius_mm)
    return moment / (steel.modulus_mpa * section.inertia_mm4)


def free_radius_mm(radius_mm: float, released_per_mm: float) -> float:
    """Give the centreline radius [mm] after release: 1/Rf = 1/R - M/(E I).

    Refusal for a tube that stays elastic at this radius: it comes back straight.
    """
    left = 1 / radius_mm - released_per_mm
    if left * radius_mm <= ELASTIC:
        raise Refusal(
            "round so large a radius this tube only springs: it comes back straight; take a smaller"
            " die"
        )
    return 1 / left


def springback_per_degree(radius_mm: float, released_per_mm: float) -> float:
    """Give the arc's springback per degree of bend angle left in the tube: Rf/R - 1."""
    return free_radius_mm(radius_mm, released_per_mm) / radius_mm - 1


def _elastic(radius_mm: float, steel: Hardening, curvature: float) -> float:
    return steel.modulus_mpa * curvature * math.pi / 4 * radius_mm**4


def _perfect(radius_mm: float, core_mm: float, steel: Hardening, curvature: float) -> float:
    """Moment of a solid circle with an elastic core of half-height ``core_mm``."""
    if core_mm >= radius_mm:
        return _elastic(radius_mm, steel, curvature)
    p = math.asin(core_mm / radius_mm)
    core = radius_mm**3 / (2 * math.sin(p)) * (p - math.sin(4 * p) / 4)
    rim = 4 / 3 * radius_mm**3 * math.cos(p) ** 3
    return steel.modulus_mpa * steel.yield_strain * (core + rim)


def _by_quadrature(radius_mm: float, core_mm: float, steel: Hardening, curvature: float) -> float:
    """Moment of a solid circle: elastic core in closed form, the rim over p in y = r sin p."""
    if core_mm >= radius_mm:
        return _elastic(radius_mm, steel, curvature)
    p = math.asin(core_mm / radius_mm)
    core = steel.modulus_mpa * curvature * radius_mm**4 / 2 * (p - math.sin(4 * p) / 4)
    span = math.pi / 2 - p
    angle = p + span * _CROWDED
    height: Array = np.sin(angle)
    stress = steel.flow_mpa(curvature * radius_mm * height)
    rim = 4 * radius_mm**3 * span * float(_CROWDED_WEIGHTS @ (stress * height * np.cos(angle) ** 2))
    return core + rim
