"""The learning held to general-purpose statistics on the same data.

The rare stories and the scale's grid are switched off where an oracle knows none of them; what is
left is a Bayesian straight line, which has published answers, and its drift, a random walk.
"""

import numpy as np
import pytest
from scipy import stats
from scipy.linalg import block_diag, cho_factor, cho_solve
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, DotProduct

from benchmate.shop.parts import Arm, Bench, Die, Sensor, Tube
from benchmate.springback import Bend, Knowledge, knowledge, noise
from benchmate.springback.piece import condition
from benchmate.springback.prior import DRIFT_SD, Setup
from benchmate.springback.stopping import Stopping

BENCH = Bench(bench="west-wall", sensor=Sensor(chip="as5600"), arm=Arm(radius_mm=80))
DIE = Die(die="round-25", for_od_mm=25.0, centreline_radius_mm=75.0, max_angle_deg=180)
TUBES = [
    Tube(
        tube=name,
        od_mm=25.0,
        wall_mm=wall,
        grade=grade,
        yield_strength_mpa=strength,
        tensile_strength_mpa=1.3 * strength,
    )
    for name, wall, grade, strength in (("a", 2.0, "E235", 235.0), ("b", 2.5, "E355", 355.0))
]


def test_the_update_gives_the_textbook_s_bayesian_line():
    # C. Bishop, Pattern Recognition and Machine Learning, 3.50-3.51 and 3.58-3.59, on four bends:
    # overbend against angle/90, prior [0.5, 1.8] with variances [0.25, 0.36], noise 0.25. The
    # figures come from scikit-learn's GaussianProcessRegressor, the same line as a kernel.
    angle = np.array([30.0, 60.0, 90.0, 120.0]) / 90
    overbend = np.array([1.2, 1.7, 2.5, 3.1])
    design = np.column_stack([np.ones(4), angle])
    mean, cov = np.array([0.5, 1.8]), np.diag([0.25, 0.36])
    means, covs, evidence, _ = condition(
        mean, cov[None], design, overbend - design @ mean, np.full((1, 4), 0.25**2)
    )
    kernel = ConstantKernel(0.36, "fixed") * DotProduct(sigma_0=5 / 6, sigma_0_bounds="fixed")
    oracle = GaussianProcessRegressor(kernel, alpha=0.25**2, optimizer=None)
    oracle.fit(angle[:, None], overbend - design @ mean)
    for at in (0.5, 1.0, 1.8):
        row = np.array([1.0, at])
        gap, sd = oracle.predict(np.array([[at]]), return_std=True)
        assert row @ means[0] == pytest.approx(gap[0] + row @ mean, abs=1e-9)
        assert np.sqrt(row @ covs[0] @ row) == pytest.approx(sd[0], abs=1e-9)
    density = stats.multivariate_normal(
        design @ mean, design @ cov @ design.T + 0.25**2 * np.eye(4)
    )
    constant = -0.5 * 4 * np.log(2 * np.pi)
    assert evidence[0] + constant == pytest.approx(density.logpdf(overbend), abs=1e-9)


@pytest.fixture
def plain(monkeypatch):
    """Leave the one ordinary story, at scale 1."""
    monkeypatch.setattr(noise, "SCALES", np.array([1.0]))
    monkeypatch.setattr(noise, "SCALE_PRIOR", np.array([1.0]))
    for name in ("SLIP_CHANCE", "MISREAD_CHANCE", "JUMP_CHANCE"):
        monkeypatch.setattr(noise, name, 0.0)


def bends(count):
    rng = np.random.default_rng(5)
    made = []
    for _ in range(count):
        tube, lot = TUBES[rng.integers(2)], "AB"[rng.integers(2)]
        angle = float(rng.uniform(20, 170))
        stray = rng.normal(0, 0.15, 2)
        peak = 1.1 + 0.3 + angle * 1.021 + stray[0]
        rest = None if rng.random() < 0.3 else angle + 1.1 + stray[1]
        measured = angle + rng.normal(0, 0.12)
        made.append(
            Bend(die=DIE, tube=tube, lot=lot, bend_angle=angle, hits=((peak, rest, measured),))
        )
    return made


def dense(made, drift_sd):
    """All bends at once: one joint normal of terms, pieces, errors and readings, solved by scipy.

    Drift is a random walk: each bend of a term already met adds a step of its own, an unknown like
    the terms, and the term as it is now is its first value and all its steps. The springback's
    product of angle and ratio is taken at the measured angle, as the fold does; everything else is
    written anew from the equations of one hit.
    """
    setups = [Setup(BENCH, bend.die, bend.tube, bend.lot) for bend in made]
    keys = list(dict.fromkeys(key for setup in setups for key in setup.keys))
    prior_mean, prior_var, parts = [], [], {key: [] for key in keys}
    rows, seen, blocks = [], [], []

    def unknown(key, mean, variance):
        parts[key].append(len(prior_mean))
        prior_mean.append(mean)
        prior_var.append(variance)

    def now():
        """Give mean and covariance of the terms as they are now."""
        summed = np.zeros((len(keys), len(prior_mean)))
        for place, key in enumerate(keys):
            summed[place, parts[key]] = 1
        mean, cov = solve(np.array(prior_mean), np.array(prior_var), rows, seen, blocks)
        return summed @ mean, summed @ cov @ summed.T

    for setup, bend in zip(setups, made, strict=True):
        for key, mean, sd, step in zip(setup.keys, setup.mean, setup.sd, drift_sd, strict=True):
            if not parts[key]:
                unknown(key, mean, sd**2)
            elif step:
                unknown(key, 0.0, step**2)
        peak, rest, measured = bend.hits[0]
        believed = now()[0]
        terms = np.array([believed[keys.index(key)] for key in setup.keys])
        # Slope and working point as one known number each: the mean believed before this bend.
        steep = setup.arm_per_degree(terms, measured)
        slopes = -setup.slopes(measured) / steep
        row = {
            at: slope for key, slope in zip(setup.keys, slopes, strict=True) for at in parts[key]
        }
        start = measured + (peak - setup.arm_angle(terms, measured)) / steep - slopes @ terms
        springback = setup.per_degree * measured
        own = noise.PIECE_DEG**2 + (noise.PIECE_SHARE * springback) ** 2
        own += noise.ARM_SD**2 + (4 * setup.legs_deg_per_mm * 25.0) ** 2 * np.exp(-measured / 1.5)
        angle_var = (own + noise.ZERO_SD**2) / steep**2
        gauge = noise.READING_SD["protractor"] ** 2 + noise.GAUGE_SD**2
        these, values = [row], [measured - start]
        block = np.array([[angle_var + gauge]])
        if rest is not None:
            slack = set(parts[setup.keys[0]])
            these.append({at: slope + (at in slack) for at, slope in row.items()})
            values.append(rest - start)
            shared = angle_var - noise.ZERO_SD**2 / steep
            elastic = (4 * setup.legs_deg_per_mm * 25.0) ** 2 * np.exp(-measured / 1.5)
            alone = (own + noise.ZERO_SD**2 * (1 - steep) ** 2) / steep**2
            alone += noise.ARM_SD**2 + elastic
            block = np.array([[angle_var + gauge, shared], [shared, alone]])
        rows += these
        seen += values
        blocks.append(block)
    return keys, now()


def solve(prior_mean, prior_var, rows, seen, blocks):
    """Weighted least squares with a prior, by scipy's Cholesky solver on the information matrix."""
    if not rows:
        return prior_mean, np.diag(prior_var)
    design = np.zeros((len(rows), len(prior_mean)))
    for place, row in enumerate(rows):
        design[place, list(row)] = list(row.values())
    weighted = np.linalg.solve(block_diag(*blocks), design)
    information = np.diag(1 / prior_var) + design.T @ weighted
    factor = cho_factor(information)
    mean = cho_solve(factor, prior_mean / prior_var + weighted.T @ np.array(seen))
    return mean, cho_solve(factor, np.eye(len(prior_mean)))


@pytest.mark.usefixtures("plain")
@pytest.mark.parametrize("times", [0.0, 1.0, 30.0], ids=["no drift", "drift", "much drift"])
def test_the_fold_over_dies_steels_and_lots_is_scipy_s_dense_solution(times, monkeypatch):
    # scipy.linalg, all 25 bends and every step of the drift in one information matrix: without
    # drift, with it, and with so much that an error in it would show. Agreement reached: 1e-9.
    drift_sd = tuple(times * sd for sd in DRIFT_SD)
    monkeypatch.setattr(knowledge, "DRIFT_SD", drift_sd)
    made = bends(25)
    known = Knowledge(scales=np.array([1.0]))
    for bend in made:
        known = known.learn(Setup(BENCH, bend.die, bend.tube, bend.lot), bend)
    keys, (mean, cov) = dense(made, drift_sd)
    order = [known.index[key] for key in keys]
    scale = np.sqrt(np.diag(cov))
    assert (known.mean[order] - mean) / scale == pytest.approx(np.zeros(len(keys)), abs=1e-9)
    assert known.cov[np.ix_(order, order)] / np.outer(scale, scale) == pytest.approx(
        cov / np.outer(scale, scale), abs=1e-9
    )


def test_the_stopping_error_is_the_conjugate_normal_s():
    # A. Gelman and others, Bayesian Data Analysis, normal with unknown mean and variance: the
    # posterior after all stops at once. Within the memory the fold is the same, stop by stop.
    errors = np.array([0.3, -0.1, 0.25, 0.4, 0.1, 0.2, -0.05])
    fold = Stopping()
    for error in errors:
        fold = fold.learn(float(error))
    start, n = Stopping(), len(errors)
    count = start.count + n
    mean = n * errors.mean() / count
    squares = start.squares + ((errors - errors.mean()) ** 2).sum()
    squares += start.count * n / count * errors.mean() ** 2
    assert fold.mean == pytest.approx(mean, rel=1e-12)
    assert fold.count == count
    assert fold.squares == pytest.approx(squares, rel=1e-12)
