"""Presses that gain nothing end: by a led stop angle, or by a word that says why."""

from dataclasses import replace

import numpy as np
import pytest

from benchmate.springback.bend import Hit
from benchmate.springback.gain import risen_in_vain, stood_still
from benchmate.springback.stopping import Stopping


def bend_to_the_end(shop, model, wanted, stops_at, *, reads):
    """Press as told until told otherwise, measuring when asked to; give hits and the last aim."""
    rng = np.random.default_rng(round(1000 * wanted))
    hits, now = [], 0.0
    aim = model.aim(wanted, 0.5)
    while len(hits) < 12:
        peak = stops_at(aim.stop_angle)
        left = (peak - shop.slack - shop.legs + rng.normal(0, 0.08)) / (1 + shop.per_degree)
        now = max(now, left)
        seen = now + rng.normal(0, 0.12)
        rest = now + shop.slack + rng.normal(0, 0.08)
        hits.append((peak, rest, seen if reads else None))
        aim = model.aim(wanted, 0.5, tuple(hits))
        if aim.verdict == "measure" and not reads:
            hits[-1] = (peak, rest, seen)
            aim = model.aim(wanted, 0.5, tuple(hits))
        if aim.verdict != "again":
            break
    return hits, aim


@pytest.mark.parametrize("learned", [0, 1, 8])
@pytest.mark.parametrize("reads", [True, False])
def test_who_always_stops_short_ends_every_piece_within_six_hits(shop, learned, reads):
    rng = np.random.default_rng(11 + learned)
    accepted = 0
    for _ in range(25):
        short, steady = rng.uniform(0.1, 0.5), rng.uniform(0.01, 0.1)
        setup = replace(shop, slack=rng.uniform(0.5, 3.5), per_degree=rng.uniform(0.01, 0.04))
        model = setup.model().learn(setup.many(learned, seed=int(rng.integers(1000))))
        hits, aim = bend_to_the_end(
            setup,
            model,
            rng.uniform(10, 170),
            lambda stop, short=short, steady=steady: stop - short + rng.normal(0, steady),
            reads=reads,
        )
        assert aim.verdict != "again", hits
        assert len(hits) <= 6
        accepted += aim.verdict == "accept"
    assert accepted >= 23


def test_two_short_stops_on_a_piece_lead_the_third_and_one_says_nothing_yet():
    habit = Stopping()
    assert habit.next_on_piece([-0.4]) == habit.next_on_piece([])
    short = habit.next_on_piece([-0.4, -0.4])
    assert short.mean == pytest.approx(-0.4 * 2 / 3)
    assert habit.next_on_piece([-0.4] * 6).mean < short.mean
    assert habit.next_on_piece([-0.4] * 6).sd < short.sd
    assert habit.next_on_piece([-9.0, -9.0]).mean > -1
    assert habit.next_on_piece([-0.4, 0.3]).mean == habit.mean


def test_an_arm_that_leaves_the_tube_behind_is_named(shop):
    model = shop.model().learn(shop.many(2))
    told = model.aim(90, 0.5, (shop.hit(80), (87.0, 82.0, None), (89.5, 82.0, None)))
    assert told.verdict == "measure"
    assert "does the clamp slip" in told.advice


def test_once_measured_a_piece_far_from_its_angle_is_pressed_on(shop):
    model = shop.model()
    peak, rest, _ = shop.hit(87)
    stop = model.aim(90, 0.5, ((peak, rest, None),)).stop_angle
    idle = ((stop, stop - 2.2, None),) * 3
    assert model.aim(90, 0.5, idle).verdict == "measure"
    assert model.aim(90, 0.5, (*idle[1:], (stop, stop - 2.2, 88.0))).verdict == "again"


@pytest.mark.parametrize(
    ("hits", "risen"),
    [
        (((50, 48, None), (51, 49, None)), None),
        (((50, 48, None), (51, 49, None), (52, 50, None)), None),
        (((50, 48, None), (50.05, 48, None), (50.02, 48.1, None)), 0.05),
        (((50, 48, None), (50.08, 48, None), (50.16, 48.1, None)), 0.16),
        (((50, 48, None), (51, 48, None), (53, 48.1, None)), 3.0),
        (((50, 48, None), (50, None, 46.0), (50, None, 46.1)), None),
        (((50, 48, 46.0), (51, None, None), (53, None, None)), None),
    ],
)
def test_presses_in_vain_are_told_by_peak_and_rest(hits, risen):
    told = risen_in_vain(tuple(Hit(*hit) for hit in hits), rests_count=True)
    assert told == (None if risen is None else pytest.approx(risen))
    assert risen is None or stood_still(risen) == (risen > 0.2)
