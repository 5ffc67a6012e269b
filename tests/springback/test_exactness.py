"""How far the sums' two shortcuts may lie from the exact answer, measured."""

import numpy as np
import pytest

from benchmate.springback import Knowledge, noise
from benchmate.springback.piece import judge, presses
from benchmate.springback.prior import LEGS, LOT, SLACK, STEEL


@pytest.fixture
def ordinary(monkeypatch):
    """Leave out the rare stories: their exact mixture doubles with each bend.

    Drift stays. That it is the random walk that it claims to be is checked in
    tests/published/test_springback_line.py, against scipy's solution of all bends at once.
    """
    for name in ("SLIP_CHANCE", "MISREAD_CHANCE", "JUMP_CHANCE"):
        monkeypatch.setattr(noise, name, 0.0)


def fold_by_scale(shop, bends, monkeypatch):
    """Fold all bends at each scale of scatter alone; weigh the folds by all their evidence."""
    setup, evidence, means, covs = shop.model().setup, [], [], []
    scales, prior = noise.SCALES, noise.SCALE_PRIOR
    for scale in scales:
        with monkeypatch.context() as one:
            one.setattr(noise, "SCALES", np.array([scale]))
            one.setattr(noise, "SCALE_PRIOR", np.array([1.0]))
            known, told = Knowledge(scales=np.array([1.0])), 0.0
            for bend in bends:
                made = presses(bend.hits, rests_count=True)
                told += judge(setup, *known.of(setup), known.scales, made).evidence[0]
                known = known.learn(setup, bend)
            mean, cov = known.of(setup)
        evidence.append(told)
        means.append(mean)
        covs.append(cov)
    weight = prior * np.exp(np.array(evidence) - max(evidence))
    return weight / weight.sum(), means, covs


@pytest.mark.usefixtures("ordinary")
@pytest.mark.parametrize("seed", range(8))
def test_the_scale_s_grid_beside_one_shared_belief_keeps_near_the_full_mixture(
    shop, seed, monkeypatch
):
    # One belief is kept for all scales of scatter, not one each. What that moves is small beside
    # the next bend's own doubt: less than 0.06 degrees and 15 % of its deviation.
    bends = shop.many(16, seed=seed)
    setup, known = shop.model().setup, shop.model().learn(bends).knowledge
    weight, means, covs = fold_by_scale(shop, bends, monkeypatch)
    mean, cov = known.of(setup)
    for angle in (20.0, 90.0, 160.0):
        row = setup.slopes(angle)
        each = np.array([row @ m for m in means])
        pieces = (noise.SCALES * noise.piece_sd(setup.per_degree * angle)) ** 2
        stop = known.stopping.sd**2
        exact = weight @ (np.array([row @ c @ row for c in covs]) + pieces + each**2)
        exact = np.sqrt(exact - (weight @ each) ** 2 + stop)
        ours = np.sqrt(row @ cov @ row + known.scales @ pieces + stop)
        assert row @ mean == pytest.approx(weight @ each, abs=0.06)
        assert ours == pytest.approx(exact, rel=0.15)


@pytest.mark.usefixtures("ordinary")
@pytest.mark.parametrize("measured", [None, 86.2])
def test_a_straight_line_for_the_product_of_angle_and_ratio_costs_a_hundredth(shop, measured):
    # The unshortened model by brute force: a million draws of what is believed, weighed by the
    # readings. Without a protractor the slack leaves the angle as wide open as it ever is.
    setup = shop.model().setup
    peak, rest = 90.3, 88.1
    rng = np.random.default_rng(2)
    draws = setup.mean + setup.sd * rng.standard_normal((1_000_000, 6))
    scale = rng.choice(noise.SCALES, len(draws), p=noise.SCALE_PRIOR)
    made = presses(((peak, rest, measured),), rests_count=True)
    near = rest - setup.mean[SLACK] if measured is None else measured
    stray = scale * noise.piece_sd(setup.per_degree * near) * rng.standard_normal(len(draws))
    zero = noise.ZERO_SD * rng.standard_normal(len(draws))
    stray += zero + noise.ARM_SD * rng.standard_normal(len(draws))
    # The bow's share, 4 %, is left at its mean: it is nothing at 90 degrees.
    ratio = 1 + draws[:, 2] + draws[:, STEEL] + draws[:, LOT]
    legs = setup.legs_deg_per_mm * draws[:, LEGS]
    angle = (peak - draws[:, SLACK] - legs - stray) / (1 + setup.per_degree * ratio)
    off = ((rest - angle - draws[:, SLACK] - zero) / noise.ARM_SD) ** 2
    if measured is not None:
        read_var = noise.READING_SD["protractor"] ** 2 + noise.GAUGE_SD**2
        off += (measured - angle) ** 2 / read_var
    weight = np.exp(-off / 2)
    mean = np.average(angle, weights=weight)
    sd = np.sqrt(np.average((angle - mean) ** 2, weights=weight))
    told = judge(setup, setup.mean, np.diag(setup.sd**2), noise.SCALE_PRIOR, made)
    ours = told.chance @ told.angle
    our_sd = np.sqrt(told.chance @ (told.angle_sd**2 + told.angle**2) - ours**2)
    assert ours == pytest.approx(mean, abs=0.012)
    assert our_sd == pytest.approx(sd, rel=0.02)
