"""The tube's sweep against boxes, planes and itself; the oracle steps through every bend."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from benchmate.layout.centreline import Centreline, frames, points
from benchmate.layout.clash import (
    ITSELF,
    PAST,
    clashes,
    meets_itself,
    turned_round,
)
from benchmate.layout.shape_geometry import shape_centreline
from benchmate.layout.sphere_tree import SphereTree
from benchmate.layout.tube_layout import TubeLayout
from benchmate.shop.keep_out import Box, KeepOut, Plane
from benchmate.shop.shapes import Frame

OD = 30.0
R = 100.0
FLOOR = Plane(name="floor", through_mm=(0, 0, -400), facing=(0, 0, 2))


def part(straights: tuple, turns: tuple, angles: tuple) -> TubeLayout:
    return TubeLayout.of(Centreline(straights, turns, angles, R))


def centreline(centreline: Centreline, upto: int) -> np.ndarray:
    """Places every few mm from the first end to the start of a bend, in that start's frame."""
    at = frames(centreline)
    rows = []
    for station in range(2 * upto + 1):
        here, there = at[station], at[station + 1]
        if station % 2:
            swept = np.radians(centreline.angles_deg[station // 2]) * np.linspace(0, 1, 60)
            arc = R * np.stack([np.sin(swept), 1 - np.cos(swept), 0 * swept], axis=1)
            rows.append(here[:3, 3] + arc @ here[:3, :3].T)
        else:
            rows.append(np.linspace(here[:3, 3], there[:3, 3], 120))
    start = at[2 * upto + 1]
    return (np.concatenate(rows) - start[:3, 3]) @ start[:3, :3]


def depths(layout: TubeLayout, box: Box, *, first_end_swings: bool) -> list[float]:
    """How near the centreline comes to the box at each bend, stepped a degree at a time."""
    low, high = np.array(box.low_mm), np.array(box.high_mm)
    axis = np.array([0, R, 0])
    nearest = []
    for bend, angle in enumerate(layout.angles_deg):
        bent = centreline(layout.centreline, bend)
        tail = np.zeros((300, 3))
        tail[:, 0] = np.linspace(0, layout.cut_length_mm - layout.starts_mm[bend], 300)
        least = math.inf
        for swept in np.radians(np.linspace(0, PAST * angle, 2 + int(angle / 1.5))):
            turn = -swept if first_end_swings else swept
            about = Rotation.from_euler("z", turn).as_matrix()
            moves, lies = (bent, tail) if first_end_swings else (tail, bent)
            for line in ((moves - axis) @ about.T + axis, lies):
                outside = np.maximum(np.maximum(low - line, line - high), 0)
                least = min(least, float(np.linalg.norm(outside, axis=1).min()))
        nearest.append(least)
    return nearest


corners = st.tuples(st.floats(-500, 500), st.floats(-500, 500), st.floats(-500, 500))
some_bends = st.lists(
    st.tuples(st.floats(50, 250), st.floats(-180, 180), st.floats(20, 110)), min_size=2, max_size=4
)


@settings(max_examples=30)
@given(some_bends, corners, st.booleans())
def test_boxes_are_met_where_stepping_meets_them(
    bends: list[tuple[float, float, float]], corner: tuple[float, float, float], first: bool
) -> None:
    straights, turns, angles = zip(*bends, strict=True)
    layout = part((*straights, 200), turns, angles)
    box = Box(name="post", low_mm=corner, high_mm=tuple(c + 150 for c in corner))
    keep_out = KeepOut(boxes=(box,), swings="first end" if first else "last end")
    met = {clash.bend for clash in clashes(layout, OD, keep_out) if clash.what == "post"}
    for bend, gap in enumerate(depths(layout, box, first_end_swings=first), start=1):
        if gap < 0.8 * OD / 2:
            assert bend in met
        # Balls are 12 % larger than the tube, and the box's corners grown square: 1.12 sqrt(3).
        if gap > 2.1 * OD / 2:
            assert bend not in met


def test_a_leg_swings_into_a_post_at_the_angle_where_it_stands() -> None:
    """A leg of 600 along -x swings clockwise about (0, 100): a post at 45 degrees of its way."""
    reach = math.hypot(400, R)
    at = math.atan2(-R, -400) - math.radians(45)
    x, y = reach * math.cos(at), R + reach * math.sin(at)
    post = Box(name="post", low_mm=(x - 5, y - 5, -50), high_mm=(x + 5, y + 5, 50))
    (met,) = clashes(part((600, 300), (0,), (90,)), OD, KeepOut(boxes=(post,)))
    assert (met.bend, met.what) == (1, "post")
    # It is met a tube's half diameter, and the post's, before its middle.
    assert met.at_deg == pytest.approx(45 - math.degrees(22 / reach), abs=1.0)


def test_a_low_turn_reaches_the_floor_and_a_high_one_does_not() -> None:
    down = part((450, 200, 300), (0, 90), (90, 60))
    up = part((450, 200, 300), (0, -90), (90, 60))
    floor = KeepOut(planes=(FLOOR,))
    low = {clash.bend for clash in clashes(down, OD, floor)}
    high = {clash.bend for clash in clashes(up, OD, floor)}
    assert low ^ high == {2}
    assert len(low | high) == 1


@given(st.floats(0.5, 179), st.floats(-400, 400))
def test_height_over_a_plane_is_exact_in_the_swing(angle: float, through: float) -> None:
    wall = Plane(name="wall", through_mm=(0, through, 0), facing=(0, -1, 0))
    layout = part((500, 100), (0,), (angle,))
    swept = np.radians(np.linspace(0, PAST * angle, 4000))
    far = np.array([-500, -R])
    highest = (R - far[0] * np.sin(swept) + far[1] * np.cos(swept)).max()
    gap = through - OD / 2 - max(float(highest), 0.0)
    if abs(gap) > 0.01:
        assert bool(clashes(layout, OD, KeepOut(planes=(wall,)))) == (gap < 0)


def test_the_bent_end_that_comes_round_onto_the_tube_is_seen() -> None:
    # A hook bent back over the straight: 180 after a short leg turned in its own plane.
    hook = part((400, 30, 30, 900), (0, 0, 0), (90, 90, 120))
    assert any(clash.what == ITSELF for clash in clashes(hook, OD, KeepOut()))
    assert clashes(part((200, 300, 200), (0, 0), (90, 90)), OD, KeepOut()) == ()


def test_a_part_whose_ends_cross_meets_itself() -> None:
    crossing = part((400, 60, 60, 60, 500), (0, 0, 0, 0), (90, 90, 90, 60))
    balls = SphereTree.of(crossing, crossing.stations(), OD)
    assert meets_itself(balls, OD)
    lifted = part((400, 60, 60, 60, 500), (0, 25, 25, 25), (90, 90, 90, 60))
    assert not meets_itself(SphereTree.of(lifted, lifted.stations(), OD), OD)


@pytest.mark.parametrize("swings", ["first end", "last end"])
def test_a_frame_may_close_on_its_joint(swings: str) -> None:
    frame = TubeLayout.of(shape_centreline(Frame(width_mm=500, height_mm=400), OD, R))
    assert clashes(frame, OD, KeepOut(swings=swings)) == ()


@given(some_bends)
def test_a_part_turned_round_is_the_same_part(bends: list[tuple[float, float, float]]) -> None:
    straights, turns, angles = zip(*bends, strict=True)
    one = part((*straights, 200), (0.0, *turns[1:]), angles)
    other = turned_round(one)
    here, there = points(one.centreline), points(other.centreline)[::-1]
    apart = np.linalg.norm(here[:, None] - here, axis=-1)
    assert np.linalg.norm(there[:, None] - there, axis=-1) == pytest.approx(apart, abs=1e-6)
    # Distances can't tell a part from its mirror image; the volume of four points can.
    if len(here) >= 4:
        assert np.linalg.det(there[1:4] - there[0]) == pytest.approx(
            np.linalg.det(here[1:4] - here[0]), rel=1e-6, abs=1e-3
        )
    assert turned_round(other).turns_deg == pytest.approx(one.turns_deg)
