"""Where the box stands on the arm, and the gyro's gain, from the swing that aligned it.

While the arm speeds up and slows down the box shows its own acceleration beside gravity. What of
it lies along gravity changes no angle, so it stands apart, and it is linear in the place sought.
"""

from collections.abc import Callable
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from benchmate.sensing.calibration.error_model import Rows
from benchmate.sensing.filters.kalman import LeverArm

Floats: TypeAlias = NDArray[np.float64]

SLOPE_S = 0.3
"""Span of the cubic that rate and acceleration are read from."""
GYRO_SLOPE_S = 0.1
WIDEST_LEVER_S2 = 1.0 / 9.80665
"""Nobody clamps the box more than about a metre from the pivot: 1 sd beforehand."""
LEAST_DOUBT = 0.02
"""The place is never believed to better than this part of it: arms flex."""
ROUNDS = 4


class SwingRecord(NamedTuple):
    """A swing as it is looked at here: in the swing plane, evenly spaced."""

    dt: float
    plane: Floats
    """(n, 2): the in-plane acceleration [g], the chip's known errors taken out."""
    rate: Floats | None
    """(n,): the gyro's rate about the pivot [rad/s], > 0 while bending; None without one."""
    noise_g: float
    """Of one sample's axis, 1 sd."""


def fit_lever_arm(
    swing: SwingRecord, length_terms: Callable[[Floats], Floats], covariance: Rows
) -> tuple[LeverArm, float]:
    """Give c = (pivot to box) / g [s^2] in the plane's axes, with its covariance, and the length.

    The length is gravity's in-plane part [g], what the swing itself added taken out.
    ``length_terms`` gives for angles [rad] (n,) how far the in-plane length moves with each of
    the chip's terms (n, terms), ``covariance`` what is not known of them.
    """
    unknown = np.array(covariance)
    lever: Floats = np.zeros(2)
    for _ in range(ROUNDS):
        angle, w, wdot, inner = _motion(swing, lever)
        cosine, sine = np.cos(angle), np.sin(angle)
        seen = swing.plane[inner]
        terms = length_terms(angle)
        design = np.column_stack(
            [
                -wdot * sine - w**2 * cosine,
                wdot * cosine - w**2 * sine,
                np.ones_like(angle),
                terms,
            ]
        )
        prior = np.zeros((design.shape[1],) * 2)
        prior[:2, :2] = np.eye(2) / WIDEST_LEVER_S2**2
        prior[3:, 3:] = np.linalg.pinv(unknown, rcond=1e-12)
        solved = np.linalg.inv(design.T @ design / swing.noise_g**2 + prior)
        length = seen[:, 0] * cosine + seen[:, 1] * sine
        lever = (solved @ design.T @ length / swing.noise_g**2)[:2]
    # Terms that are large leave half their square behind, which looks like acceleration too.
    loose = float(np.max(np.sum(terms @ unknown * terms, axis=1))) / 2.0
    floor = (loose / float(np.sqrt(np.mean(wdot**2)))) ** 2
    floor += (LEAST_DOUBT * float(np.hypot(*lever))) ** 2
    spread = (float(solved[0, 0]) + floor, float(solved[0, 1]), float(solved[1, 1]) + floor)
    gravity = float(np.median(length - design[:, :2] @ lever))
    return ((float(lever[0]), float(lever[1])), spread), gravity


def fit_gyro_gain(
    swing: SwingRecord, lever: LeverArm, prior: tuple[float, float], bent: float
) -> tuple[float, float]:
    """Give the gyro's gain, true over shown, and its sd.

    ``prior`` is (gain, sd) beforehand, ``bent`` how far the angle scale may be off over the swing's
    arc, 1 sd, as a part of it.
    """
    if swing.rate is None:
        return prior
    angle, _, _, inner = _motion(swing, np.array(lever[0]))
    shown = np.cumsum(swing.rate)[inner] * swing.dt
    shown = shown - shown.mean()
    gain = float(shown @ (angle - angle.mean()) / (shown @ shown))
    weights = np.array([1.0 / bent**2, 1.0 / prior[1] ** 2])
    return float(weights @ [gain, prior[0]] / weights.sum()), float(weights.sum() ** -0.5)


def _motion(swing: SwingRecord, lever: Floats) -> tuple[Floats, Floats, Floats, slice]:
    """Give angle, rate, acceleration and the samples that they are of: the ends are left out."""
    plane, dt = swing.plane, swing.dt
    half = max(3, round(SLOPE_S / dt / 2))
    inner = slice(half, len(plane) - half)
    if swing.rate is None:
        angle = np.unwrap(np.arctan2(plane[:, 1], plane[:, 0]))
        w, wdot = slopes(angle, dt, half, 1), slopes(angle, dt, half, 2)
    else:
        short = max(3, round(GYRO_SLOPE_S / dt / 2))
        w, wdot = slopes(swing.rate, dt, short, 0), slopes(swing.rate, dt, short, 1)
    quarter = np.array([-lever[1], lever[0]])
    still = plane + wdot[:, None] * quarter + (w**2)[:, None] * lever
    angle = slopes(np.unwrap(np.arctan2(still[:, 1], still[:, 0])), dt, max(3, half // 3), 0)
    if swing.rate is None:
        w, wdot = slopes(angle, dt, half, 1), slopes(angle, dt, half, 2)
    return angle[inner], w[inner], wdot[inner], inner


def slopes(values: Floats, dt: float, half: int, order: int) -> Floats:
    """Give the values' derivative of that order by sliding cubics of 2 half + 1 points.

    A. Savitzky, M. J. E. Golay, "Smoothing and differentiation of data by simplified least
    squares procedures", Analytical Chemistry 36, 1964. Within ``half`` of an end the value
    nearest to it that can be had is repeated.
    """
    steps = np.arange(-half, half + 1) * dt
    weights = np.linalg.pinv(np.vander(steps, 4, increasing=True))[order] * (1, 1, 2)[order]
    middle = np.convolve(values, weights[::-1], mode="valid")
    return np.pad(middle, half, mode="edge")
