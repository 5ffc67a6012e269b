"""One piece on the bender: what its hits say of its bend angle and of the setup's terms.

A hit with peak p leaves the bend angle theta where
    p - e_peak - e_zero = slack + jump + legs + springback(theta) + theta + piece,
    rest     = theta + slack + jump + e_zero + e_rest,
    measured = theta + e_gauge + e_measured.
All is linear in the terms but for springback's product of angle and ratio, which is taken at a
bend angle known to within the slack's doubt: the neglected product stays below 0.01 degrees.
"""

from dataclasses import dataclass

import numpy as np

from benchmate.springback import noise
from benchmate.springback.prior import SLACK, Array, Setup

PIECE, ZERO, GAUGE, JUMP = 6, 7, 8, 9
_SHARED = 10


@dataclass(frozen=True, slots=True)
class Press:
    """The hits that left one bend angle: the press that made it, and all readings of it."""

    peak: float
    rests: tuple[float, ...]
    measured: tuple[float, ...]


def presses(
    hits: tuple[tuple[float, float | None, float | None], ...], *, rests_count: bool
) -> list[Press]:
    """Gather hits by the bend angle that they left.

    A press that stops short of an earlier peak bends nothing: its readings are of the angle before.
    """
    made: list[Press] = []
    for peak, rest, measured in hits:
        rests = (rest,) if rest is not None and rests_count else ()
        seen = () if measured is None else (measured,)
        if made and peak <= made[-1].peak:
            last = made.pop()
            made.append(Press(last.peak, last.rests + rests, last.measured + seen))
        else:
            made.append(Press(peak, rests, seen))
    return made


@dataclass(frozen=True, slots=True)
class PieceBelief:
    """The posterior of a piece under each story.

    ``mean`` (stories, terms) and ``cov`` (stories, terms, terms) are over the six terms of the
    setup, the piece's own and the errors; ``chance`` is the weight of each story, ``evidence`` the
    log density of the readings under it, ``angle`` and ``angle_sd`` the bend angle now.
    """

    chance: Array
    mean: Array
    cov: Array
    evidence: Array
    angle: Array
    angle_sd: Array
    off_deg: float = 0.0
    """The bend angle now less what the setup alone would have given."""
    off_sds: float = 0.0
    """The same in standard deviations of what was expected of an ordinary piece."""

    @property
    def ordinary(self) -> float:
        """Give the chance that this is an ordinary piece of the setup."""
        return float(self.chance[: len(noise.SCALES)].sum())


def judge(
    setup: Setup, mean: Array, cov: Array, scale_weights: Array, made: list[Press]
) -> PieceBelief:
    """Give the posterior after these presses, from the belief of the six terms."""
    near = [_near(setup, mean, press) for press in made]
    size = _SHARED + len(made)
    offset, rows = np.empty(len(made)), np.zeros((len(made), size))
    for index, (press, angle) in enumerate(zip(made, near, strict=True)):
        steep = setup.arm_per_degree(mean, angle)
        gap = press.peak - setup.arm_angle(mean, angle)
        offset[index] = angle + gap / steep
        rows[index, :6] = -setup.slopes(angle) / steep
        rows[index, [PIECE, ZERO, JUMP, _SHARED + index]] = -1 / steep
    told = noise.stories(
        scale_weights,
        setup.per_degree * max(near[-1], 0.0),
        measured=any(press.measured for press in made),
    )
    prior = _prior(setup, cov, told, near)

    design, expected, seen, is_measured = [], [], [], []
    for index, press in enumerate(made):
        for rest in press.rests:
            row = rows[index].copy()
            row[[SLACK, JUMP, ZERO]] += 1
            design.append(row)
            expected.append(offset[index] + mean[SLACK])
            seen.append(rest)
            is_measured.append(False)
        for measured in press.measured:
            row = rows[index].copy()
            row[GAUGE] += 1
            design.append(row)
            expected.append(offset[index])
            seen.append(measured)
            is_measured.append(True)
    start = np.zeros(size)
    start[:6] = mean
    means, covs, evidence = _condition(
        start,
        prior,
        np.array(design).reshape(-1, size),
        np.array(seen) - np.array(expected),
        np.where(np.array(is_measured, dtype=bool), told.measured_var[:, None], noise.REST_SD**2),
    )
    weight = told.chance * np.exp(evidence - evidence.max())
    last = rows[-1]
    angle = offset[-1] + (means - start) @ last
    chance = weight / weight.sum()
    usual = slice(0, len(noise.SCALES))
    expected_var = scale_weights @ np.einsum("i,kij,j->k", last, prior[usual], last)
    off = float(chance @ angle - offset[-1])
    return PieceBelief(
        chance=chance,
        mean=means,
        cov=covs,
        evidence=evidence,
        angle=angle,
        angle_sd=np.sqrt(np.einsum("i,kij,j->k", last, covs, last)),
        off_deg=off,
        off_sds=off / float(np.sqrt(expected_var)),
    )


def unbent(
    setup: Setup, mean: Array, cov: Array, scale_weights: Array, angle: float
) -> PieceBelief:
    """Give the belief before any press, ordinary stories alone, for a bend of about this angle."""
    told = noise.stories(scale_weights, setup.per_degree * angle, measured=False)
    usual = slice(0, len(noise.SCALES))
    prior = _prior(setup, cov, told, [])[usual]
    start = np.zeros(_SHARED)
    start[:6] = mean
    nothing = np.zeros(len(prior))
    chance = told.chance[usual] / told.chance[usual].sum()
    return PieceBelief(
        chance=chance,
        mean=np.tile(start, (len(prior), 1)),
        cov=prior,
        evidence=nothing,
        angle=nothing,
        angle_sd=nothing,
    )


def next_press(
    setup: Setup, mean: Array, piece: PieceBelief, angle: float, stop_var: float
) -> tuple[Array, float, Array]:
    """Give what the next press leaves near ``angle``, under each story: offset, slope, sd.

    The bend angle after a peak p is offset + slope p; ``stop_var`` is the variance of the peak
    about the stop angle.
    """
    steep = setup.arm_per_degree(mean, angle)
    row = np.zeros(piece.mean.shape[1])
    row[:6] = -setup.slopes(angle) / steep
    row[[PIECE, ZERO, JUMP]] = -1 / steep
    start = np.zeros(len(row))
    start[:6] = mean
    offset = angle - setup.arm_angle(mean, angle) / steep + (piece.mean - start) @ row
    var = np.einsum("i,kij,j->k", row, piece.cov, row) + (stop_var + noise.PEAK_SD**2) / steep**2
    return offset, 1 / steep, np.sqrt(var)


def _near(setup: Setup, mean: Array, press: Press) -> float:
    if press.measured:
        return press.measured[-1]
    angle = (
        press.rests[-1] - float(mean[SLACK]) if press.rests else setup.bend_angle(mean, press.peak)
    )
    return max(angle, 0.0)


def _prior(setup: Setup, cov: Array, told: noise.Stories, near: list[float]) -> Array:
    size = _SHARED + len(near)
    prior = np.zeros((len(told.chance), size, size))
    prior[:, :6, :6] = cov
    prior[:, PIECE, PIECE] = told.piece_var
    prior[:, ZERO, ZERO] = noise.ZERO_SD**2
    prior[:, GAUGE, GAUGE] = noise.GAUGE_SD**2
    prior[:, JUMP, JUMP] = told.jump_var
    for index, angle in enumerate(near):
        at = _SHARED + index
        prior[:, at, at] = noise.PEAK_SD**2 + _elastic_var(setup, angle)
    return prior


def _elastic_var(setup: Setup, angle: float) -> float:
    """Say how little a press tells that hardly left the elastic zone: its moment isn't yet full."""
    legs = setup.legs_deg_per_mm * setup.die.for_od_mm
    return float((4 * legs) ** 2 * np.exp(-max(angle, 0.0) / 1.5))


def _condition(
    start: Array, prior: Array, design: Array, gap: Array, noise_var: Array
) -> tuple[Array, Array, Array]:
    """Condition each story's belief on the readings; give means, covariances, log densities."""
    stories = len(prior)
    if not len(gap):
        return np.tile(start, (stories, 1)), prior, np.zeros(stories)
    cross = prior @ design.T
    spread = design @ cross
    diagonal = np.arange(len(gap))
    spread[:, diagonal, diagonal] += noise_var
    gain = np.linalg.solve(spread, cross.transpose(0, 2, 1)).transpose(0, 2, 1)
    covs = prior - gain @ cross.transpose(0, 2, 1)
    _, logdet = np.linalg.slogdet(spread)
    scaled = np.linalg.solve(spread, np.broadcast_to(gap[:, None], (stories, len(gap), 1)))
    evidence = -0.5 * (logdet + np.einsum("i,ki->k", gap, scaled[:, :, 0]))
    return start + gain @ gap, (covs + covs.transpose(0, 2, 1)) / 2, evidence
