"""How the sensor sits on the arm and what it feels there."""

import math
from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from benchmate.shop.parts import Arm
from benchmate.sim.chips.chip import Felt, Triple
from benchmate.sim.draws import chance
from benchmate.sim.motion import Turning

_G = 9.80665
_WARM_UP_S = 400.0
_ROOM_C = 21.0
_TILTS_DEG = {"vertical": (0.0, 2.0), "tilted": (20.0, 50.0), "horizontal": (88.0, 90.0)}
"""Range of the angle between the swing plane and the vertical."""

Attitude = tuple[Triple, Triple, Triple]


class Mounting(NamedTuple):
    """The sensor's place: what the arm doesn't change."""

    chip_from_arm: Attitude
    """Rotation to the chip's frame from the arm's: outwards, way of bending, and across both."""
    start_deg: float
    """Angle in the swing plane from straight up to the sensor's arm, at the arm's start."""
    tilt_deg: float
    """Angle between the swing plane and the vertical."""
    sense: float
    """1.0: bends counterclockwise seen from above, to the left; -1.0: clockwise, to the right."""
    radius_m: float
    shaft_deg: float
    """Encoder: where the magnet stands when the arm is at its start."""
    warms_by_c: float
    powered_at: float
    """Time [s] since when the box warms up."""


def draw_mounting(arm: Arm, seed: int, powered_at: float) -> Mounting:
    """Draw an attitude: any way round, the plane as the bench says."""
    draw = chance(seed, "mounting")
    lowest, highest = _TILTS_DEG[arm.plane]
    turned, upper = np.linalg.qr(draw.standard_normal((3, 3)))
    turned = turned * np.sign(np.diag(upper))
    if np.linalg.det(turned) < 0.0:
        turned[:, 0] = -turned[:, 0]
    first, second, third = turned.tolist()
    return Mounting(
        chip_from_arm=(tuple(first), tuple(second), tuple(third)),
        start_deg=float(draw.uniform(0.0, 360.0)),
        tilt_deg=float(draw.uniform(lowest, highest)),
        sense=-1.0 if arm.handed == "right" else 1.0,
        radius_m=arm.radius_mm * 1e-3,
        shaft_deg=float(draw.uniform(0.0, 360.0)),
        warms_by_c=5.0,
        powered_at=powered_at,
    )


def on_frame(arm: Mounting, seed: int) -> Mounting:
    """Give the place of a second box on the frame: the same way round, turned about the pivot."""
    turned = float(chance(seed, "frame").uniform(0.0, 360.0))
    return arm._replace(start_deg=turned, radius_m=0.0)


class Knock(NamedTuple):
    """A blow that turned the box on the arm, and leant it out of the arm's plane."""

    t: float
    deg: float
    lean_deg: float = 0.0


class Warming(NamedTuple):
    """Heat on the box beside its own: it rises evenly by so many degrees in so many seconds."""

    t: float
    by_c: float
    lasts_s: float

    def at(self, t: float) -> float:
        """Give by how much it has risen [C] at the time t [s]."""
        return self.by_c * min(max((t - self.t) / self.lasts_s, 0.0), 1.0)


def felt(
    mounting: Mounting,
    turning: Turning,
    knocks: Sequence[Knock],
    t: float,
    warmings: Sequence[Warming] = (),
) -> Felt:
    """Give what the chip feels while the arm turns so: gravity and the arm's own acceleration.

    ``turning`` counts from the arm's start. The arm's frame turns with it, right-handed about its
    third axis whichever way the bender works: outwards, the way of bending, and across both.
    """
    angle = math.radians(mounting.start_deg + turning.deg)
    tilt = math.radians(mounting.tilt_deg)
    rate, spin = math.radians(turning.dps), math.radians(turning.dps2)
    up_in_plane, up_along_axis = math.cos(tilt), math.sin(tilt)
    out = up_in_plane * math.cos(angle) - mounting.radius_m * rate * rate / _G
    along = -up_in_plane * math.sin(angle) + mounting.radius_m * spin / _G
    axis = mounting.sense * up_along_axis
    knocked_deg = sum(knock.deg for knock in knocks if knock.t <= t)
    leant_deg = sum(knock.lean_deg for knock in knocks if knock.t <= t)
    # The box turned on the arm: what it feels turns the other way.
    out, along = _turned(out, along, knocked_deg)
    out, axis = _turned(out, axis, leant_deg)
    first, second, third = mounting.chip_from_arm
    warm = 1.0 - math.exp(-max(t - mounting.powered_at, 0.0) / _WARM_UP_S)
    return Felt(
        (
            first[0] * out + first[1] * along + first[2] * axis,
            second[0] * out + second[1] * along + second[2] * axis,
            third[0] * out + third[1] * along + third[2] * axis,
        ),
        (first[2] * turning.dps, second[2] * turning.dps, third[2] * turning.dps),
        mounting.shaft_deg + mounting.sense * (turning.deg + knocked_deg),
        _ROOM_C + mounting.warms_by_c * warm + sum(each.at(t) for each in warmings),
    )


def _turned(first: float, second: float, deg: float) -> tuple[float, float]:
    if not deg:
        return first, second
    c, s = math.cos(math.radians(deg)), math.sin(math.radians(deg))
    return c * first + s * second, -s * first + c * second
