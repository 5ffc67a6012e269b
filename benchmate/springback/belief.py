"""What the bench believes of a setup, in the trade's words and units."""

import math
from dataclasses import dataclass

import numpy as np

from benchmate.springback import noise
from benchmate.springback.knowledge import Knowledge, Outlier
from benchmate.springback.prior import DIE, LEGS, LOT, SLACK, STEEL, Array, Setup


@dataclass(frozen=True, slots=True)
class Figure:
    """A number, its standard deviation, and the bends behind it (outliers count in part)."""

    value: float
    sd: float
    bends: float


@dataclass(frozen=True, slots=True)
class Belief:
    """All that is believed of one setup. Degrees, mm and ratios."""

    slack_deg: Figure
    legs_deg: Figure
    """Springback of the legs: the part that doesn't grow with the angle."""
    springback_90_deg: Figure
    """Peak less rest of a bend of 90 degrees, legs included."""
    free_radius_mm: Figure
    """Centreline radius after release."""
    steel_ratio: Figure
    """Springback of the steel over what its strengths say: 0.1 is a tenth more."""
    lot_ratio: Figure
    """The same of this lot over its steel."""
    die_ratio: Figure
    """The same of this die over others."""
    scatter_deg: Figure
    """Standard deviation of single pieces of 90 degrees about their setup."""
    stopping_deg: Figure
    """How far past the stop angle the person stops: mean, and scatter as the deviation."""
    drift_deg: Figure | None
    """Slack now less slack when the die had settled in; None before enough bends."""
    outliers: tuple[Outlier, ...]
    """The last bends on this die, tube and lot that disagreed with all that was known."""


@dataclass(frozen=True, slots=True)
class Curve:
    """Springback against bend angle: the line and its standard deviation. Degrees, arrays alike."""

    angle: Array
    springback: Array
    line_sd: Array
    """Of the line itself."""
    bend_sd: Array
    """Of the next piece about it, line and scatter together."""


def believed(knowledge: Knowledge, setup: Setup) -> Belief:
    """Give what the knowledge says of the setup."""
    mean, cov = knowledge.of(setup)
    keys, counts = setup.keys, knowledge.counts

    def figure(weights: Array, add: float, behind: int) -> Figure:
        value = add + float(weights @ mean)
        sd = math.sqrt(float(weights @ cov @ weights))
        return Figure(value, sd, counts.get(keys[behind], 0.0))

    unit = np.eye(6)
    ratio = unit[DIE] + unit[STEEL] + unit[LOT]
    radius, arc = setup.die.centreline_radius_mm, 90 * setup.per_degree
    spring = setup.slopes(90.0)
    spring[SLACK] = 0.0
    at_90 = figure(spring, arc, LOT)
    piece = noise.SCALES * noise.piece_sd(at_90.value)
    scatter = float(knowledge.scales @ piece)
    return Belief(
        slack_deg=figure(unit[SLACK], 0.0, SLACK),
        legs_deg=figure(setup.legs_deg_per_mm * unit[LEGS], 0.0, LEGS),
        springback_90_deg=at_90,
        free_radius_mm=figure(
            radius * setup.per_degree * ratio, radius * (1 + setup.per_degree), LOT
        ),
        steel_ratio=figure(unit[STEEL], 0.0, STEEL),
        lot_ratio=figure(unit[LOT], 0.0, LOT),
        die_ratio=figure(unit[DIE], 0.0, DIE),
        scatter_deg=Figure(
            scatter,
            math.sqrt(max(float(knowledge.scales @ piece**2) - scatter**2, 0.0)),
            knowledge.bends,
        ),
        stopping_deg=Figure(
            knowledge.stopping.mean, knowledge.stopping.sd, knowledge.stopping.stops
        ),
        drift_deg=_drift(knowledge, setup),
        outliers=tuple(
            outlier
            for outlier in knowledge.outliers
            if (outlier.die, outlier.tube, outlier.lot)
            == (setup.die.die, setup.tube.tube, setup.lot)
        ),
    )


def springback_curve(knowledge: Knowledge, setup: Setup, angles: Array) -> Curve:
    """Give the springback believed at each bend angle, with its standard deviation."""
    mean, cov = knowledge.of(setup)
    slopes = np.array([setup.slopes(angle) for angle in angles])
    slopes[:, SLACK] = 0.0
    springback = setup.per_degree * angles + slopes @ mean
    line_var = np.einsum("ki,ij,kj->k", slopes, cov, slopes)
    scale_var = float(knowledge.scales @ noise.SCALES**2)
    piece_var = scale_var * np.array([noise.piece_sd(each) for each in springback]) ** 2
    return Curve(angles, springback, np.sqrt(line_var), np.sqrt(line_var + piece_var))


def _drift(knowledge: Knowledge, setup: Setup) -> Figure | None:
    key = setup.keys[SLACK]
    if key not in knowledge.settled:
        return None
    then, sd_then = knowledge.settled[key]
    at = knowledge.index[key]
    sd = math.sqrt(float(knowledge.cov[at, at]) + sd_then**2)
    return Figure(float(knowledge.mean[at]) - then, sd, knowledge.counts[key])
