"""The part re-planned as bent: marks, turns and angles still to come, so that the ends land best.

A bend that came out different can't be taken back, but the bends after it can answer for it. From
what is bent, the rest is solved again by least squares (Gauss-Newton, bounds by an active set): the
last end's place and direction, or the points named to fit, come first; the shape between and the
first plan pull weakly, so that what doesn't matter stays as it was.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchmate.errors import Refusal
from benchmate.layout.as_bent import ASKED_SD, MEASURED_SD, AsBent
from benchmate.layout.centreline import STRAIGHT_ENOUGH_DEG, Array
from benchmate.layout.propagation import Spread, end_covariance
from benchmate.layout.tube_layout import TubeLayout, corners

END_MM = 0.2
END_DEG = 0.2
"""How finely the last end is to land: one mm off weighs as much as one degree."""
SHAPE_MM = 20.0
"""How far a start of bend may wander in space at the same price,"""
STRAIGHT_MM, TURN_DEG, ANGLE_DEG, TRIM_MM = 30.0, 8.0, 5.0, 300.0
"""and how far what is still to come may go from the plan."""
PAYS_SDS = 0.5
"""How surely re-planning must bring the end nearer, in standard deviations of what nobody measured.

At 0.5 it does in 7 of 10 parts at the worst; docs/figures.md says what it costs and saves."""
WORTH_MM = 0.3
WORTH_DEG = 0.1
"""Gains at the end smaller than these leave the plan as it is."""
ROUNDS = 25
STEP_ENOUGH = 1e-6
NUDGE = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True)
class EndDeviation:
    """How far the part's last end, or its points to fit, come from where they should be."""

    off_mm: float
    """The last end's distance from its place; with points to fit, the largest of theirs."""
    askew_deg: float
    """The last straight's angle to its direction; 0 with points to fit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Replanned:
    """The part to bend from here, and what that gains. Done bends hold what they came out as."""

    part: TubeLayout
    deviation_if_kept: EndDeviation
    """Where it lands when the bends to come keep the first plan."""
    deviation: EndDeviation
    """Where it lands now."""
    changed: bool
    pays: bool
    """Whether it is likely enough to bring the end nearer, for all that nobody measured."""
    trim_mm: float
    """Tube to cut off the last end, where it comes out too long."""


@dataclass(frozen=True, slots=True)
class Room:
    """What the setup allows: least straight between bends (mm), the die's greatest angle (deg).

    ``angle_deg`` is how far a bend angle may move from the first plan's.
    """

    hold_mm: float
    max_angle_deg: float
    angle_deg: float = math.inf


def replan(
    plan: TubeLayout, done: Sequence[AsBent], room: Room, fit: Sequence[int] = ()
) -> Replanned:
    """Solve starts, turns and bend angles still to come, given the bends done, in order.

    ``plan`` is always the first plan: the places to land in come from it, and leaving off the last
    of ``done`` undoes it. ``fit`` numbers the points that matter (1 the first end, then each
    corner, n + 2 the last end); empty: the last end's place and direction. Raises Refusal for more
    bends done than planned and for a point that isn't there.
    """
    return _in_force(as_taken(plan, done, room, fit), plan, done, room, fit)


def as_taken(
    plan: TubeLayout, done: Sequence[AsBent], room: Room, fit: Sequence[int] = ()
) -> TubeLayout:
    """Give the part with its done bends as they came out, the others as first planned.

    What nobody measured is filled in as asked for; arguments and errors are those of ``replan``.
    """
    count = len(plan.angles_deg)
    if len(done) > count:
        raise Refusal(f"{len(done)} bends done, and the plan has {count}; leave the others out")
    _refuse_fit(plan, fit)
    carried = plan
    for bend, came in enumerate(done):
        if None in (came.angle_deg, came.turn_deg, came.start_mm):
            carried = _in_force(carried, plan, done[:bend], room, fit).part
        carried = _with(carried, plan, bend, came)
    return carried


def _in_force(
    carried: TubeLayout,
    plan: TubeLayout,
    done: Sequence[AsBent],
    room: Room,
    fit: Sequence[int],
) -> Replanned:
    """Solve for the bends after those done, and change the plan where that is worth it."""
    solved = _solved(carried, plan, len(done), room, fit)
    kept, gained = _deviation(carried, plan, fit), _deviation(solved, plan, fit)
    nearer, straighter = kept.off_mm - gained.off_mm, kept.askew_deg - gained.askew_deg
    gains = nearer > WORTH_MM or (nearer > -WORTH_MM and straighter > WORTH_DEG)
    # Points that the job names are held whatever is uncertain: so it asks.
    pays = bool(fit) or _sds_nearer(carried, solved, plan, done) > PAYS_SDS
    changed = gains and pays
    part = solved if changed else carried
    return Replanned(
        part=part,
        deviation_if_kept=kept,
        deviation=gained if changed else kept,
        changed=changed,
        pays=pays or not gains,
        trim_mm=float(plan.cut_length_mm - part.cut_length_mm),
    )


def _sds_nearer(
    kept: TubeLayout, solved: TubeLayout, plan: TubeLayout, done: Sequence[AsBent]
) -> float:
    """Give how surely the solved part's end comes nearer than the kept one's.

    With misses m (mm, and degrees of direction at the same price), an unknown error u of covariance
    C that both share, and d = m_kept - m_solved, the solved end is nearer when
    d'u > -(|m_kept|^2 - |m_solved|^2) / 2; that over the standard deviation of d'u is given.
    """
    wanted = plan.stations()[-1]

    def miss(part: TubeLayout) -> Array:
        off = part.stations()[-1] - wanted
        return np.concatenate([off[:3, 3], np.degrees(off[:3, 0])])

    of_kept, of_solved = miss(kept), miss(solved)
    difference = of_kept - of_solved
    seen = [(came.start_mm, came.turn_deg, came.angle_deg) for came in done]
    seen += [(None, None, None)] * (len(plan.angles_deg) - len(done))
    marks, turns, angles = (
        tuple(ASKED_SD[kind] if each[kind] is None else MEASURED_SD[kind] for each in seen)
        for kind in range(3)
    )
    covariance = end_covariance(kept, Spread(angle_deg=angles, mark_mm=marks, turn_deg=turns))
    scale = np.array([1.0] * 3 + [math.degrees(1.0)] * 3)
    variance = difference @ (covariance * np.outer(scale, scale)) @ difference
    gain = float(of_kept @ of_kept - of_solved @ of_solved) / 2
    return gain / math.sqrt(max(float(variance), 1e-12))


def _refuse_fit(plan: TubeLayout, fit: Sequence[int]) -> None:
    last = len(plan.angles_deg) + 2
    for point in fit:
        if not 1 <= point <= last:
            raise Refusal(f"no point {point} to fit: this part has points 1 to {last}")
        if 1 < point < last and plan.angles_deg[point - 2] > 180 - STRAIGHT_ENOUGH_DEG:
            raise Refusal(f"no point {point} to fit: a bend of 180 deg has no such point")


def _with(asked: TubeLayout, plan: TubeLayout, bend: int, came: AsBent) -> TubeLayout:
    """Put in what a bend came out as; the bends after it go back to the first plan."""
    starts, turns, angles = plan.starts_mm.copy(), plan.turns_deg.copy(), plan.angles_deg.copy()
    done = slice(0, bend + 1)
    for values, before, value in (
        (starts, asked.starts_mm, came.start_mm),
        (turns, asked.turns_deg, came.turn_deg),
        (angles, asked.angles_deg, came.angle_deg),
    ):
        values[done] = before[done]
        if value is not None:
            values[bend] = value
    return replace(plan, starts_mm=starts, turns_deg=turns, angles_deg=angles)


def _deviation(part: TubeLayout, plan: TubeLayout, fit: Sequence[int]) -> EndDeviation:
    at, wanted = part.stations(), plan.stations()
    if fit:
        misses = points_of(part, at, fit) - points_of(plan, wanted, fit)
        return EndDeviation(off_mm=float(np.linalg.norm(misses, axis=-1).max()), askew_deg=0.0)
    cross = np.linalg.norm(np.cross(at[-1, :3, 0], wanted[-1, :3, 0]))
    askew = math.degrees(math.atan2(float(cross), float(at[-1, :3, 0] @ wanted[-1, :3, 0])))
    off = float(np.linalg.norm(at[-1, :3, 3] - wanted[-1, :3, 3]))
    return EndDeviation(off_mm=off, askew_deg=askew)


def points_of(part: TubeLayout, at: Array, numbers: Sequence[int]) -> Array:
    """Give points by their numbers, (..., len(numbers), 3); ``at`` are the part's stations."""
    meet = corners(at, part.angles_deg, part.radius_mm)
    all_points = np.concatenate([at[..., :1, :3, 3], meet, at[..., -1:, :3, 3]], axis=-2)
    return np.asarray(all_points[..., [number - 1 for number in numbers], :])


def _misses(part: TubeLayout, plan: TubeLayout, fit: Sequence[int]) -> Array:
    """Give everything that should be nought, (..., k), each over its price."""
    at, wanted = part.stations(), plan.stations()
    if fit:
        rows = [(points_of(part, at, fit) - points_of(plan, wanted, fit)) / END_MM]
    else:
        off = at[..., -1:, :3, :] - wanted[-1, :3, :]
        rows = [off[..., 3] / END_MM, np.degrees(off[..., 0]) / END_DEG]
    rows.append((at[..., 1:-1:2, :3, 3] - wanted[1:-1:2, :3, 3]) / SHAPE_MM)
    flat = [row.reshape(*row.shape[:-2], -1) for row in rows]
    # Tube is only so long: a tail below nought is no part, however well its end would land.
    short = np.minimum(part.straights_mm[..., -1:], 0.0) / END_MM
    return np.concatenate([*flat, short], axis=-1)


def _solved(
    carried: TubeLayout, plan: TubeLayout, done: int, room: Room, fit: Sequence[int]
) -> TubeLayout:
    """Walk straights, turns and angles to come, and what is trimmed, to the least deviation."""
    count = len(carried.angles_deg)
    to_come = count - done
    planned = np.concatenate(
        [
            carried.straights_mm[done:count],
            carried.turns_deg[done:],
            carried.angles_deg[done:],
            [0.0],
        ]
    )
    parts = np.repeat([0, 1, 2, 3], [to_come, to_come, to_come, 1])
    price = np.array([STRAIGHT_MM, TURN_DEG, ANGLE_DEG, TRIM_MM])[parts]
    least = np.minimum(np.array([room.hold_mm, -np.inf, 1.0, 0.0])[parts], planned)
    most = np.maximum(np.array([np.inf, np.inf, room.max_angle_deg, np.inf])[parts], planned)
    moves = np.where(parts == 2, room.angle_deg, np.inf)
    least, most = np.maximum(least, planned - moves), np.minimum(most, planned + moves)
    here = planned
    for _ in range(ROUNDS):
        many = np.concatenate([[here], here + NUDGE * np.eye(len(here))])
        misses = np.concatenate(
            [_misses(_part(carried, done, many), plan, fit), (many - planned) / price], axis=-1
        )
        slopes = (misses[1:] - misses[0]).T / NUDGE
        step = _bounded_step(slopes, misses[0], here, least, most)
        here = here + step
        if float(np.abs(step / price).max()) < STEP_ENOUGH:
            break
    return _part(carried, done, here)


def _part(carried: TubeLayout, done: int, unknowns: Array) -> TubeLayout:
    """Give the part, or many, with these straights, turns, angles to come, and this trimmed."""
    to_come = len(carried.angles_deg) - done
    straights, turns, angles, trim = np.split(
        unknowns, [to_come, 2 * to_come, 3 * to_come], axis=-1
    )
    many = unknowns.shape[:-1]
    past = [
        np.broadcast_to(values[:done], (*many, done))
        for values in (carried.starts_mm, carried.turns_deg, carried.angles_deg)
    ]
    all_angles = np.concatenate([past[2], angles], axis=-1)
    used = carried.radius_mm * (1 - carried.stretch) * np.radians(all_angles)
    began = carried.starts_mm[done - 1] + used[..., done - 1 : done] if done else 0.0
    steps = straights + used[..., done:]
    starts = began + np.cumsum(steps, axis=-1) - used[..., done:]
    return replace(
        carried,
        starts_mm=np.concatenate([past[0], starts], axis=-1),
        turns_deg=np.concatenate([past[1], turns], axis=-1),
        angles_deg=all_angles,
        cut_length_mm=carried.cut_length_mm - trim[..., 0],
    )


def _bounded_step(slopes: Array, misses: Array, here: Array, least: Array, most: Array) -> Array:
    """Give the least-squares step that stays within bounds, holding what would leave them."""
    step = np.zeros_like(here)
    free = np.ones(len(here), dtype=bool)
    while free.any():
        towards = np.linalg.lstsq(slopes[:, free], -misses - slopes[:, ~free] @ step[~free])[0]
        step[free] = towards
        aim = here + step
        outside = free & ((aim < least - 1e-12) | (aim > most + 1e-12))
        if not outside.any():
            break
        step[outside] = np.clip(aim, least, most)[outside] - here[outside]
        free &= ~outside
    return step
