"""The part's centreline: straight, turn, bend, straight ... tail; to points in space and back.

The frame that travels along the part has x along the tube from the first end to the last, y
towards the side that the bend goes to, z = x cross y the bend's axis. A straight moves along x, a
turn rotates the frame right-handed about x, a bend rotates it right-handed about z on an arc of the
free radius.
The tube is fed first end ahead, so that turning the *tube* right-handed about the feed turns the
*plane of the next bend* right-handed about x by the same number.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from benchmate.errors import Refusal

Array = npt.NDArray[np.float64]
Numbers = Sequence[float] | Array

STRAIGHT_ENOUGH_DEG = 0.01
"""Three points whose direction changes by less than this stand in one line."""


@dataclass(frozen=True, slots=True)
class Centreline:
    """A part's centreline: n bends, n + 1 straights (the last is the tail), one free radius.

    Straights run tangent point to tangent point, mm; one may be negative where arcs overlap (such a
    part can't be made, but its geometry is defined). Turns and bend angles are degrees, turns
    right-handed, bend angles over 0 up to 180. ``radius_mm`` is the centreline radius after
    springback.
    """

    straights_mm: tuple[float, ...]
    turns_deg: tuple[float, ...]
    angles_deg: tuple[float, ...]
    radius_mm: float

    def __post_init__(self) -> None:
        """Refuse what can't be one."""
        if not len(self.straights_mm) == len(self.angles_deg) + 1 == len(self.turns_deg) + 1:
            raise Refusal(
                f"{len(self.straights_mm)} straights, {len(self.turns_deg)} turns and"
                f" {len(self.angles_deg)} bend angles make no part:"
                " give a turn for each bend and one straight more than bends"
            )
        numbers = (*self.straights_mm, *self.turns_deg, *self.angles_deg, self.radius_mm)
        if not all(map(math.isfinite, numbers)):
            raise Refusal(
                "a straight, turn, bend angle or radius isn't a number; write all as numbers"
            )
        if self.radius_mm <= 0:
            raise Refusal(f"a free radius of {self.radius_mm:g} mm; it must be above 0")
        for bend, angle in enumerate(self.angles_deg, start=1):
            if not 0 < angle <= 180:
                raise Refusal(
                    f"bend {bend}: a bend angle of {angle:g} deg; it must be above 0, up to 180"
                )

    def reversed(self) -> "Centreline":
        """Give the same part from its other end: a turn keeps its sign, as a screw its hand."""
        return Centreline(
            straights_mm=self.straights_mm[::-1],
            turns_deg=(0.0, *self.turns_deg[:0:-1]) if self.turns_deg else (),
            angles_deg=self.angles_deg[::-1],
            radius_mm=self.radius_mm,
        )

    @property
    def arcs_mm(self) -> tuple[float, ...]:
        """Length of each arc along the bent centreline."""
        return tuple(self.radius_mm * math.radians(angle) for angle in self.angles_deg)


def frames(centreline: Centreline) -> Array:
    """Give the travelling frame at each station, (2 n + 2, 4, 4): rotation and place in mm.

    Stations: the first end, then start and end of each bend, then the last end. The frame at a
    start of bend has made its turn already. The first frame is the identity.
    """
    return walk(
        centreline.straights_mm, centreline.turns_deg, centreline.angles_deg, centreline.radius_mm
    )


def walk(straights_mm: Numbers, turns_deg: Numbers, angles_deg: Numbers, radius_mm: float) -> Array:
    """Give what ``frames`` gives, (..., 2 n + 2, 4, 4), from bare numbers for many parts at once.

    Straights are (..., n + 1), turns and bend angles (..., n) with equal leading shapes. Nothing is
    checked: angles may stray past 0 or 180, as they do while something is being solved for.
    """
    straights = np.asarray(straights_mm, dtype=float)
    turned = _about(np.radians(np.asarray(turns_deg, dtype=float)), axis=0)
    theta = np.radians(np.asarray(angles_deg, dtype=float))
    steps = turned @ _about(theta, axis=2)
    *many, count = theta.shape
    after = np.empty((*many, count + 1, 3, 3))
    after[..., 0, :, :] = np.eye(3)
    for bend in range(count):
        np.matmul(after[..., bend, :, :], steps[..., bend, :, :], out=after[..., bend + 1, :, :])
    at_start = after[..., :-1, :, :] @ turned
    arcs = np.stack([np.sin(theta), 1 - np.cos(theta), np.zeros_like(theta)], axis=-1)
    moves = np.empty((*many, 2 * count + 1, 3))
    moves[..., 0::2, :] = after[..., 0] * straights[..., None]
    moves[..., 1::2, :] = radius_mm * (at_start @ arcs[..., None])[..., 0]
    stations = np.zeros((*many, 2 * count + 2, 4, 4))
    stations[..., 3, 3] = 1
    stations[..., 1:, :3, 3] = np.cumsum(moves, axis=-2)
    stations[..., 0:-1:2, :3, :3] = after
    stations[..., 1:-1:2, :3, :3] = at_start
    stations[..., -1, :3, :3] = after[..., -1, :, :]
    return stations


def tangent_mm(radius_mm: float, angle_deg: float) -> float:
    """Give T = R tan(theta / 2), from a tangent point to where the two straights would meet."""
    return radius_mm * math.tan(math.radians(angle_deg) / 2)


def points(centreline: Centreline) -> Array:
    """Give the part's ends and the points in which its straights would meet, (n + 2, 3), mm.

    Raises Refusal for a bend of 180 degrees: its straights run side by side and meet nowhere.
    """
    for bend, angle in enumerate(centreline.angles_deg, start=1):
        if angle > 180 - STRAIGHT_ENOUGH_DEG:
            raise Refusal(
                f"bend {bend} of {angle:g} deg has no point where its straights meet;"
                " a part with such a bend can only be written as bends"
            )
    at = frames(centreline)
    starts = at[1:-1:2]
    reach = np.array([tangent_mm(centreline.radius_mm, angle) for angle in centreline.angles_deg])
    corners = starts[:, :3, 3] + reach[:, None] * starts[:, :3, 0]
    return np.concatenate([at[:1, :3, 3], corners, at[-1:, :3, 3]])


def from_points(points_mm: Sequence[Sequence[float]] | Array, radius_mm: float) -> Centreline:
    """Give the centreline whose straights meet in these points, (m, 3) in mm.

    Arcs are of this radius, the free one. The first bend's turn is the datum, 0; the others lie
    over -180 up to 180. Straights come out negative where the arcs need more tube than there is.
    Raises Refusal for fewer than three points, two in one place, three in one line, and a leg that
    doubles straight back.
    """
    given = np.asarray(points_mm, dtype=float)
    if given.ndim != 2 or given.shape[1] != 3 or len(given) < 3:
        raise Refusal("a part takes three points or more, each of three numbers [x, y, z]")
    if not np.isfinite(given).all():
        raise Refusal("a point holds something that isn't a number; write [x, y, z] in mm")
    legs = np.diff(given, axis=0)
    lengths = np.linalg.norm(legs, axis=1)
    for leg, length in enumerate(lengths, start=1):
        if length < 1e-6:
            raise Refusal(f"points {leg} and {leg + 1} are in one place; leave one of them out")
    along = legs / lengths[:, None]
    axes = np.cross(along[:-1], along[1:])
    angles = np.degrees(
        np.arctan2(np.linalg.norm(axes, axis=1), np.einsum("ij,ij->i", along[:-1], along[1:]))
    )
    _refuse_straight_or_back(angles)
    axes /= np.linalg.norm(axes, axis=1)[:, None]
    sines = np.einsum("ij,ij->i", np.cross(axes[:-1], axes[1:]), along[1:-1])
    turns = np.degrees(np.arctan2(sines, np.einsum("ij,ij->i", axes[:-1], axes[1:])))
    reach = np.array([0.0, *(tangent_mm(radius_mm, float(angle)) for angle in angles), 0.0])
    return Centreline(
        straights_mm=_floats(lengths - reach[:-1] - reach[1:]),
        turns_deg=(0.0, *(half_open_turn(float(turn)) for turn in turns)),
        angles_deg=_floats(angles),
        radius_mm=float(radius_mm),
    )


def half_open_turn(turn_deg: float) -> float:
    """Give the same turn over -180 up to 180."""
    turn = math.remainder(turn_deg, 360.0)
    return 180.0 if turn <= -180.0 + 1e-9 else turn + 0.0


def _refuse_straight_or_back(angles_deg: Array) -> None:
    for corner, angle in enumerate(angles_deg, start=2):
        three = f"points {corner - 1}, {corner} and {corner + 1}"
        if angle < STRAIGHT_ENOUGH_DEG:
            raise Refusal(f"{three} stand in one line; leave point {corner} out")
        if angle > 180 - STRAIGHT_ENOUGH_DEG:
            raise Refusal(
                f"{three} double straight back: a bend of 180 deg has no point where its straights"
                " meet; write the part as bends"
            )


def _about(radians: Array, axis: int) -> Array:
    one, two = (axis + 1) % 3, (axis + 2) % 3
    turned = np.zeros((*radians.shape, 3, 3))
    cosine, sine = np.cos(radians), np.sin(radians)
    turned[..., axis, axis] = 1
    turned[..., one, one] = turned[..., two, two] = cosine
    turned[..., one, two], turned[..., two, one] = -sine, sine
    return turned


def _floats(numbers: Any) -> tuple[float, ...]:
    return tuple(float(number) for number in numbers)
