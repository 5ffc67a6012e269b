"""Section and steel of a tube as the person wrote it down."""

import math

from benchmate.metal.hardening import PROOF_OFFSET, PerfectlyPlastic, Swift, from_strengths
from benchmate.metal.section import Section
from benchmate.shop.parts import Tube

STEEL_MODULUS_MPA = 205_000.0
"""Carbon and low-alloy steel, where the tube says nothing else: EN 1993-1-1 has 210, AISC 360 200 GPa."""


def section_of(tube: Tube) -> Section:
    """Give the tube's section."""
    return Section(tube.od_mm, tube.wall_mm)


def steel_of(tube: Tube) -> Swift | PerfectlyPlastic:
    """Give the tube's hardening law: by its n and K where written, else from its strengths.

    With only one of n and K written the other follows from the yield strength at the proof strain.
    """
    modulus = STEEL_MODULUS_MPA if tube.modulus_gpa is None else tube.modulus_gpa * 1000
    strength = tube.yield_strength_mpa
    if tube.n is None and tube.K_mpa is None:
        return from_strengths(modulus, strength, tube.tensile_strength_mpa)
    if tube.n == 0:
        return PerfectlyPlastic(modulus, strength if tube.K_mpa is None else tube.K_mpa)
    proof = strength / modulus + PROOF_OFFSET
    if tube.n is None:
        assert tube.K_mpa is not None
        n = math.log(strength / tube.K_mpa) / math.log(proof)
        if n <= 0:
            return PerfectlyPlastic(modulus, strength)
        return Swift(modulus, strength, tube.K_mpa, n)
    K = strength / proof**tube.n if tube.K_mpa is None else tube.K_mpa
    return Swift(modulus, strength, K, tube.n)
