"""Other ways of bending a part that clear everything: the other end, another order.

``layout.clash`` goes along the tube; here any bend may come next, with tube bent on both sides of
it. Each step - these bends made, this one next - is judged once by closed forms over the swing, and
an order is a way through the steps that clear.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from benchmate.layout.centreline import Array
from benchmate.layout.clash import PAST, clashes, turned_round
from benchmate.layout.sphere_tree import GROWN, STEP
from benchmate.layout.sweep import ROUND, first_angle, lowest
from benchmate.layout.tube_layout import TubeLayout
from benchmate.shop.keep_out import KeepOut

MOST_BENDS = 6
"""Parts of more bends are only tried along the tube: the steps double with each bend."""
APART = 2.5
"""Diameters along the tube under which tube may be near to tube: it is the same tube."""


MOST_PLACES = 2000
"""Tube longer than so many half diameters is only tried from its other end: each step looks at all
pairs of places."""


@dataclass(frozen=True, slots=True)
class BendOrder:
    """A way to bend a part: which end goes in first, and the bends in the order of making them."""

    other_end: bool
    """The last end goes in first."""
    order: tuple[int, ...]
    """Bend numbers as the plan has them."""


def other_orders(part: TubeLayout, od_mm: float, keep_out: KeepOut) -> Iterator[BendOrder]:
    """Give ways of bending that clear everything, simplest first; along the tube is not among them.

    The other end, the last bend first, both, and then any order of a part of few bends.
    """
    along = tuple(range(1, len(part.angles_deg) + 1))
    back = along[::-1]
    if not clashes(turned_round(part), od_mm, keep_out):
        yield BendOrder(other_end=True, order=back)
    if float(part.cut_length_mm) > MOST_PLACES * STEP * od_mm:
        return
    ends = ((False, part), (True, turned_round(part)))
    for other_end, laid in ends:
        if _clears(laid, tuple(range(len(along)))[::-1], (od_mm, keep_out)):
            yield BendOrder(other_end=other_end, order=along if other_end else back)
    for other_end, laid in ends:
        found = order_that_clears(laid, od_mm, keep_out)
        if found is not None:
            numbers = tuple(len(along) + 1 - bend for bend in found) if other_end else found
            yield BendOrder(other_end=other_end, order=numbers)


def _clears(part: TubeLayout, order: tuple[int, ...], around: tuple[float, KeepOut]) -> bool:
    return all(
        step_clears(part, frozenset(order[:number]), bend, around)
        for number, bend in enumerate(order)
    )


def order_that_clears(part: TubeLayout, od_mm: float, keep_out: KeepOut) -> tuple[int, ...] | None:
    """Give the first order, by bend numbers, that clears; None where none does or too many bends.

    As near to the order along the tube as it can be: each bend in it is the lowest that still lets
    the others follow.
    """
    count = len(part.angles_deg)
    if not 1 < count <= MOST_BENDS:
        return None
    hopeless: set[frozenset[int]] = set()

    def rest(made: frozenset[int]) -> tuple[int, ...] | None:
        if len(made) == count:
            return ()
        if made in hopeless:
            return None
        for bend in range(count):
            if bend in made or not step_clears(part, made, bend, (od_mm, keep_out)):
                continue
            follows = rest(made | {bend})
            if follows is not None:
                return (bend + 1, *follows)
        hopeless.add(made)
        return None

    return rest(frozenset())


def step_clears(
    part: TubeLayout, made: frozenset[int], bend: int, around: tuple[float, KeepOut]
) -> bool:
    """Say whether a bend (from 0) clears when those ``made`` are bent already and no others.

    ``around`` is the tube's outside diameter and what stands round the bender. A yes is one with
    the tube a little thicker than it is.
    """
    od_mm, keep_out = around
    swept = float(PAST * np.radians(part.angles_deg[bend]))
    near, far = _sides(part, made, bend, od_mm)
    moves, lies = (near, far) if keep_out.swings == "first end" else (far, near)
    turn = -swept if keep_out.swings == "first end" else swept
    both = np.concatenate([moves[:, :3], lies[:, :3]])
    turns = np.concatenate([np.full(len(moves), turn), np.zeros(len(lies))])
    axis = np.array([0.0, part.radius_mm, 0.0])
    for plane in keep_out.planes:
        normal = np.array(plane.facing) / np.linalg.norm(plane.facing)
        level = float((axis - np.array(plane.through_mm)) @ normal) - od_mm / 2
        if (lowest(both, turns, normal) + level < 0).any():
            return False
    grown = od_mm / 2 * GROWN
    for box in keep_out.boxes:
        low = np.tile(np.array(box.low_mm) - axis - grown, (len(both), 1))
        high = np.tile(np.array(box.high_mm) - axis + grown, (len(both), 1))
        if np.isfinite(first_angle(both, turns, low, high)).any():
            return False
    return not _meet(moves, lies, turn, (od_mm * GROWN, part.cut_length_mm, APART * od_mm))


def _sides(part: TubeLayout, made: frozenset[int], bend: int, od_mm: float) -> tuple[Array, Array]:
    """Give places every half diameter on both sides of a bend, about its axis, before it is made.

    Rows are x, y, z and the place along the straight tube.
    """
    angles = np.array([a if b in made else 0.0 for b, a in enumerate(part.angles_deg)])
    now = replace(part, angles_deg=angles)
    stations, straights, used = now.stations(), now.straights_mm, now.used_mm
    start = stations[2 * bend + 1]
    axis = start[:3, 3] + part.radius_mm * start[:3, 1]
    sides: tuple[list[Array], list[Array]] = ([], [])
    along = 0.0
    for section in range(2 * len(angles) + 1):
        at, which = stations[section], section // 2
        length = float(used[which] if section % 2 else straights[which])
        reach = np.linspace(0.0, max(length, 0.0), 2 + int(max(length, 0.0) / (STEP * od_mm)))
        if section % 2:
            theta = np.radians(angles[which]) * reach / length if length > 0 else 0.0 * reach
            steps = part.radius_mm * np.stack([np.sin(theta), 1 - np.cos(theta), 0 * theta], axis=1)
        else:
            steps = np.stack([reach, 0 * reach, 0 * reach], axis=1)
        places = (at[:3, 3] + steps @ at[:3, :3].T - axis) @ start[:3, :3]
        sides[section > 2 * bend].append(np.column_stack([places, along + reach]))
        along += length
    return np.concatenate(sides[0]), np.concatenate(sides[1])


def _meet(
    moves: Array, lies: Array, turn: float, sizes: tuple[float, Array | float, float]
) -> bool:
    """Say whether tube that goes round comes nearer to tube that lies than a diameter.

    Both keep their distance from the axis and along it, so the nearest they come is where the angle
    between them is least.
    """
    thick, cut, apart = sizes
    one, two = moves[:, None, :], lies[None, :, :]
    between = np.abs(one[..., 3] - two[..., 3])
    # Neighbours are always near, and a frame's two ends may meet.
    counts = (between > apart) & (float(cut) - between > apart)
    out_one, out_two = (np.hypot(side[..., 0], side[..., 1]) for side in (one, two))
    ahead = np.arctan2(two[..., 1], two[..., 0]) - np.arctan2(one[..., 1], one[..., 0])
    to_go = np.remainder(np.copysign(1.0, turn) * ahead, ROUND)
    left = np.minimum(to_go, ROUND - to_go)
    passed = to_go - abs(turn)
    least = np.where(passed <= 0, 0.0, np.minimum(left, np.minimum(passed, ROUND - passed)))
    square = (
        (one[..., 2] - two[..., 2]) ** 2
        + out_one**2
        + out_two**2
        - 2 * out_one * out_two * np.cos(least)
    )
    return bool((counts & (square < thick**2)).any())
