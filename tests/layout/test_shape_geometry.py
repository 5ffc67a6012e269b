"""Shapes: the bent part, drawn out point by point, measures what was asked for."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.errors import Refusal
from benchmate.layout.centreline import Centreline, frames
from benchmate.layout.shape_geometry import shape_centreline
from benchmate.shop.shapes import Arch, Bridge, Frame, Gable, Hoop, MeasuredAt, Ring, Step

OD = 25.0
R = 76.0
IN_ARC = 401
MOVE = {"outside": OD / 2, "centre": 0.0, "inside": -OD / 2}
places = st.sampled_from(["inside", "outside", "centre"])


def line(centreline: Centreline, outwards: float = 0.0) -> np.ndarray:
    """The line of a planar part that lies ``outwards`` from its centreline, in small steps, (m, 2).

    Outwards is away from the side that the first bend goes to; the part starts at 0 along +x.
    """
    at = frames(centreline)
    inner = 1.0
    rows = []
    for station in range(len(at) - 1):
        here, there = at[station], at[station + 1]
        start = np.array([here[:2, 3], there[:2, 3]])
        if station % 2:
            swept = np.radians(centreline.angles_deg[station // 2]) * np.linspace(0, 1, IN_ARC)
            # y of a start-of-bend frame points to the side bent to; +z is the first bend's axis.
            inner = float(np.sign(here[2, 2]))
            radius = centreline.radius_mm + outwards * inner
            centre = here[:2, 3] + centreline.radius_mm * here[:2, 1]
            rows.append(
                centre
                + radius * np.outer(np.sin(swept), here[:2, 0])
                - radius * np.outer(np.cos(swept), here[:2, 1])
            )
        else:
            normal = np.array([here[1, 0], -here[0, 0]])
            rows.append(start + outwards * normal)
    return np.concatenate(rows)


def extent(points: np.ndarray, axis: int) -> float:
    return float(np.ptp(points[:, axis]))


@given(st.floats(250, 900), st.floats(300, 1000), places)
def test_a_hoop_is_as_wide_and_high_as_measured(
    width: float, height: float, at: MeasuredAt
) -> None:
    edge = line(shape_centreline(Hoop(width_mm=width, height_mm=height, at=at), OD, R), MOVE[at])
    assert extent(edge, 1) == pytest.approx(width, abs=1e-6)
    assert extent(edge, 0) == pytest.approx(height, abs=1e-6)


def test_a_hoop_without_a_width_is_one_bend_right_round() -> None:
    centreline = shape_centreline(Hoop(height_mm=700), OD, R)
    assert centreline.angles_deg == (180.0,)
    assert extent(line(centreline, OD / 2), 1) == pytest.approx(2 * R + OD)


@given(st.floats(60, 400), st.floats(25, 60))
def test_a_step_rises_by_what_was_asked(rise: float, angle: float) -> None:
    shape = Step(height_mm=rise, angle_deg=angle, first_leg_mm=200, last_leg_mm=300)
    if rise < 2 * R * (1 - math.cos(math.radians(angle))):
        with pytest.raises(Refusal, match="between bends 1 and 2"):
            shape_centreline(shape, OD, R)
        return
    end = frames(shape_centreline(shape, OD, R))[-1]
    assert end[1, 3] == pytest.approx(rise)
    assert end[:3, 0] == pytest.approx([1, 0, 0], abs=1e-12)


def test_a_step_by_length_has_its_corners_that_far_apart() -> None:
    shape = Step(height_mm=120, length_mm=160, first_leg_mm=200, last_leg_mm=300)
    centreline = shape_centreline(shape, OD, R)
    assert centreline.angles_deg[0] == pytest.approx(math.degrees(math.atan(120 / 160)))
    tangent = R * math.tan(math.radians(centreline.angles_deg[0]) / 2)
    assert centreline.straights_mm[1] + 2 * tangent == pytest.approx(200)


@given(st.floats(40, 150), st.floats(15, 30))
def test_a_bridge_of_three_is_lifted_by_its_rise_and_comes_back_level(
    rise: float, angle: float
) -> None:
    shape = Bridge(height_mm=rise, angle_deg=angle, first_leg_mm=200, last_leg_mm=200)
    centreline = shape_centreline(shape, OD, R)
    path = line(centreline)
    assert path[:, 1].max() == pytest.approx(rise, abs=1e-4)
    assert path[-1, 1] == pytest.approx(0, abs=1e-9)


@given(st.floats(70, 200), st.floats(20, 45), st.floats(50, 300))
def test_a_bridge_of_four_has_its_flat_top(rise: float, angle: float, top: float) -> None:
    shape = Bridge(height_mm=rise, angle_deg=angle, flat_mm=top, first_leg_mm=200, last_leg_mm=200)
    centreline = shape_centreline(shape, OD, R)
    at = frames(centreline)
    assert at[4:6, 1, 3] == pytest.approx([rise, rise])
    assert np.linalg.norm(at[5, :3, 3] - at[4, :3, 3]) == pytest.approx(top)
    assert at[-1, 1, 3] == pytest.approx(0, abs=1e-9)
    assert centreline.turns_deg == (0, 180, 0, 180)


@given(st.floats(600, 1500), st.floats(400, 900), st.floats(150, 600), places)
def test_a_gable_has_its_span_and_its_faces_meet_at_eaves_and_ridge(
    span: float, eaves: float, above: float, at: MeasuredAt
) -> None:
    shape = Gable(width_mm=span, eaves_mm=eaves, ridge_mm=eaves + above, at=at)
    edge = line(shape_centreline(shape, OD, R), MOVE[at])
    side, slope = (edge[0], edge[1]), (edge[2 + IN_ARC], edge[3 + IN_ARC])
    assert extent(edge, 1) == pytest.approx(span)
    # The side runs along x; the slope's line crosses it at the eaves and the middle at the ridge.
    along = slope[1] - slope[0]
    eaves_at = slope[0] + along * (side[0][1] - slope[0][1]) / along[1]
    middle = (edge[:, 1].max() + edge[:, 1].min()) / 2
    ridge_at = slope[0] + along * (middle - slope[0][1]) / along[1]
    assert eaves_at[0] == pytest.approx(eaves)
    assert ridge_at[0] == pytest.approx(eaves + above)


@given(st.floats(300, 900), st.floats(300, 900), places)
def test_a_rectangle_closes_on_its_joint(width: float, height: float, at: MeasuredAt) -> None:
    shape = Frame(width_mm=width, height_mm=height, at=at)
    centreline = shape_centreline(shape, OD, R)
    edge = line(centreline, MOVE[at])
    assert extent(edge, 0) == pytest.approx(width)
    assert extent(edge, 1) == pytest.approx(height)
    assert frames(centreline)[-1] == pytest.approx(np.eye(4), abs=1e-9)


def test_a_rectangle_leaves_the_gap_for_the_weld() -> None:
    shape = Frame(width_mm=500, height_mm=400, joint_mm=50, gap_mm=2)
    centreline = shape_centreline(shape, OD, R)
    assert centreline.straights_mm[0] == 50
    assert frames(centreline)[-1, :3, 3] == pytest.approx([-2, 0, 0], abs=1e-9)


@given(st.floats(700, 2000), st.floats(0.1, 0.5), st.sampled_from([2, 4, 6, 8]), places)
def test_an_arch_of_an_even_number_of_bends_has_its_span_and_rise(
    span: float, ratio: float, bends: int, at: MeasuredAt
) -> None:
    shape = Arch(width_mm=span, height_mm=ratio * span, bends=bends, at=at)
    edge = line(shape_centreline(shape, OD, R), MOVE[at])
    chord = edge[-1] - edge[0]
    length = float(np.linalg.norm(chord))
    off = np.abs(np.cross(np.append(chord, 0), np.column_stack([edge - edge[0], 0 * edge[:, 0]])))
    assert length == pytest.approx(span)
    # A polygon that touches the circle half-way along its straights, the middle one at the crown.
    assert off[len(off) // 2, 2] / length == pytest.approx(ratio * span, rel=1e-6)


@given(st.floats(200, 1500), st.floats(60, 330))
def test_a_ring_in_pieces_keeps_within_2_mm_of_its_circle(radius: float, angle: float) -> None:
    centreline = shape_centreline(Ring(radius_mm=radius, angle_deg=angle, at="centre"), OD, R)
    path = line(centreline)
    from_centre = np.linalg.norm(path - np.array([0.0, radius]), axis=1)
    assert from_centre.min() > radius - 1e-6
    assert from_centre.max() < radius + 2 + 1e-6
    assert sum(centreline.angles_deg) == pytest.approx(angle)


def test_an_arch_has_legs_where_asked() -> None:
    bare = shape_centreline(Arch(width_mm=900, height_mm=300, bends=4), OD, R)
    with_legs = shape_centreline(Arch(width_mm=900, height_mm=300, bends=4, leg_mm=120), OD, R)
    assert with_legs.straights_mm[0] == pytest.approx(bare.straights_mm[0] + 120)


@pytest.mark.parametrize(
    ("shape", "words"),
    [
        (Hoop(width_mm=120, height_mm=500), "between bends 1 and 2 would be"),
        (Hoop(height_mm=60), "before bend 1 would be"),
        (Ring(radius_mm=60, angle_deg=90), "tighter than the radius after springback"),
        (Step(height_mm=90, first_leg_mm=10, last_leg_mm=10), "give either angle or length"),
        (Gable(width_mm=900, eaves_mm=500, ridge_mm=400), "the ridge isn't above the eaves"),
        (Ring(radius_mm=600, angle_deg=270, bends=1), "1 bends for 270.0 deg are too few"),
    ],
)
def test_dimensions_that_do_not_go_are_refused_in_words(shape: Hoop, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        shape_centreline(shape, OD, R)
