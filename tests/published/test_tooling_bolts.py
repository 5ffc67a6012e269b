"""Bolts against printed tables: stress areas, proof loads, torque and preload, thread shear."""

import math

import pytest

from benchmate.shop.threads import thread
from benchmate.shop.tooling import Bolts, Material
from benchmate.tooling.bolts import (
    INCH_MM,
    NEWTON_PER_POUND,
    preload_n,
    proof_load_n,
    proof_strength_mpa,
    stress_area_mm2,
    stripping_n,
)
from benchmate.tooling.bounds import Bounds

STEEL = Material(material="steel", along_mpa=235, across_mpa=235, modulus_gpa=205, source="-")


# ISO 898-1, tables of nominal stress area and proof load, as a bearing maker reprints them:
# size, stress area mm2, proof load N of 8.8, 10.9, 12.9. The table rounds to three figures.
@pytest.mark.parametrize(
    ("size", "area", "loads"),
    [
        ("M8", 36.6, {"8.8": 21200, "10.9": 30400, "12.9": 35500}),
        ("M10", 58.0, {"8.8": 33700, "10.9": 48100, "12.9": 56300}),
        ("M12", 84.3, {"8.8": 48900, "10.9": 70000, "12.9": 81800}),
        ("M16", 157.0, {"8.8": 91000}),
    ],
)
def test_metric_stress_areas_and_proof_loads_are_the_tables(size, area, loads):
    assert stress_area_mm2(thread(size)) == pytest.approx(area, rel=3e-3)
    for grade, load in loads.items():
        bolts = Bolts(size=size, grade=grade, count=1)
        assert proof_load_n(bolts) == pytest.approx(load, rel=3e-3)


# Unified threads: tensile stress area in2, as a fastener maker's sheet gives those of ASME B1.1.
@pytest.mark.parametrize(
    ("size", "area"),
    [
        ("1/4-20", 0.0318),
        ("3/8-16", 0.0775),
        ("1/2-13", 0.1419),
        ("1/2-20", 0.1599),
        ("5/8-11", 0.226),
        ("3/4-10", 0.334),
    ],
)
def test_unified_stress_areas_are_the_sheet(size, area):
    assert stress_area_mm2(thread(size)) / INCH_MM**2 == pytest.approx(area, rel=3e-3)


# SAE J429 proof strengths in ksi, as Shigley and Mischke's table is quoted in public.
@pytest.mark.parametrize(
    ("size", "grade", "ksi"),
    [
        ("1/2-13", "sae-2", 55),
        ("7/8-9", "sae-2", 33),
        ("1/2-13", "sae-5", 85),
        ("1-1/8-7", "sae-5", 74),
        ("1/2-13", "sae-8", 120),
    ],
)
def test_sae_grades_have_the_printed_proof_strength(size, grade, ksi):
    assert proof_strength_mpa(thread(size), grade) / 6.894757 == pytest.approx(ksi, rel=1e-6)


def test_eight_eight_is_proved_at_600_above_16_mm():
    # ISO 898-1: 580 MPa to M16, 600 above; many short tables print 600 throughout.
    assert proof_strength_mpa(thread("M16"), "8.8") == 580
    assert proof_strength_mpa(thread("M20"), "8.8") == 600


def test_torque_and_preload_are_shigleys_rule():
    # T = K D F with K 0.2 and F three quarters of proof (Shigley, from memory): 1/2-13 grade 5
    # holds 9,046 lbf at 75.4 lbf ft.
    torque = 75.384 * 1.3558179
    bolts = Bolts(size="1/2-13", grade="sae-5", count=1, torque_nm=torque)
    held = preload_n(bolts, Bounds(0.2, 0.2))
    assert held is not None
    assert held.low / NEWTON_PER_POUND == pytest.approx(9046, rel=1e-3)
    assert held.low / proof_load_n(bolts) == pytest.approx(0.75, rel=1e-3)


@pytest.mark.parametrize(("nut_factor", "clamp_kn"), [(0.20, 34), (0.15, 45), (0.30, 23)])
def test_a_published_example_of_m12_at_82_nm(nut_factor, clamp_kn):
    # A public page on bolt torque: M12 8.8 at 82 N m clamps 34 kN as delivered, 45 oiled, 23 dry.
    bolts = Bolts(size="M12", grade="8.8", count=1, torque_nm=82)
    held = preload_n(bolts, Bounds(nut_factor, nut_factor))
    assert held is not None
    assert held.low / 1000 == pytest.approx(clamp_kn, rel=0.02)


def test_a_thread_strips_over_its_printed_shear_area_at_most():
    # A fastener maker's sheet: internal thread of 1/2-13 shears 1.12 in2 per inch engaged.
    bolts = Bolts(size="1/2-13", grade="sae-5", count=1, hold="tapped", engaged_mm=INCH_MM)
    strips = stripping_n(bolts, STEEL)
    assert strips is not None
    printed = 1.12 * INCH_MM**2 * 0.577 * 235
    assert strips.low < printed < strips.high
    whole = math.pi * 12.7 * INCH_MM * 0.577 * 235
    assert strips.high < whole
