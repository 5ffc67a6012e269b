"""What a swing shows of the bender, held against what bench.yaml says of it."""

import math

from benchmate.sensing.mount.alignment import Mount
from benchmate.shop.parts import Arm

UPRIGHT_DEG = 15.0
"""A plane that leans further is no vertical one; a chip as it was made shows some 7 for none."""
LEANS_DEG = 5.0
"""A plane that leans less is no tilted one."""
LEVEL_DEG = 60.0
"""A plane that leans less is no horizontal one."""
SENSE_FROM_DEG = 10.0
"""From this lean on gravity tells which way round the arm goes, seen from above."""
TURNED_ROUND = -0.97
"""Cosine of two axes at least 166 deg apart: the same box, and the arm swung the other way."""


def lean_deg(mount: Mount) -> float | None:
    """Give how far the swing's plane leans from upright; None for an encoder, which can't tell."""
    if mount.normal == (0.0, 0.0, 0.0):
        return None
    return math.degrees(math.atan2(abs(mount.height_g), mount.leverage))


def bends_clockwise(mount: Mount) -> bool | None:
    """Tell whether the arm bends clockwise, seen from above; None where gravity can't tell.

    Gravity turns about the mount's normal against the box, so the pivot's axis, right-handed as
    the arm bends, is the normal's opposite: clockwise from above when that axis points down.
    """
    lean = lean_deg(mount)
    return None if lean is None or lean < SENSE_FROM_DEG else mount.height_g > 0.0


def mismatches(arm: Arm, mount: Mount, before: Mount | None = None) -> tuple[str, ...]:
    """Say where a swing and bench.yaml, or the swing kept before, don't agree: a sentence each."""
    told = (_plane(arm, mount), _hand(arm, mount), _sense(mount, before))
    return tuple(sentence for sentence in told if sentence)


def _plane(arm: Arm, mount: Mount) -> str:
    lean = lean_deg(mount)
    if lean is None:
        return ""
    limits = {
        "vertical": (0.0, UPRIGHT_DEG),
        "tilted": (LEANS_DEG, 90.0),
        "horizontal": (LEVEL_DEG, 90.0),
    }
    least, most = limits[arm.plane]
    if least <= lean <= most:
        return ""
    right = "vertical" if lean <= UPRIGHT_DEG else "tilted"
    return (
        f"bench.yaml says plane: {arm.plane}, but the arm's plane leans {lean:.0f} deg from "
        f"upright: write plane: {right} under arm, or look why the box sits otherwise."
    )


def _hand(arm: Arm, mount: Mount) -> str:
    clockwise = bends_clockwise(mount)
    if clockwise is None or clockwise == (arm.handed == "right"):
        return ""
    way, right = ("clockwise", "right") if clockwise else ("counterclockwise", "left")
    return (
        f"bench.yaml says handed: {arm.handed}, but the arm first swung {way}, seen from above: if "
        f"that is the way of bending write handed: {right} under arm, else align again, first the "
        "way of bending, or the angle counts backwards."
    )


def _sense(mount: Mount, before: Mount | None) -> str:
    if before is None or not _turned_round(mount, before):
        return ""
    return (
        "The arm first swung the other way than at the alignment before: if the sensor sits as it "
        "did then, align again, first the way of bending, or the angle counts backwards."
    )


def _turned_round(mount: Mount, before: Mount) -> bool:
    if lean_deg(mount) is None:
        return mount.sense != before.sense
    return sum(a * b for a, b in zip(mount.normal, before.normal, strict=True)) < TURNED_ROUND
