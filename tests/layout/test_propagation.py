"""The spread of the last end against parts drawn at random, and which bend matters."""

import math
from dataclasses import replace

import numpy as np
import pytest

from benchmate.errors import Refusal
from benchmate.layout.centreline import Centreline
from benchmate.layout.propagation import Spread, propagate, within_95
from benchmate.layout.tube_layout import TubeLayout

PART = TubeLayout.of(
    Centreline((200, 300, 150, 250), (0, 70, -120), (60, 90, 35), 102), stretch=0.005
)
SPREAD = Spread(
    angle_deg=(0.5, 0.4, 0.6),
    mark_mm=1.0,
    turn_deg=1.0,
)


def drawn(part: TubeLayout, spread: Spread, times: int) -> np.ndarray:
    """Last ends of parts bent with errors drawn at random, (times, 4, 4)."""
    rng = np.random.default_rng(11)
    turns = rng.normal(0, spread.turn_deg, (times, 3))
    turns[:, 0] = 0
    off = replace(
        part,
        starts_mm=part.starts_mm + rng.normal(0, spread.mark_mm, (times, 3)),
        turns_deg=part.turns_deg + turns,
        angles_deg=part.angles_deg + rng.normal(0, 1, (times, 3)) * np.array(spread.angle_deg),
    )
    return off.stations()[:, -1]


def test_covariance_is_that_of_parts_drawn_at_random() -> None:
    ends = drawn(PART, SPREAD, 20_000)
    foretold = propagate(PART, SPREAD)
    seen = np.cov(ends[:, :3, 3].T)
    assert foretold.covariance_mm2 == pytest.approx(seen, rel=0.06, abs=0.03 * np.trace(seen))


def test_95_of_100_parts_land_within_the_bounds() -> None:
    ends = drawn(PART, SPREAD, 20_000)
    foretold = propagate(PART, SPREAD)
    planned = PART.stations()[-1]
    off = np.linalg.norm(ends[:, :3, 3] - planned[:3, 3], axis=1)
    assert np.mean(off < foretold.off_95_mm) == pytest.approx(0.95, abs=0.01)
    opening = np.linalg.norm(ends[:, :3, 3], axis=1) - foretold.opening_mm
    assert np.mean(np.abs(opening) < foretold.opening_95_mm) == pytest.approx(0.95, abs=0.01)
    askew = np.degrees(np.arccos(np.clip(ends[:, :3, 0] @ planned[:3, 0], -1, 1)))
    assert np.mean(askew < foretold.askew_95_deg) == pytest.approx(0.95, abs=0.01)


@pytest.mark.parametrize("spread", [(1, 0, 0), (1, 1, 0), (1, 1, 1), (3, 1, 0.2), (1, 0.9, 0.1)])
def test_the_bound_of_a_normal_vector_holds_95_of_100(spread: tuple[float, ...]) -> None:
    rng = np.random.default_rng(2)
    lengths = np.linalg.norm(rng.normal(0, 1, (100_000, 3)) * spread, axis=1)
    assert np.mean(lengths < within_95(np.diag(np.square(spread)))) == pytest.approx(0.95, abs=0.01)


def test_shares_make_one() -> None:
    spread = Spread(angle_deg=(0.5, 0.4, 0.6), radius_mm=0.5, start_offset_mm=0.5, stretch=0.002)
    foretold = propagate(PART, spread)
    assert sum(foretold.shares) + foretold.common_share == pytest.approx(1)
    assert foretold.common_share > 0


def test_the_bend_that_is_furthest_off_in_angle_matters_most() -> None:
    only_second = Spread(angle_deg=(0.0, 1.0, 0.0), mark_mm=0.0, turn_deg=0.0)
    foretold = propagate(PART, only_second)
    assert foretold.matters_most == 2
    assert foretold.shares == pytest.approx((0, 1, 0))


def test_one_bend_by_hand() -> None:
    """A 90 with 300 mm tail: one degree swings the end by R + tail less what the arc used."""
    part = TubeLayout.of(Centreline((200, 300), (0,), (90,), 100))
    foretold = propagate(part, Spread(angle_deg=(1.0,), mark_mm=0.0, turn_deg=0.0))
    degree = math.radians(1)
    # About the end of the arc: sideways by the tail; the tube that the arc took is not the tail's.
    assert math.sqrt(foretold.covariance_mm2[0, 0]) == pytest.approx(300 * degree, rel=1e-4)
    assert math.sqrt(foretold.covariance_mm2[1, 1]) == pytest.approx(0, abs=1e-2)


def test_a_spread_for_each_bend_is_wanted() -> None:
    with pytest.raises(Refusal, match="2 angle spreads for 3 bends"):
        propagate(PART, Spread(angle_deg=(1, 1)))


def test_what_is_common_moves_the_end_as_a_changed_radius_offset_and_stretch_do() -> None:
    """Each alone, against the part laid out anew with that figure changed."""
    still = {"angle_deg": (0.0, 0.0, 0.0), "mark_mm": 0.0, "turn_deg": 0.0}
    here = PART.stations()[-1, :3, 3]
    changed = {
        "radius_mm": replace(PART, radius_mm=PART.radius_mm + 1e-4),
        "start_offset_mm": replace(PART, starts_mm=PART.starts_mm + 1e-4),
        "stretch": replace(PART, stretch=PART.stretch + 1e-6),
    }
    for name, other in changed.items():
        step = 1e-6 if name == "stretch" else 1e-4
        foretold = propagate(PART, Spread(**still, **{name: 1.0}))
        slope = (other.stations()[-1, :3, 3] - here) / step
        assert foretold.covariance_mm2 == pytest.approx(np.outer(slope, slope), rel=1e-3, abs=1e-3)
