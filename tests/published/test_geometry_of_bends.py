"""Arcs, tangents, offsets and developed lengths against printed figures.

Each check names its source and how near the agreement is; figures are typed as printed.
"""

import math

import pytest

from benchmate.layout.centreline import Centreline, frames, from_points, tangent_mm
from benchmate.layout.shape_geometry import shape_centreline
from benchmate.layout.tube_layout import TubeLayout
from benchmate.shop.shapes import Arch, Step


def test_road_curve_tangent_and_length() -> None:
    """R 1800, deflection 43 deg 25' 46": T 716.84, L 1364.38.

    Source: "Surveying Mathematics Made Simple", horizontal curve example; both to the last digit
    printed.
    """
    angle = 43 + 25 / 60 + 46 / 3600
    assert tangent_mm(1800, angle) == pytest.approx(716.84, abs=0.005)
    assert Centreline((0, 0), (0,), (angle,), 1800).arcs_mm[0] == pytest.approx(1364.38, abs=0.005)


@pytest.mark.parametrize(
    ("radius", "angle", "tangent", "chord", "off"),
    [
        (1800, 43 + 25 / 60 + 46 / 3600, 716.84, 1331.94325, 0.005),
        (249.17, 29 + 20 / 60, 65.2136, 126.1773, 2e-4),
    ],
)
def test_road_curve_tangent_and_long_chord(
    radius: float, angle: float, tangent: float, chord: float, off: float
) -> None:
    """Where the arc starts before the corner, and from its start to its end.

    Sources: the same example (within 5 in the sixth figure, the printed angle being rounded); and a
    review sheet for surveyors, "34 Surveying: Horizontal Curves 1, Solutions", situation 1: R
    249.17, I 29 deg 20', T 65.2136, C 126.1773 (pdf.dotool.net), to 1 in the last digit printed.
    """
    corner = from_points([(0, 0, 0), (2000, 0, 0), _onwards(2000, angle, 2000)], radius)
    assert 2000 - corner.straights_mm[0] == pytest.approx(tangent, abs=off)
    start, end = frames(corner)[1:3, :3, 3]
    assert math.dist(start, end) == pytest.approx(chord, abs=off)


def test_arc_of_one_radian_over_a_chord_of_two() -> None:
    """Chord 2, angle 1 radian: radius and arc 2.0858296429.

    Source: M. Ducamp and A. Reverchon, "Mathematiques en Turbo-Pascal", vol. 2 (Eyrolles, 1988),
    sample run of the arc of a circle, as given in the public jpmMath collection. To 1e-10.
    """
    arc = Centreline((0, 0), (0,), (math.degrees(1.0),), 2.0858296429)
    start, end = frames(arc)[1:3, :3, 3]
    assert arc.arcs_mm[0] == pytest.approx(2.0858296429, abs=1e-10)
    assert math.dist(start, end) == pytest.approx(2.0, abs=1e-10)


def _onwards(along: float, angle: float, leg: float) -> tuple[float, float, float]:
    theta = math.radians(angle)
    return along + leg * math.cos(theta), leg * math.sin(theta), 0.0


@pytest.mark.parametrize(
    ("rise", "roll", "true", "off"),
    [(30 + 5 / 8, 17 + 5 / 8, 35.334561692485, 1e-11), (8, 12, 14.42, 0.005)],
)
def test_rolling_offset(rise: float, roll: float, true: float, off: float) -> None:
    """Rise 30-5/8 in, roll 17-5/8 in: true offset 35.334561692485 in; 8 and 12 in: 14.42 in.

    Sources: 602apprentice.blogspot.com, "Rolling offsets" (a pipefitters' class); hunker.com, "How
    to figure a rolling offset in piping". It is how far our part's second end runs from the first
    one's line, and the part lies flat in a plane of its own: the second bend's turn is 180.
    """
    points = [(0, 0, 0), (40, 0, 0), (80, rise, roll), (120, rise, roll)]
    chain = from_points(points, radius_mm=3)
    assert abs(chain.turns_deg[1]) == pytest.approx(180, abs=1e-5)
    assert chain.angles_deg[0] == pytest.approx(chain.angles_deg[1], abs=1e-9)
    _, across, up = frames(chain)[-1, :3, 3]
    assert math.hypot(across, up) == pytest.approx(true, abs=off)


def test_travel_of_a_rolling_offset() -> None:
    """The same class: a true offset of 35-3/8 in at 45 degrees has 50.02025 in of travel.

    The class takes 1.414 for the root of 2: within 0.02 %.
    """
    true, roll = 35.375, math.atan2(17 + 5 / 8, 30 + 5 / 8)
    far = (true * math.cos(roll), true * math.sin(roll))
    chain = from_points([(0, 0, 0), (40, 0, 0), (40 + true, *far), (80 + true, *far)], radius_mm=3)
    assert chain.angles_deg == pytest.approx((45, 45), abs=1e-9)
    travel = chain.straights_mm[1] + 2 * tangent_mm(3, 45)
    assert travel == pytest.approx(50.02025, rel=2e-4)


@pytest.mark.parametrize(("angle", "travel"), [(45, 20.39), (22.5, 37.68)])
def test_travel_of_a_rolling_offset_of_8_and_12(angle: float, travel: float) -> None:
    """True offset 14.42; travel 20.39 at 45 degrees and 37.68 at 22.5.

    Source: pipe fitters' constants 1.414 and 2.613 over the true offset, as their handbooks print
    them (from memory). Ours is a step of that height.
    """
    true = math.hypot(8, 12)
    shape = Step(height_mm=true, angle_deg=angle, first_leg_mm=40, last_leg_mm=40)
    part = shape_centreline(shape, od_mm=1, radius_mm=3)
    assert true == pytest.approx(14.42, abs=0.005)
    assert part.straights_mm[1] + 2 * tangent_mm(3, angle) == pytest.approx(travel, abs=0.01)
    assert abs(frames(part)[-1, 1, 3]) == pytest.approx(14.42, abs=0.005)


def test_middle_ordinate_of_an_arch() -> None:
    """The middle ordinate of a chord on a circle of 249.17 is 8.119.

    Source: the middle ordinate m = R - sqrt(R^2 - (c/2)^2) as surveyors' and railway handbooks give
    it (from memory). An arch of that width and height is a
    part of that circle, so its bends and straights touch it.
    """
    width = 2 * math.sqrt(249.17**2 - (249.17 - 8.119) ** 2)
    shape = Arch(width_mm=width, height_mm=8.119, bends=1, at="centre")
    part = shape_centreline(shape, od_mm=10, radius_mm=100)
    tangent = part.straights_mm[0] + tangent_mm(100, part.angles_deg[0])
    # The one bend's straights touch the circle at the chord's ends.
    assert tangent == pytest.approx(
        249.17 * math.tan(math.radians(part.angles_deg[0]) / 2), rel=1e-6
    )
    assert part.angles_deg[0] == pytest.approx(2 * math.degrees(math.asin(width / 2 / 249.17)))


LEUCINE = {
    "N": (24.969, 13.428, 30.692),
    "CA": (24.044, 12.661, 29.808),
    "C": (22.785, 13.482, 29.543),
    "O": (21.951, 13.670, 30.431),
    "CB": (23.672, 11.328, 30.466),
    "CG": (22.881, 10.326, 29.620),
    "CD1": (23.691, 9.935, 28.389),
    "CD2": (22.557, 9.096, 30.459),
}


@pytest.mark.parametrize(
    ("path", "torsion"),
    [
        ("N CA C O", -71.21515),
        ("N CA CB CG", -171.94319),
        ("CA CB CG CD1", 60.82226),
        ("CA CB CG CD2", -177.63641),
    ],
)
def test_turns_are_the_torsion_angles_of_chemistry(path: str, torsion: float) -> None:
    """Four points, size and sign of the turn between the two bends.

    A turn is what chemistry calls the torsion of four atoms in a chain, positive where it is
    clockwise looking along the middle bond (IUPAC Gold Book, T06406). Source: four angles printed
    for these atoms with stackoverflow.com question 20305272, which the tests of gemmi, QCElemental
    and others repeat. To the last digit printed. No pipefitters' text was found that prints an
    angle of roll with its rise and roll.
    """
    chain = from_points([LEUCINE[atom] for atom in path.split()], radius_mm=0.1)
    assert chain.turns_deg[1] == pytest.approx(torsion, abs=1e-5)


def test_developed_length_of_a_conduit_s_square_bend() -> None:
    """Stub 48, leg 44 over the outsides, radius 24, outside diameter 2.375, all in inches.

    Source: NJATC, "Conduit Fabrication, Level II", lesson 4, example for questions 34 through 43
    (on studylib.net): straights 22.8125 and 18.8125, developed length 37.68, total 79.305. The
    straights are exact; the class takes 1.57 for pi/2, which is 0.02 in here.
    """
    half = 2.375 / 2
    corner = [(0, 0, 0), (48 - half, 0, 0), (48 - half, 44 - half, 0)]
    chain = from_points(corner, radius_mm=24)
    assert chain.straights_mm == pytest.approx((22.8125, 18.8125), abs=1e-9)
    assert TubeLayout.of(chain).used_mm[0] == pytest.approx(37.68, abs=0.02)
    assert TubeLayout.of(chain).cut_length_mm == pytest.approx(79.305, abs=0.02)


def test_developed_length_of_a_sheet_with_three_bends() -> None:
    """Sheet of .050, inside radius .032, three bends of 90: allowance .085, stretch-out 2.973 in.

    Source: sheetmetalworkbook.com, "90 Degree Bends": (.0078 x .050 + .01743 x .032) x 90 = .085;
    outsides .740, .420, 1.050, 1.000. By that rule the sheet's neutral line lies .447 of the
    thickness out from the inside: with that as the radius, ours agrees within .0015, three times
    what the class rounds off one bend. (A Navy text, tpub.com, prints .0173 for .01743.)
    """
    thick, inside = 0.050, 0.032
    corner = inside + thick
    outsides = (0.740, 0.420, 1.050, 1.000)
    ends = (1, 2, 2, 1)
    flats = tuple(long - corner * bends for long, bends in zip(outsides, ends, strict=True))
    laid = TubeLayout.of(Centreline(flats, (0,) * 3, (90,) * 3, inside + 0.0078 / 0.01743 * thick))
    assert laid.used_mm == pytest.approx([0.085] * 3, abs=5e-4)
    assert laid.cut_length_mm == pytest.approx(2.973, abs=0.0015)


def test_developed_length_of_a_z() -> None:
    """Flats 50, 100, 50 mm, two bends of 90, sheet 0.5, inside radius 1.0, neutral line at 0.40.

    Source: machinematcher.com, "How to calculate developed width": 1.88496 a bend, to the last
    digit; 203.76 in all, of which 0.0099 is that it adds each bend as 1.88.
    """
    laid = TubeLayout.of(Centreline((50, 100, 50), (0, 180), (90, 90), 1.0 + 0.40 * 0.5))
    assert laid.used_mm == pytest.approx([1.88496] * 2, abs=5e-6)
    assert laid.cut_length_mm == pytest.approx(203.76, abs=0.0105)


def test_stock_of_a_bent_strip() -> None:
    """Two legs of 50 mm over the outside of a 5 mm strip bent by 90: stock 89.1755 mm.

    Source: A. Ghosh and A. K. Mallik, "Manufacturing Science", example 3.9, as worked in the
    FOSSEE Scilab companion; the inside radius 10.15565 is the example's
    (1/(exp(0.2) - 1) - 0.82) t/1.82, the neutral line is taken at 0.45 t. To the last digit.
    """
    inside = (1 / (math.exp(0.2) - 1) - 0.82) * 5 / 1.82
    leg = 50 - (inside + 5)
    laid = TubeLayout.of(Centreline((leg, leg), (0,), (90,), inside + 0.45 * 5))
    assert laid.cut_length_mm == pytest.approx(89.1755, abs=5e-5)
