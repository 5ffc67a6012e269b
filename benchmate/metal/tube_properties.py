"""Section and steel of a tube as the person wrote it down."""

import math

from benchmate.metal.hardening import PROOF_OFFSET, PerfectlyPlastic, Swift, from_strengths
from benchmate.metal.section import Section
from benchmate.shop.parts import Tube

STEEL_MODULUS_MPA = 205_000.0
"""Steel where the tube says nothing else, between EN 1993-1-1 (210 GPa) and AISC 360 (200 GPa)."""


def section_of(tube: Tube) -> Section:
    """Give the tube's section."""
    return Section(tube.od_mm, tube.wall_mm)


def steel_of(tube: Tube) -> Swift | PerfectlyPlastic:
    """Give the tube's hardening law: by its n and K where written, else from its strengths.

    With only one of n and K written the other follows from the yield strength at the proof strain.
    """
    modulus = STEEL_MODULUS_MPA if tube.modulus_gpa is None else tube.modulus_gpa * 1000
    strength = tube.yield_strength_mpa
    exponent, coefficient = tube.n, tube.K_mpa
    if exponent is None and coefficient is None:
        return from_strengths(modulus, strength, tube.tensile_strength_mpa)
    proof = strength / modulus + PROOF_OFFSET
    if coefficient is None:
        coefficient = strength / proof ** (exponent or 0.0)
    elif exponent is None:
        exponent = math.log(strength / coefficient) / math.log(proof)
    if exponent is None or exponent <= 0:
        return PerfectlyPlastic(modulus, max(strength, coefficient))
    return Swift(modulus, strength, coefficient, exponent)
