"""A trial piece's figures and their uncertainty against the ``uncertainties`` library (GUM).

The library carries uncertainties through closed formulas to first order, as JCGM 100:2008, 5.1
does. Where measurements are no more than the unknowns, least squares and closed formulas must
agree; with more, so must the weighted mean.
"""

import math

import pytest
from uncertainties import ufloat, umath

from benchmate.layout.trial_fit import Accuracy, TrialPiece, solve

OD = 30.0
TAPE = Accuracy(length_mm=0.5, mark_mm=0.4, angle_deg=0.15)


def test_a_u_with_width_and_back() -> None:
    """R = w / (1 - cos t) - D/2 and o = back - m - R - D/2: agreement 1e-5 of value and u."""
    piece = TrialPiece(angle_deg=176.0, mark_mm=220.0, width_mm=233.4, back_mm=351.2)
    found = solve([piece], OD, 100, TAPE)
    angle = ufloat(176.0, 0.15)
    radius = ufloat(233.4, 0.5) / (1 - umath.cos(umath.radians(angle))) - OD / 2
    offset = ufloat(351.2, 0.5) - ufloat(220.0, 0.4) - radius - OD / 2
    for mine, theirs in ((found.free_radius_mm, radius), (found.start_offset_mm, offset)):
        assert mine.value == pytest.approx(theirs.nominal_value, rel=1e-5)
        assert mine.u == pytest.approx(theirs.std_dev, rel=1e-4)


def test_width_and_gap_together_weigh_as_their_mean() -> None:
    """At 180 the angle hardly counts: two lengths of equal u, R known to u / (2 sqrt 2)."""
    piece = TrialPiece(angle_deg=180.0, mark_mm=220.0, width_mm=234.3, gap_mm=173.7, back_mm=351.0)
    found = solve([piece], OD, 100, TAPE)
    wide, gap = ufloat(234.3, 0.5) / 2 - OD / 2, ufloat(173.7, 0.5) / 2 + OD / 2
    mean = (wide + gap) / 2
    assert found.free_radius_mm.value == pytest.approx(mean.nominal_value, abs=1e-3)
    assert found.free_radius_mm.u == pytest.approx(mean.std_dev, rel=1e-3)
    assert mean.std_dev == pytest.approx(0.5 / (2 * math.sqrt(2)))
