"""Springback against handbooks' numbers: a strain-hardening tube, and a strip unloaded.

Values marked 'from memory' were quoted without the book at hand.
"""

import math

import pytest

from benchmate.metal import (
    PerfectlyPlastic,
    Section,
    Swift,
    free_radius_mm,
    moment_nmm,
    released_per_mm,
    springback_per_degree,
)
from benchmate.metal.hardening import from_strengths

E_MPA = 205_000.0


def hollomon_springback(
    od: float, wall: float, radius: float, strengths: tuple[float, ...]
) -> float:
    """Give R M / (E I) / (1 - R M / (E I)) with sigma = K e^n summed over the section by hand.

    ``strengths`` are yield, tensile and the exponent; the power law is fitted at the tensile
    strength, sigma_u (e/m)^m at the true strain m, and stays elastic below where it meets E e.
    """
    _, tensile, m = strengths
    strength = tensile * (math.e / m) ** m
    slices = 20_000
    outer, inner = od / 2, od / 2 - wall
    moment = inertia = 0.0
    for number in range(slices):
        y = outer * (number + 0.5) / slices
        wide = 2 * (math.sqrt(outer**2 - y**2) - (math.sqrt(inner**2 - y**2) if y < inner else 0))
        strain = y / radius
        moment += 2 * min(E_MPA * strain, strength * strain**m) * y * wide * outer / slices
        inertia += 2 * y**2 * wide * outer / slices
    released = moment / (E_MPA * inertia) * radius
    return released / (1 - released)


@pytest.mark.parametrize(
    ("strengths", "factor", "within"),
    [((235.0, 340.0), 0.60, 0.08), ((205.0, 515.0), 0.75, 0.24)],
    ids=["ferritic", "austenitic"],
)
def test_springback_of_a_tube_25_x_1_5_on_75_with_the_code_s_hardening_exponent(
    strengths: tuple[float, float], factor: float, within: float
) -> None:
    """Exponent m2 = 0.60 (1 - R) for ferritic, 0.75 (1 - R) for austenitic steel, R yield/tensile.

    Source: ASME BPVC Section VIII Division 2, Annex 3-D, table 3-D.1 (from memory). Our steel is
    known by the same two strengths. The ferritic tube's springback comes out alike; for the
    austenitic one the code's exponent alone, drawn through the tensile strength, runs lower than a
    law that meets the yield strength too: 19 % below ours here (ours is 1.23 of it). It
    can't be sharper than the two laws are alike between yield and the strains of this bend.
    """
    yield_mpa, tensile = strengths
    m2 = factor * (1 - yield_mpa / tensile)
    wanted = hollomon_springback(25.0, 1.5, 75.0, (yield_mpa, tensile, m2))
    section, steel = Section(25.0, 1.5), from_strengths(E_MPA, yield_mpa, tensile)
    ours = springback_per_degree(75.0, released_per_mm(section, steel, 75.0))
    assert ours == pytest.approx(wanted, rel=within)
    assert 0.005 < ours < 0.05
    # The same law through our own quadrature: nearer still.
    k_mpa = tensile * (math.e / m2) ** m2
    law = Swift(E_MPA, (k_mpa / E_MPA**m2) ** (1 / (1 - m2)), k_mpa, m2)
    again = springback_per_degree(75.0, released_per_mm(section, law, 75.0))
    assert again == pytest.approx(wanted, rel=0.02)


def test_a_bar_unloaded_keeps_the_radius_that_the_textbook_gives() -> None:
    """A bar 50 x 60 mm, E 200 GPa, yield 240 MPa, under 36.8 kN m: elastic core 40 mm half-height,
    radius 33.3 m loaded and 225 m when unloaded.

    Source: Beer and Johnston, "Mechanics of Materials", sample problem on elastoplastic bending and
    its residual stresses (from memory). The rule that a radius opens by, 1/R' = 1/R - M/(E I), is
    ours too.
    """
    width, half_height, modulus, yields = 50.0, 60.0, 200_000.0, 240.0
    elastic = yields * width * (2 * half_height) ** 2 / 6
    moment = 36.8e6
    core = half_height * math.sqrt(3 - 2 * moment / elastic)
    assert core == pytest.approx(40.0, rel=2e-3)
    radius = core / (yields / modulus)
    assert radius == pytest.approx(33_300.0, rel=3e-3)
    inertia = width * (2 * half_height) ** 3 / 12
    released = moment / (modulus * inertia)
    assert free_radius_mm(radius, released) == pytest.approx(225_000.0, rel=0.02)


def test_the_full_plastic_moment_of_a_tube_is_approached_and_never_passed() -> None:
    """M_p = Y (D^3 - d^3) / 6. Any text on plastic bending."""
    section, steel = Section(25.0, 2.0), PerfectlyPlastic(E_MPA, 235.0)
    full = 235.0 * (25.0**3 - 21.0**3) / 6
    moments = [moment_nmm(section, steel, 1 / radius) for radius in (5000.0, 500.0, 75.0)]
    assert moments == sorted(moments)
    assert moments[-1] == pytest.approx(full, rel=5e-3)
    assert moments[-1] <= full * (1 + 1e-12)
