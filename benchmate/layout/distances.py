"""What a tape across the bent tube tells of bends that nobody could measure one by one.

A turn of one degree can't be seen on the bender, but it moves the part's points by centimetres. A
distance between two points is weighed against what is believed of each bend, by least squares (GUM,
JCGM 100:2008, 5.2), and the bends are taken as what agrees best.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from benchmate.errors import Refusal
from benchmate.layout.as_bent import ASKED_SD, MEASURED_SD, AsBent
from benchmate.layout.centreline import Array
from benchmate.layout.replan import Room, as_taken, points_of
from benchmate.layout.tube_layout import TubeLayout
from benchmate.measurement import IMPROBABLE_SDS

NUDGE = 1e-4
ROUNDS = 20
STEP_ENOUGH = 1e-7


@dataclass(frozen=True, slots=True, kw_only=True)
class Distance:
    """A straight distance between two of the part's points, mm.

    Points are numbered as in a job's ``fit``: 1 is the first end, then each corner of the bends
    done; the last number of the part is the tube's other end as it is now.
    """

    one: int
    other: int
    measured_mm: float
    u_mm: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Corrected:
    """The bends done as all that was measured makes them."""

    done: tuple[AsBent, ...]
    outlier: str
    """Names the distance that can't be so if the bends are as believed; empty: none."""


def with_distances(
    plan: TubeLayout,
    done: Sequence[AsBent],
    distances: Sequence[Distance],
    room: Room,
    fit: Sequence[int] = (),
) -> Corrected:
    """Correct the bends done by distances measured across them.

    ``plan``, ``room`` and ``fit`` are those of ``asbent.replan``, which takes ``done`` of the
    answer. Raises Refusal for a point that isn't there yet, and for a distance from a point to
    itself.
    """
    count, last = len(done), len(plan.angles_deg) + 2
    for distance in distances:
        _refuse(distance, count, last)
    if not count:
        return Corrected(done=(), outlier="")
    taken = as_taken(plan, done, room, fit)
    asked = np.concatenate(
        [values[:count] for values in (taken.starts_mm, taken.turns_deg, taken.angles_deg)]
    )
    seen = [(came.start_mm, came.turn_deg, came.angle_deg) for came in done]
    spread = np.array(
        [
            ASKED_SD[kind] if came[kind] is None else MEASURED_SD[kind]
            for kind in range(3)
            for came in seen
        ]
    )
    # The first bend's plane is what turns are counted from.
    spread[count : count + 1] = 1e-9
    here = asked
    for _ in range(ROUNDS):
        many = np.concatenate([[here], here + NUDGE * np.eye(len(here))])
        misses = np.concatenate(
            [(many - asked) / spread, _misses(taken, many, distances, last)], axis=-1
        )
        slopes = (misses[1:] - misses[0]).T / NUDGE
        step = np.linalg.lstsq(slopes, -misses[0])[0]
        here = here + step
        if float(np.abs(step).max()) < STEP_ENOUGH:
            break
    starts, turns, angles = np.split(here, 3)
    bends = zip(map(float, starts), map(float, turns), map(float, angles), strict=True)
    return Corrected(
        done=tuple(
            AsBent(angle_deg=angle, turn_deg=turn, start_mm=start) for start, turn, angle in bends
        ),
        outlier=_improbable(slopes, misses[0] + slopes @ step, distances),
    )


def _refuse(distance: Distance, count: int, last: int) -> None:
    for point in (distance.one, distance.other):
        if not (1 <= point <= count + 1 or point == last):
            raise Refusal(
                f"point {point} isn't bent yet: there are points 1 to {count + 1}, and {last}, the"
                " tube's other end"
            )
    if distance.one == distance.other:
        raise Refusal(f"a distance from point {distance.one} to itself; give two points")
    if not 0 < distance.measured_mm < float("inf"):
        raise Refusal(f"a distance of {distance.measured_mm:g} mm; give a number above 0")


def _misses(taken: TubeLayout, many: Array, distances: Sequence[Distance], last: int) -> Array:
    """Give how far the part so far is from each distance, over its uncertainty, (m, k)."""
    starts, turns, angles = np.split(many, 3, axis=-1)
    so_far = replace(taken, starts_mm=starts, turns_deg=turns, angles_deg=angles)
    at = so_far.stations()
    ends = starts.shape[-1] + 2

    def points(numbers: list[int]) -> Array:
        return points_of(so_far, at, [ends if number == last else number for number in numbers])

    one = points([distance.one for distance in distances])
    other = points([distance.other for distance in distances])
    lengths = np.linalg.norm(one - other, axis=-1)
    measured = np.array([distance.measured_mm for distance in distances])
    return np.asarray((lengths - measured) / np.array([distance.u_mm for distance in distances]))


def _improbable(slopes: Array, left: Array, distances: Sequence[Distance]) -> str:
    """Say which distance is further off than one good one in a thousand, if any."""
    covariance = np.linalg.inv(slopes.T @ slopes)
    free = 1 - np.einsum("ij,jk,ik->i", slopes, covariance, slopes)
    tail = len(left) - len(distances)
    sizes = np.abs(left[tail:]) / np.sqrt(np.maximum(free[tail:], 1e-9))
    if not len(sizes) or sizes.max() < IMPROBABLE_SDS:
        return ""
    worst = distances[int(sizes.argmax())]
    return (
        f"the distance of {worst.measured_mm:.1f} mm from point {worst.one} to point {worst.other}"
        " can't be so if the bends are as believed; measure it again"
    )
