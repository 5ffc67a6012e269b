"""The swing's plane against numpy and scipy, the turn's ellipse against scipy."""

import math

import numpy as np
import pytest
from scipy.optimize import least_squares, minimize

from benchmate.sensing import chip_facts
from benchmate.sensing.calibration.error_model import Calibration, from_factory
from benchmate.sensing.calibration.multi_position import fit_terms
from benchmate.sensing.mount.alignment import fit_mount
from benchmate.sensing.sample import Sample, Vector
from benchmate.shop.parts import Sensor

SENSOR = Sensor(chip="adxl355")
FACTS = chip_facts(SENSOR)
PERFECT = Calibration(
    chip="adxl355",
    address=0x1D,
    covariance=tuple(tuple(1e-12 * (i == j) for j in range(9)) for i in range(9)),
)


def swung(seed, lean_deg):
    """Give resting vectors (n, 3) along a slow swing about a leaning axis, and the axis."""
    rng = np.random.default_rng(seed)
    frame = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    lean = math.radians(lean_deg)
    t = np.arange(1500) / 250.0
    angle = np.radians(np.clip((t - 1.0) * 25.0, 0.0, 110.0))
    flat = np.column_stack([np.cos(angle), np.sin(angle), np.full_like(angle, math.tan(lean))])
    felt = math.cos(lean) * flat @ frame + FACTS.accel_noise_g[0] * rng.normal(size=(1500, 3))
    return t, felt, frame[2]


@pytest.mark.parametrize("lean", [0.0, 40.0])
def test_the_plane_is_the_total_least_squares_one(lean):
    """Total least squares: the normal is the eigenvector of the scatter's least eigenvalue
    (G. H. Golub, C. F. Van Loan, "Matrix Computations", section 6.3), here by numpy's eigh; and
    scipy's minimiser over all planes finds the same."""
    t, felt, axis = swung(3, lean)
    samples = [
        Sample(float(s), (i,), accel_g=Vector(*v))
        for i, (s, v) in enumerate(zip(t, felt.tolist(), strict=True))
    ]
    normal = np.array(fit_mount(samples, SENSOR, "", PERFECT).normal)
    centred = felt - felt.mean(axis=0)
    eigen = np.linalg.eigh(centred.T @ centred)[1][:, 0]

    def off_plane(turns):
        u = np.array(
            [
                math.cos(turns[0]) * math.cos(turns[1]),
                math.sin(turns[0]) * math.cos(turns[1]),
                math.sin(turns[1]),
            ]
        )
        return float(np.sum((centred @ u) ** 2))

    start = [math.atan2(axis[1], axis[0]), math.asin(axis[2])]
    turns = minimize(
        off_plane, start, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-16}
    ).x
    searched = np.array(
        [
            math.cos(turns[0]) * math.cos(turns[1]),
            math.sin(turns[0]) * math.cos(turns[1]),
            math.sin(turns[1]),
        ]
    )
    for theirs in (eigen, searched):
        # The fit looks at averages over a tenth of a second, they at every sample.
        assert abs(normal @ theirs) == pytest.approx(1.0, abs=1e-8)


@pytest.mark.parametrize("arc", [360.0, 200.0])
def test_the_ellipse_is_the_one_that_scipy_finds(arc):
    """scipy.optimize.least_squares (Levenberg-Marquardt) on the same misfits, the data sheet's
    spread standing among them as nine more."""
    rng = np.random.default_rng(5)
    prior = from_factory(FACTS).covariance
    spread = np.sqrt(np.diag(np.array(prior)))
    angle = np.radians(np.arange(0.0, arc, arc / 14))
    frame = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    true = np.column_stack([np.cos(angle), np.sin(angle), 0 * angle]) @ frame
    terms = rng.normal(size=9) * spread
    gains = np.eye(3) + np.array(
        [
            [terms[0], terms[3], terms[4]],
            [terms[3], terms[1], terms[5]],
            [terms[4], terms[5], terms[2]],
        ]
    )
    sds = np.full(14, 1e-4)
    shown = true @ gains.T + terms[6:] + sds[:, None] * rng.normal(size=(14, 3))

    def misfits(x):
        g = np.eye(3) + np.array([[x[0], x[3], x[4]], [x[3], x[1], x[5]], [x[4], x[5], x[2]]])
        lengths = np.linalg.norm(np.linalg.solve(g, (shown - x[6:]).T), axis=0)
        return np.concatenate([(lengths - 1.0) / sds, x / spread])

    theirs = least_squares(misfits, np.zeros(9), method="lm", xtol=1e-14, ftol=1e-14)
    ours, covariance, misfit = fit_terms(shown, sds, prior)
    assert ours == pytest.approx(theirs.x, abs=2e-7)
    assert misfit == pytest.approx(float(np.sqrt(np.mean(theirs.fun[:14] ** 2))), rel=1e-4)
    # Theirs is of the terms themselves, ours of what is left after correcting by a few per cent.
    assert covariance == pytest.approx(np.linalg.inv(theirs.jac.T @ theirs.jac), abs=1e-5)
