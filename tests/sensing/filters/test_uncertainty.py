"""The slow part of the angle's doubt, by arm angle."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.sensing.calibration.error_model import from_factory, spread, swing_terms
from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.filters.uncertainty import AngleUncertainty, swing_uncertainty

PLANE = ((1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, 0.0, 1.0))
FACTS = ChipFacts("made-up", 0x10, 200.0, offset_g=0.02, gain=0.01, skew=0.005)


@given(st.floats(-1e4, 1e4))
def test_it_is_known_at_every_arm_angle_and_comes_round(arm_deg):
    doubt = swing_uncertainty(PLANE, 1.0, 0.0, from_factory(FACTS).covariance)
    sd = doubt.sd_deg(arm_deg)
    assert 0.0 <= sd < 5.0
    assert doubt.sd_deg(arm_deg + 360.0) == pytest.approx(sd, abs=1e-6)


def test_it_is_nothing_where_the_swing_began():
    doubt = swing_uncertainty(PLANE, 1.0, 0.0, from_factory(FACTS).covariance)
    assert doubt.sd_deg(0.0) == 0.0
    assert doubt.sd_deg(-1e-17) == pytest.approx(0.0, abs=1e-9)


def test_offsets_alone_make_the_chord_of_the_turn():
    only = from_factory(FACTS._replace(gain=0.0, skew=0.0))
    doubt = swing_uncertainty(PLANE, 1.0, 0.0, only.covariance)
    for arm_deg in (30.0, 90.0, 180.0):
        chord = 2.0 * math.sin(math.radians(arm_deg / 2.0))
        assert doubt.sd_deg(arm_deg) == pytest.approx(math.degrees(0.02) * chord, rel=1e-6)


def test_less_leverage_is_more_doubt():
    covariance = from_factory(FACTS._replace(gain=0.0, skew=0.0)).covariance
    upright, leaning = (swing_uncertainty(PLANE, size, 0.0, covariance) for size in (1.0, 0.5))
    assert leaning.sd_deg(90.0) == pytest.approx(2.0 * upright.sd_deg(90.0))


def test_drift_is_added_by_the_chord():
    doubt = AngleUncertainty(lambda phi: (phi,), ((0.0,),), 1.0)
    assert doubt.sd_deg(180.0, drift_deg=0.1) == pytest.approx(0.2)
    assert doubt.sd_deg(180.0) == 0.0


@pytest.mark.parametrize("lean", [0.0, 0.5])
def test_the_terms_of_a_swing_are_what_a_chip_with_them_shows(lean):
    """Differences, against the fitted plane's own angle of a chip that has the terms."""
    rng = np.random.default_rng(1)
    small = rng.normal(size=9) * 1e-5
    gains = np.eye(3) + np.array(
        [
            [small[0], small[3], small[4]],
            [small[3], small[1], small[5]],
            [small[4], small[5], small[2]],
        ]
    )
    phi = np.radians(np.arange(0.0, 100.0, 1.0))
    size, height = math.cos(lean), math.sin(lean)
    true = np.column_stack([size * np.cos(phi), size * np.sin(phi), np.full_like(phi, height)])
    shown = true @ gains.T + small[6:]
    centred = shown - shown.mean(axis=0)
    normal = np.linalg.svd(centred)[2][2]
    normal *= np.sign(normal[2])
    flat = shown - np.outer(shown @ normal, normal)
    along = flat[0] / np.linalg.norm(flat[0])
    seen = np.arctan2(flat @ np.cross(normal, along), flat @ along)
    rows = np.array([swing_terms(PLANE, size, height, p) for p in phi])
    expected = (rows - rows[0]) @ small
    assert seen - phi == pytest.approx(expected, abs=1e-9)


def test_spread_is_the_quadratic_form():
    assert spread((1.0, 2.0), ((4.0, 1.0), (1.0, 9.0))) == pytest.approx(math.sqrt(44.0))
