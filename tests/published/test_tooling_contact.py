"""Hertz's line contact against its other printed forms, and where it stops to hold."""

import math

import numpy as np
import pytest

from benchmate.tooling.contact import hertz_line

STEEL = (206_000.0, 0.3)


def test_a_steel_cylinder_on_a_steel_flat():
    # Half width sqrt(4 F' R / (pi E*)) and peak sqrt(F' E* / (pi R)), two forms of one law: K. L.
    # Johnson, "Contact Mechanics", chapter 4, and public lecture notes on elasticity.
    touch = hertz_line(400.0, 22.225, math.inf, STEEL, STEEL)
    assert touch is not None
    modulus = 206_000 / (2 * (1 - 0.3**2))
    assert touch.half_width_mm == pytest.approx(math.sqrt(4 * 400 * 22.225 / (math.pi * modulus)))
    assert touch.peak_mpa == pytest.approx(math.sqrt(400 * modulus / (math.pi * 22.225)))


def test_the_worked_figures_of_a_tube_on_a_flat_and_in_a_close_groove():
    # Worked by hand from the same law, E* 112,637 MPa: on a flat b 0.317 mm, p0 803 MPa.
    stiff = (2 * 112_637 * (1 - 0.3**2), 0.3)
    flat = hertz_line(400.0, 22.225, math.inf, stiff, stiff)
    assert flat is not None
    assert (flat.half_width_mm, flat.peak_mpa) == pytest.approx((0.3170, 803.3), rel=1e-3)
    close = hertz_line(400.0, 22.225, 22.352, stiff, stiff)
    assert close is not None
    assert (close.half_width_mm, close.peak_mpa) == pytest.approx((4.2055, 60.55), rel=1e-3)


def test_the_pressure_carries_the_force():
    touch = hertz_line(250.0, 12.5, 12.8, STEEL, STEEL)
    assert touch is not None
    across = np.linspace(-touch.half_width_mm, touch.half_width_mm, 20001)
    pressure = touch.peak_mpa * np.sqrt(np.maximum(1 - (across / touch.half_width_mm) ** 2, 0))
    assert pressure.sum() * (across[1] - across[0]) == pytest.approx(250.0, rel=1e-4)


def test_a_plastic_groove_is_no_narrow_contact():
    # The contact would be wider than the tube: Hertz's assumption fails, and nothing is told.
    assert hertz_line(400.0, 22.225, 22.352, STEEL, (2100.0, 0.38)) is None
