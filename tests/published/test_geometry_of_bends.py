"""Arcs, tangents, offsets and developed lengths against printed figures.

Each check names its source and how near the agreement is; figures are typed as printed.
"""

import math

import pytest

from benchmate.layout.chain import Chain, from_points, tangent_mm
from benchmate.layout.marked import Marked
from benchmate.layout.shapes import shape_chain
from benchmate.shop.shapes import Offset

INCH = 25.4


def test_road_curve_tangent_and_length() -> None:
    """R 1800, deflection 43 deg 25' 46": T 716.84, L 1364.38.

    Source: "Surveying Mathematics Made Simple", horizontal curve example; both to the last digit
    printed.
    """
    angle = 43 + 25 / 60 + 46 / 3600
    assert tangent_mm(1800, angle) == pytest.approx(716.84, abs=0.005)
    assert Chain((0, 0), (0,), (angle,), 1800).arcs_mm[0] == pytest.approx(1364.38, abs=0.005)


def test_road_curve_long_chord() -> None:
    """Same example: chord 1331.94325; 5 in the sixth figure, the printed angle being rounded."""
    angle = 43 + 25 / 60 + 46 / 3600
    corner = from_points([(0, 0, 0), (2000, 0, 0), _onwards(2000, angle, 2000)], 1800)
    tangent = 2000 - corner.straights_mm[0]
    chord = 2 * tangent * math.cos(math.radians(angle) / 2)
    assert chord == pytest.approx(1331.94325, abs=0.005)


def _onwards(along: float, angle: float, leg: float) -> tuple[float, float, float]:
    theta = math.radians(angle)
    return along + leg * math.cos(theta), leg * math.sin(theta), 0.0


@pytest.mark.parametrize(
    ("angle", "multiplier", "off"),
    [(10, 6, 0.05), (15, 3.9, 0.01), (22.5, 2.6, 0.01), (30, 2, 0), (45, 1.4, 0.011)],
)
def test_offset_multipliers(angle: float, multiplier: float, off: float) -> None:
    """Distance between marks an inch of offset: 6, 3.9, 2.6, 2, 1.4.

    Source: electricians' offset multipliers (consumersolution.org, "multiplier for a 10 degree
    offset"). They are for sharp corners: the corner to corner length of our offset. Rounded to two
    figures, they agree within 1.1 %, 10 degrees within 5 %.
    """
    chain = shape_chain(
        Offset(rise_mm=200, angle_deg=angle, before_mm=300, after_mm=300), od_mm=25, radius_mm=75
    )
    corner_to_corner = chain.straights_mm[1] + 2 * tangent_mm(75, angle)
    assert corner_to_corner / 200 == pytest.approx(multiplier, rel=off + 1e-9)


@pytest.mark.parametrize(
    ("angle", "shrink"), [(10, 1 / 16), (15, 1 / 8), (22.5, 3 / 16), (30, 1 / 4)]
)
def test_offset_shrink_is_what_the_trade_rounds_down(angle: float, shrink: float) -> None:
    """Tube lost an inch of offset: 1/16, 1/8, 3/16, 1/4.

    Source: same list. Ours is rise tan(a/2) exactly; the printed fractions lie below it, by 5 to
    8 % from 15 degrees up and 29 % at 10.
    """
    points = [(0, 0, 0), (300, 0, 0), (300 + 200 / math.tan(math.radians(angle)), 200, 0)]
    points.append((points[-1][0] + 300, 200, 0))
    chain = from_points(points, radius_mm=1e-6)
    length = Marked.of(chain).cut_length_mm
    ours = (length - points[-1][0]) / 200
    assert shrink < ours < shrink * (1.41 if angle == 10 else 1.09)


def test_rolling_offset() -> None:
    """Rise 30-5/8 in, roll 17-5/8 in: true offset 35.334561692485 in, 45 degree travel 50.02 in.

    Source: 602apprentice.blogspot.com, "Rolling offsets" (a pipefitters' class). True offset to
    1e-9; travel within 0.1 %: the class rounds the true offset to 35-3/8 and the factor to 1.414.
    """
    rise, roll = (30 + 5 / 8) * INCH, (17 + 5 / 8) * INCH
    true = 35.334561692485 * INCH
    points = [(0, 0, 0), (1000, 0, 0), (1000 + true, rise, roll), (2000 + true, rise, roll)]
    chain = from_points(points, radius_mm=75)
    assert chain.angles_deg == pytest.approx((45, 45), abs=1e-9)
    assert abs(chain.turns_deg[1]) == pytest.approx(180, abs=1e-5)
    travel = chain.straights_mm[1] + 2 * tangent_mm(75, 45)
    assert travel / INCH == pytest.approx(50.02025, rel=1e-3)


def test_developed_length_of_a_channel() -> None:
    """U channel of .040 sheet, flats .8 1.6 .8, radius .16: two bends of 90 develop to 3.76 in.

    Source: FAA AMT Handbook, Airframe vol. 1, ch. 4 (inputs as in aircraftsystemstech.com, "Making
    straight line bends"; the total is from memory). A sheet's neutral line lies .446 of the
    thickness out from the inside: with that as the radius, ours agrees to the digits printed.
    """
    neutral = 0.160 + 0.0078 / 0.01743 * 0.040
    chain = Chain((0.8, 1.6, 0.8), (0, 0), (90, 90), neutral)
    laid = Marked.of(chain)
    allowance = (0.01743 * 0.160 + 0.0078 * 0.040) * 90
    assert laid.used_mm[0] == pytest.approx(allowance, rel=2e-3)
    assert laid.cut_length_mm == pytest.approx(3.76, abs=0.005)


@pytest.mark.parametrize(
    ("radius", "gain"), [(4.0, 1.7168), (4.5, 1.9314), (5.75, 2.4679), (7.25, 3.1117)]
)
def test_gain_of_conduit_bends(radius: float, gain: float) -> None:
    """Tube saved by a 90 on the one-shot radii of NEC chapter 9 table 2: 2 R - pi R / 2.

    Source: the radii are printed (homesteady.com list of the table); the gains are common practice
    worked out by hand, no printed table found. To the last digit.
    """
    chain = from_points([(0, 0, 0), (20, 0, 0), (20, 20, 0)], radius)
    length = Marked.of(chain).cut_length_mm
    assert 40 - length == pytest.approx(gain, abs=5e-5)
