"""What steel does, held to its own laws: limits, monotony, and how sums join at their edges."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.errors import Refusal
from benchmate.metal import (
    Hollomon,
    Ludwik,
    PerfectlyPlastic,
    Section,
    Swift,
    free_radius_mm,
    from_strengths,
    moment_nmm,
    released_per_mm,
    section_of,
    springback_per_degree,
    steel_of,
)
from benchmate.shop.parts import Tube

TUBE = Section(25.4, 1.5)
MILD = PerfectlyPlastic(205e3, 235.0)

sections = st.builds(
    lambda od, share: Section(od, od * share), st.floats(10, 120), st.floats(0.02, 0.45)
)
strengths = st.tuples(st.floats(150, 900), st.floats(1.001, 2.8))


def tube(**changed):
    plain = {"tube": "t", "od_mm": 25.4, "wall_mm": 1.5, "grade": "g"}
    plain |= {"yield_strength_mpa": 260.0, "tensile_strength_mpa": 360.0}
    return Tube(**(plain | changed))


@given(sections)
def test_a_shape_factor_lies_between_thin_wall_and_solid_bar(section):
    shape_factor = section.plastic_modulus_mm3 / section.elastic_modulus_mm3
    assert 4 / math.pi < shape_factor < 16 / (3 * math.pi)


@given(sections, strengths, st.floats(1e-6, 0.05))
def test_the_moment_grows_with_curvature_and_stays_under_the_elastic_line(section, steel, bent):
    law = from_strengths(205e3, steel[0], steel[0] * steel[1])
    less, more = (moment_nmm(section, law, k) for k in (bent, 1.1 * bent))
    assert less <= more * (1 + 1e-9)
    assert more <= law.modulus_mpa * section.inertia_mm4 * 1.1 * bent * (1 + 1e-9)


@pytest.mark.parametrize("law", [MILD, Swift(205e3, 235, 520, 0.15), Ludwik(205e3, 235, 400, 0.5)])
def test_below_first_yield_every_law_is_hooke(law):
    at_yield = law.yield_strain / TUBE.outer_mm
    assert moment_nmm(TUBE, law, 0.99 * at_yield) == pytest.approx(
        205e3 * TUBE.inertia_mm4 * 0.99 * at_yield, rel=1e-12
    )


def test_a_straight_tube_carries_no_moment():
    assert moment_nmm(TUBE, MILD, 0.0) == 0.0


def test_a_hardening_law_with_hardly_any_hardening_is_perfect_plasticity():
    nearly = Swift(205e3, 235.0, 235.0 * 1.0000001, 1e-8)
    for curvature in (1 / 500, 1 / 76.2):
        assert moment_nmm(TUBE, nearly, curvature) == pytest.approx(
            moment_nmm(TUBE, MILD, curvature), rel=1e-6
        )


def test_the_moment_is_odd_in_no_way_at_the_yield_point():
    law = Swift(205e3, 235.0, 520.0, 0.15)
    at_yield = law.yield_strain / TUBE.outer_mm
    below, above = (moment_nmm(TUBE, law, k * at_yield) for k in (1 - 1e-9, 1 + 1e-9))
    assert above == pytest.approx(below, rel=1e-8)


@given(strengths)
def test_a_law_from_two_strengths_gives_both_back(steel):
    least, ratio = steel
    law = from_strengths(205e3, least, least * ratio)
    proof = least / 205e3 + 0.002
    assert law.K_mpa * proof**law.n == pytest.approx(least, rel=1e-6)
    assert law.K_mpa * (law.n / math.e) ** law.n == pytest.approx(least * ratio, rel=1e-6)
    assert law.flow_mpa(np.array([law.yield_strain]))[0] == pytest.approx(least, rel=1e-9)


@pytest.mark.parametrize("tensile", [400.0, 390.0])
def test_no_room_between_the_strengths_is_perfect_plasticity(tensile):
    assert from_strengths(205e3, 400.0, tensile) == PerfectlyPlastic(205e3, 400.0)


def test_a_tube_s_own_n_and_k_are_taken_as_written():
    law = steel_of(tube(n=0.21, K_mpa=600.0, modulus_gpa=207.0))
    assert law == Swift(207e3, 260.0, 600.0, 0.21)


def test_the_missing_one_of_n_and_k_follows_from_the_proof_point():
    by_n = steel_of(tube(n=0.15))
    by_k = steel_of(tube(K_mpa=by_n.K_mpa))
    assert by_k.n == pytest.approx(0.15, rel=1e-12)


def test_n_of_zero_is_perfect_plasticity():
    assert steel_of(tube(n=0.0)) == PerfectlyPlastic(205e3, 260.0)


def test_unloading_opens_the_arc_and_keeps_its_length():
    released = released_per_mm(TUBE, MILD, 76.2)
    free = free_radius_mm(76.2, released)
    left = 1 - springback_per_degree(76.2, released) * (76.2 / free)
    assert free > 76.2
    assert left == pytest.approx(76.2 / free, rel=1e-12)


def test_a_radius_that_only_springs_the_tube_is_refused_in_words():
    released = released_per_mm(TUBE, MILD, 1e5)
    with pytest.raises(Refusal, match="comes back straight"):
        free_radius_mm(1e5, released)


def test_section_and_tube_agree():
    assert section_of(tube()) == TUBE
    assert Hollomon(205e3, 600, 0.2).yield_strain == 0.0
