"""One piece on the bender: what its hits say of its bend angle and of the setup's terms.

A hit with peak p leaves the bend angle theta where
    p - e_peak - e_zero = slack + jump + legs + springback(theta) + theta + piece,
    rest     = theta + slack + jump + e_zero + e_rest,
    measured = theta + e_gauge + e_measured.
All is linear in the terms but for springback's product of angle and ratio, which is taken at a
bend angle known to within the slack's standard deviation: the neglected product stays below 0.01
degrees.
"""

from dataclasses import dataclass
from itertools import zip_longest

import numpy as np
from numpy.typing import NDArray

from benchmate.springback import noise
from benchmate.springback.prior import SLACK, Array, Setup

PIECE, ZERO, GAUGE, JUMP = 6, 7, 8, 9
_SHARED = 10


@dataclass(frozen=True, slots=True)
class Press:
    """The hits that left one bend angle: the press that made it, and all readings of it."""

    peak: float
    rests: tuple[float, ...]
    measured: tuple[tuple[float, float], ...]
    """Each with the standard deviation of its reading."""
    arm_sd: float
    """Standard deviation of peak and rest."""


def presses(
    hits: tuple[tuple[float, float | None, float | None], ...],
    how_measured: tuple[str | None, ...] = (),
    arm_sd: float | None = None,
    *,
    rests_count: bool,
) -> list[Press]:
    """Gather hits by the bend angle that they left.

    A press that stops short of an earlier peak bends nothing: its readings are of the angle before.
    """
    made: list[Press] = []
    arm = noise.ARM_SD if arm_sd is None else max(arm_sd, noise.LEAST_ARM_SD)
    for (peak, rest, measured), how in zip_longest(hits, how_measured[: len(hits)]):
        rests = (rest,) if rest is not None and rests_count else ()
        sd = noise.READING_SD.get(how or "protractor", noise.READING_SD["protractor"])
        seen = () if measured is None else ((measured, sd),)
        if made and peak <= made[-1].peak:
            last = made.pop()
            made.append(Press(last.peak, last.rests + rests, last.measured + seen, arm))
        else:
            made.append(Press(peak, rests, seen, arm))
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
    off: Array
    """Under each story, what is odd about the piece [deg]: the angle less what the setup would have
    given; under a wrong reading, that reading less the angle then."""
    off_sd: Array
    """Standard deviation that an ordinary piece would have had there."""
    read: bool = False
    """Whether the angle now was measured."""
    misfit: float = 0.0
    """Squared distance of the readings, in deviations, from what even the likeliest story tells."""

    @property
    def ordinary(self) -> float:
        """Give the chance that this is an ordinary piece of the setup."""
        return float(self.chance[: len(noise.SCALES)].sum())

    @property
    def oddity(self) -> tuple[str, float, float]:
        """Give the likeliest rare story: what, how far off [deg], in how many deviations."""
        story = int(np.argmax(self.chance[len(noise.SCALES) :]))
        at = len(noise.SCALES) + story
        what = (noise.SLIP, noise.JUMP, noise.MISREAD)[min(story, 2)]
        return what, float(self.off[at]), float(self.off[at] / self.off_sd[at])

    @property
    def last_misread(self) -> float:
        """Give the chance that the last reading, and it alone, is wrong; 0 without one."""
        return float(self.chance[-1]) if len(self.chance) > len(noise.SCALES) + 2 else 0.0


def judge(
    setup: Setup, mean: Array, cov: Array, scale_weights: Array, made: list[Press]
) -> PieceBelief:
    """Give the posterior after these presses, from the belief of the six terms."""
    near = [_near(setup, mean, press) for press in made]
    size = _SHARED + len(made)
    offset, rows = np.empty(len(made)), np.zeros((len(made), size))
    for index, (press, angle) in enumerate(zip(made, near, strict=True)):
        steep = setup.arm_per_degree(mean, angle)
        offset[index] = angle + (press.peak - setup.arm_angle(mean, angle)) / steep
        rows[index, :6] = -setup.slopes(angle) / steep
        rows[index, [PIECE, ZERO, JUMP, _SHARED + index]] = -1 / steep
    told = noise.stories(
        scale_weights,
        setup.per_degree * near[-1],
        readings=sum(len(press.measured) for press in made),
    )
    prior = _prior(setup, cov, told, near, made)

    design, gap, own_var, read, room = [], [], [], [], []
    for index, press in enumerate(made):
        rest_var = press.arm_sd**2 + _elastic_var(setup, near[index])
        if press.rests:
            # One arm angle read again has the same error again: rests are averaged, not counted.
            rest = sum(press.rests) / len(press.rests)
            design.append(rows[index] + _unit(size, SLACK, JUMP, ZERO))
            gap.append(rest - offset[index] - mean[SLACK])
            own_var.append(rest_var)
        for measured, sd in press.measured:
            design.append(rows[index] + _unit(size, GAUGE))
            gap.append(measured - offset[index])
            own_var.append(sd**2)
            read.append(len(gap) - 1)
            room.append(press.peak + 4 * np.hypot(press.arm_sd, sd) - measured)
    start = np.zeros(size)
    start[:6] = mean
    lines, gaps = np.array(design).reshape(-1, size), np.array(gap)
    noise_var = np.tile(own_var, (len(prior), 1))
    noise_var[:, read] += told.misread_var
    means, covs, evidence, misfit = condition(start, prior, lines, gaps, noise_var)
    possible = told.chance * _possible(told, np.array(room))
    weight = possible * np.exp(np.minimum(evidence - evidence[possible > 0].max(), 0.0))
    last = rows[-1]
    angle = offset[-1] + (means - start) @ last
    chance = weight / weight.sum()
    usual = slice(0, len(noise.SCALES))
    angle_sd = np.sqrt(np.einsum("i,kij,j->k", last, covs, last))
    expected_var = scale_weights @ np.einsum("i,kij,j->k", last, prior[usual], last)
    off, off_sd = angle - offset[-1], np.full(len(angle), np.sqrt(expected_var))
    for story, line in enumerate(read, start=len(noise.SCALES) + 2):
        off[story] = gaps[line] - lines[line] @ (means[story] - start)
        off_sd[story] = np.sqrt(lines[line] @ covs[story] @ lines[line] + own_var[line])
    return PieceBelief(
        chance=chance,
        mean=means,
        cov=covs,
        evidence=evidence,
        angle=angle,
        angle_sd=angle_sd,
        off=off,
        off_sd=off_sd,
        read=bool(made[-1].measured),
        misfit=float(misfit[np.argmax(chance)]),
    )


def first_press(
    setup: Setup, mean: Array, cov: Array, angle: float, stop_var: float
) -> tuple[float, float, Array]:
    """Give what the first press leaves near ``angle``, at each scale of scatter; as ``next_press``.

    Before it a piece differs from its setup by its scatter alone.
    """
    steep, slopes = setup.arm_per_degree(mean, angle), setup.slopes(angle)
    own = (noise.SCALES * noise.piece_sd(setup.per_degree * angle)) ** 2
    var = float(slopes @ cov @ slopes) + own + noise.ZERO_SD**2 + stop_var
    return angle - setup.arm_angle(mean, angle) / steep, 1 / steep, np.sqrt(var) / steep


def next_press(
    setup: Setup, mean: Array, piece: PieceBelief, angle: float, stop_var: float
) -> tuple[Array, float, Array]:
    """Give what the next press leaves near ``angle``, under each story: offset, slope, sd.

    The bend angle after a peak p is offset + slope p; ``stop_var`` is the variance of the true
    peak about the stop angle.
    """
    steep = setup.arm_per_degree(mean, angle)
    row = np.zeros(piece.mean.shape[1])
    row[:6] = -setup.slopes(angle) / steep
    row[[PIECE, ZERO, JUMP]] = -1 / steep
    start = np.zeros(len(row))
    start[:6] = mean
    offset = angle - setup.arm_angle(mean, angle) / steep + (piece.mean - start) @ row
    var = np.einsum("i,kij,j->k", row, piece.cov, row) + stop_var / steep**2
    return offset, 1 / steep, np.sqrt(var)


def _unit(size: int, *at: int) -> Array:
    row = np.zeros(size)
    row[list(at)] = 1.0
    return row


def _possible(told: noise.Stories, room: Array) -> NDArray[np.bool_]:
    """Say which stories can be, given how far each reading stays below its peak.

    No tube is bent further than the arm went: such a reading is wrong, or the arm's zero is.
    """
    wrong, jump = told.misread_var > 0, told.jump_var > 0
    possible: NDArray[np.bool_] = ((room >= 0) | wrong).all(axis=1) | (jump & (told.chance > 0))
    return possible


def _near(setup: Setup, mean: Array, press: Press) -> float:
    """Give about what bend angle the press left; never more than the arm's.

    A reading that is a wrong one's way off says nothing of where the sums are to be taken.
    """
    angle = setup.bend_angle(mean, press.peak)
    if press.rests:
        angle = press.rests[-1] - float(mean[SLACK])
    if press.measured and abs(press.measured[-1][0] - angle) < noise.MISREAD_SD:
        angle = press.measured[-1][0]
    return max(min(angle, press.peak), 0.0)


def _prior(
    setup: Setup, cov: Array, told: noise.Stories, near: list[float], made: list[Press]
) -> Array:
    size = _SHARED + len(near)
    prior = np.zeros((len(told.chance), size, size))
    prior[:, :6, :6] = cov
    prior[:, PIECE, PIECE] = told.piece_var
    prior[:, ZERO, ZERO] = noise.ZERO_SD**2
    prior[:, GAUGE, GAUGE] = noise.GAUGE_SD**2
    prior[:, JUMP, JUMP] = told.jump_var
    for index, (angle, press) in enumerate(zip(near, made, strict=True)):
        at = _SHARED + index
        prior[:, at, at] = press.arm_sd**2 + _elastic_var(setup, angle)
    return prior


def _elastic_var(setup: Setup, angle: float) -> float:
    """Say how little a press tells that hardly left the elastic zone: its moment isn't yet full."""
    legs = setup.legs_deg_per_mm * setup.die.for_od_mm
    return float((4 * legs) ** 2 * np.exp(-max(angle, 0.0) / 1.5))


def condition(
    start: Array, prior: Array, design: Array, gap: Array, noise_var: Array
) -> tuple[Array, Array, Array, Array]:
    """Condition each story's belief on the readings.

    Give means, covariances, log densities of the readings, and their squared distances from what
    was believed, in standard deviations.
    """
    stories = len(prior)
    if not len(gap):
        return np.tile(start, (stories, 1)), prior, np.zeros(stories), np.zeros(stories)
    cross = prior @ design.T
    spread = design @ cross
    diagonal = np.arange(len(gap))
    spread[:, diagonal, diagonal] += noise_var
    gain = np.linalg.solve(spread, cross.transpose(0, 2, 1)).transpose(0, 2, 1)
    covs = prior - gain @ cross.transpose(0, 2, 1)
    _, logdet = np.linalg.slogdet(spread)
    scaled = np.linalg.solve(spread, np.broadcast_to(gap[:, None], (stories, len(gap), 1)))
    misfit = np.einsum("i,ki->k", gap, scaled[:, :, 0])
    evidence = -0.5 * (logdet + misfit)
    return start + gain @ gap, (covs + covs.transpose(0, 2, 1)) / 2, evidence, misfit
