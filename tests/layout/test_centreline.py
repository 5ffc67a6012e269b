"""Chain and points: round trips, conventions, refusals; the oracle is scipy's Rotation."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.spatial.transform import Rotation

from benchmate.errors import Refusal
from benchmate.layout.centreline import (
    Centreline,
    frames,
    from_points,
    half_open_turn,
    points,
    walk,
)

lengths = st.floats(5, 800)
turns = st.one_of(st.floats(-179.9, 180), st.sampled_from([0.0, 180.0, 90.0, -90.0]))
angles = st.floats(1, 170)


@st.composite
def centrelines(
    draw: st.DrawFn, max_bends: int = 8, angle: st.SearchStrategy[float] = angles
) -> Centreline:
    bends = draw(st.integers(1, max_bends))
    return Centreline(
        straights_mm=tuple(draw(lengths) for _ in range(bends + 1)),
        turns_deg=(0.0, *(draw(turns) for _ in range(bends - 1))),
        angles_deg=tuple(draw(angle) for _ in range(bends)),
        radius_mm=draw(st.floats(20, 300)),
    )


def by_rotations(centreline: Centreline) -> np.ndarray:
    """Ends of every section by composing scipy rotations, an arc by its chord."""
    turned = Rotation.identity()
    here = np.zeros(3)
    at = [here]
    for straight, turn, angle in zip(
        centreline.straights_mm, centreline.turns_deg, centreline.angles_deg, strict=False
    ):
        here = here + turned.apply([straight, 0, 0])
        at.append(here)
        turned = turned * Rotation.from_euler("x", turn, degrees=True)
        chord = 2 * centreline.radius_mm * math.sin(math.radians(angle / 2))
        along = Rotation.from_euler("z", angle / 2, degrees=True).apply([chord, 0, 0])
        here = here + turned.apply(along)
        at.append(here)
        turned = turned * Rotation.from_euler("z", angle, degrees=True)
    at.append(here + turned.apply([centreline.straights_mm[-1], 0, 0]))
    return np.array(at)


@given(centrelines(angle=st.floats(0.5, 180)))
def test_stations_agree_with_composed_rotations(centreline: Centreline) -> None:
    assert frames(centreline)[:, :3, 3] == pytest.approx(by_rotations(centreline), abs=1e-8)


@given(centrelines())
def test_chain_to_points_and_back_gives_the_chain(centreline: Centreline) -> None:
    back = from_points(points(centreline), centreline.radius_mm)
    scale = max(centreline.straights_mm) + centreline.radius_mm * 30
    assert back.straights_mm == pytest.approx(centreline.straights_mm, abs=1e-9 * scale)
    assert back.angles_deg == pytest.approx(centreline.angles_deg, abs=1e-9)
    for got, wanted in zip(back.turns_deg, centreline.turns_deg, strict=True):
        # A turn is only as sharp as the bends either side of it let it be.
        assert math.remainder(got - wanted, 360) == pytest.approx(0, abs=1e-7)


@given(centrelines(angle=st.floats(20, 160)))
def test_points_to_chain_to_points_gives_the_points_to_a_billionth(centreline: Centreline) -> None:
    given_points = points(centreline)
    back = points(from_points(given_points, centreline.radius_mm))
    assert back == pytest.approx(given_points, abs=1e-9 * max(1.0, np.abs(given_points).max()))


@given(centrelines(max_bends=4), st.integers(0, 2**32 - 1))
def test_where_the_part_stands_in_space_changes_no_bend(centreline: Centreline, seed: int) -> None:
    rng = np.random.default_rng(seed)
    moved = Rotation.random(rng=rng).apply(points(centreline)) + rng.uniform(-1e3, 1e3, 3)
    back = from_points(moved, centreline.radius_mm)
    assert back.straights_mm == pytest.approx(centreline.straights_mm, abs=1e-6)
    assert back.angles_deg == pytest.approx(centreline.angles_deg, abs=1e-7)


@given(centrelines(angle=st.floats(1, 180)))
def test_integrated_centreline_is_as_long_as_straights_and_arcs(centreline: Centreline) -> None:
    """Step along the tube in small chords of the frame's own heading; compare lengths."""
    bends = 400
    at = frames(centreline)
    length = 0.0
    for bend, angle in enumerate(centreline.angles_deg):
        start = at[1 + 2 * bend]
        swept = np.radians(angle) * np.linspace(0, 1, bends + 1)
        arc = centreline.radius_mm * np.stack(
            [np.sin(swept), 1 - np.cos(swept), np.zeros_like(swept)], axis=1
        )
        path = start[:3, 3] + arc @ start[:3, :3].T
        length += float(np.linalg.norm(np.diff(path, axis=0), axis=1).sum())
        assert path[-1] == pytest.approx(at[2 + 2 * bend][:3, 3], abs=1e-8)
    assert length == pytest.approx(sum(centreline.arcs_mm), rel=1e-5)


def test_a_turn_is_right_handed_along_the_travel() -> None:
    # First bend turns from +x to +y; a turn of +90 about the travel (+y) carries the bend's side
    # from where it was (-x) to +z.
    centreline = Centreline((100, 100, 100), (0, 90), (90, 90), 50)
    assert frames(centreline)[-1, :3, 0] == pytest.approx([0, 0, 1])


def test_a_u_comes_back_beside_itself() -> None:
    at = frames(Centreline((300, 300), (0,), (180,), 76))
    assert at[-1, :3, 3] == pytest.approx([0, 152, 0])


def test_a_planar_part_has_turns_of_0_and_180_only() -> None:
    centreline = from_points(
        [(0, 0, 0), (200, 0, 0), (300, 100, 0), (500, 100, 0), (500, 300, 0)], 40
    )
    assert centreline.turns_deg == pytest.approx((0, 180, 180))


@pytest.mark.parametrize(
    ("given_points", "words"),
    [
        ([(0, 0, 0), (100, 0, 0)], "three points or more"),
        ([(0, 0, 0), (100, 0, 0), (300, 0, 0)], "points 1, 2 and 3 stand in one line"),
        ([(0, 0, 0), (100, 0, 0), (100, 0, 0), (0, 9, 0)], "points 2 and 3 are in one place"),
        ([(0, 0, 0), (100, 0, 0), (50, 0, 0)], "points 1, 2 and 3 double straight back"),
        ([(0, 0, 0), (100, math.nan, 0), (50, 0, 0)], "isn't a number"),
        ([(0, 0), (1, 0), (1, 1)], "each of three numbers"),
    ],
)
def test_points_that_make_no_bends_are_refused_in_words(given_points: list, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        from_points(given_points, 50)


@pytest.mark.parametrize("angle", [0, -5, 180.5])
def test_a_bend_angle_outside_0_to_180_is_refused(angle: float) -> None:
    with pytest.raises(Refusal, match="bend 2: a bend angle of"):
        Centreline((1, 1, 1), (0, 0), (90, angle), 50)


def test_a_bend_of_180_has_no_point() -> None:
    with pytest.raises(Refusal, match="bend 1 of 180 deg has no point"):
        points(Centreline((100, 100), (0,), (180,), 50))


def test_a_chain_wants_a_straight_more_than_bends() -> None:
    with pytest.raises(Refusal, match="one straight more than bends"):
        Centreline((100,), (0,), (90,), 50)


def test_walk_takes_angles_that_no_chain_may_have() -> None:
    assert walk((10, 10), (0,), (-90,), 50)[-1, :3, 0] == pytest.approx([0, -1, 0])


@pytest.mark.parametrize(("turn", "same"), [(190, -170), (-180, 180), (360, 0), (180, 180)])
def test_turns_are_given_over_minus_180_to_180(turn: float, same: float) -> None:
    assert half_open_turn(turn) == same
