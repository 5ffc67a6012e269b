"""Propagation of uncertainty: the scatter of the part's ends from that of angles, marks and turns.

Small errors add up linearly through the centreline's Jacobian J (GUM, JCGM 100:2008, 5.1): the
covariance of the last end is J U J', with each bend's bend angle, start and turn independent and
the radius, start offset and stretch common to all.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from benchmate.errors import Refusal
from benchmate.layout.centreline import Array
from benchmate.layout.parameters import BendParameters
from benchmate.layout.tube_layout import TubeLayout

IN_95 = 1.959964
"""95 % two-sided normal quantile."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Spread:
    """One standard deviation of what a person and the setup leave, bend by bend or common."""

    angle_deg: tuple[float, ...]
    mark_mm: float | tuple[float, ...] = 1.0
    """One for all bends, or one a bend; turns too."""
    turn_deg: float | tuple[float, ...] = 1.0
    radius_mm: float = 0.0
    start_offset_mm: float = 0.0
    stretch: float = 0.0

    @classmethod
    def of(cls, parameters: BendParameters, angle_sds_deg: Sequence[float]) -> "Spread":
        """Take the angles' spread as given, and the parameters' own uncertainty."""
        return cls(
            angle_deg=tuple(angle_sds_deg),
            radius_mm=parameters.free_radius_mm.u,
            start_offset_mm=parameters.start_offset_mm.u,
            stretch=parameters.stretch.u,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class EndScatter:
    """Where the last end will lie, 19 times in 20, and which bend has most to do with it."""

    covariance_mm2: Array
    """Of the last end's place, (3, 3), in the first end's frame."""
    off_95_mm: float
    """Distance from its place that the last end stays within."""
    askew_95_deg: float
    """Angle from its direction that the last straight stays within."""
    opening_mm: float
    """Distance between the ends as planned, and how far off it may be."""
    opening_95_mm: float
    shares: tuple[float, ...]
    """Each bend's part of the variance of the last end's place; with the common part, 1."""
    common_share: float
    matters_most: int
    """The bend with the largest share, counted from 1."""


def propagate(part: TubeLayout, spread: Spread) -> EndScatter:
    """Give the spread of the part's last end. Raises Refusal when angles and spreads differ."""
    count = len(part.angles_deg)
    if len(spread.angle_deg) != count:
        raise Refusal(f"{len(spread.angle_deg)} angle spreads for {count} bends; give one a bend")
    at = part.stations()
    slopes, common = _slopes(part, spread, at)
    places, headings = slopes[..., :3], slopes[..., 3:]
    by_bend = np.einsum("kni,knj->nij", places, places)
    shared = np.einsum("ki,kj->ij", common[:, :3], common[:, :3])
    covariance = by_bend.sum(axis=0) + shared
    total = float(np.trace(covariance)) or 1.0
    shares = tuple(float(np.trace(one)) / total for one in by_bend)
    turning = np.einsum("kni,knj->ij", headings, headings) + common[:, 3:].T @ common[:, 3:]
    between = at[-1, :3, 3] - at[0, :3, 3]
    opening = float(np.linalg.norm(between))
    along = between / opening if opening > 0 else np.zeros(3)
    return EndScatter(
        covariance_mm2=covariance,
        off_95_mm=within_95(covariance),
        askew_95_deg=math.degrees(within_95(turning)),
        opening_mm=opening,
        opening_95_mm=IN_95 * math.sqrt(float(along @ covariance @ along)),
        shares=shares,
        common_share=float(np.trace(shared)) / total,
        matters_most=int(np.argmax(shares)) + 1,
    )


def end_covariance(part: TubeLayout, spread: Spread) -> Array:
    """Give the covariance of the last end's place and direction, (6, 6): mm, then radians."""
    slopes, common = _slopes(part, spread, part.stations())
    each = slopes.reshape(-1, 6)
    return np.asarray(each.T @ each + common.T @ common)


def within_95(covariance: Array) -> float:
    """Give the length that a normal vector of this covariance stays within 95 times in 100.

    The squared length is taken as a scaled chi-squared of equal mean and variance (Satterthwaite,
    1946), its quantile by Wilson and Hilferty (1931): within 3 % for any shape of the spread.
    """
    mean = float(np.trace(covariance))
    if mean <= 0:
        return 0.0
    square = float(np.trace(covariance @ covariance))
    freedom = mean**2 / square
    unit = 2 / (9 * freedom)
    return math.sqrt(mean * (1 - unit + 1.644854 * math.sqrt(unit)) ** 3)


def _slopes(part: TubeLayout, spread: Spread, at: Array) -> tuple[Array, Array]:
    """Give how one standard deviation of each error moves and turns the last end.

    First (3, n, 6) for start, turn and angle of each bend, then (3, 6) for radius, start offset and
    stretch; of the six the first three are mm, the others radians. As for a robot's arm: a turn
    swings what lies beyond about the tube, a bend about its own axis; marks stay on the tube, so
    that an arc that uses more leaves less to the straight after it.
    """
    starts, ends = at[1:-1:2, :3], at[2:-1:2, :3]
    before, axis, after = starts[:, :, 0], starts[:, :, 2], ends[:, :, 0]
    place, heading = at[-1, :3, 3], at[-1, :3, 0]
    theta = np.radians(part.angles_deg)[:, None]
    longer = part.stretch * part.radius_mm * after
    still = np.zeros_like(before)
    each = np.array(
        [
            np.concatenate([before - after, still], axis=1),
            _swung(before, place - starts[:, :, 3], heading),
            _swung(axis, place - ends[:, :, 3], heading) + np.concatenate([longer, still], axis=1),
        ]
    )
    marks = np.broadcast_to(np.array(spread.mark_mm), len(theta))
    turns = np.radians(np.broadcast_to(np.array(spread.turn_deg), len(theta)))
    # The first bend's plane is the datum that turns are counted from: it has no error of its own.
    turns[0] = 0.0
    each *= np.stack([marks, turns, np.radians(spread.angle_deg)])[:, :, None]
    across = np.sin(theta) * before + (1 - np.cos(theta)) * starts[:, :, 1]
    wider = (across - (1 - part.stretch) * theta * after).sum(axis=0)
    stretched = (part.radius_mm * theta * after).sum(axis=0)
    common = np.zeros((3, 6))
    common[0, :3] = spread.radius_mm * wider
    common[1, :3] = spread.start_offset_mm * (before - after).sum(axis=0)
    common[2, :3] = spread.stretch * stretched
    return each, common


def _swung(axes: Array, arms: Array, heading: Array) -> Array:
    return np.concatenate([np.cross(axes, arms), np.cross(axes, heading)], axis=1)
