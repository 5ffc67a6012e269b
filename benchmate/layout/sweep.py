"""Places turned about a bend's axis, against planes and boxes: closed forms, no stepping.

The axis is z through the origin. A place (x, y, z) turned by up to ``swept`` radians (below 0:
clockwise) has a height over a plane that is a cosine of the angle, and enters a box where it
crosses one of its faces. Arrays hold one place a row, with its own swept angle and box.
"""

import math

import numpy as np

from benchmate.layout.centreline import Array

Bools = np.ndarray[tuple[int, ...], np.dtype[np.bool_]]
ROUND = 2 * math.pi
EDGE_MM = 1e-6


def lowest(places: Array, swept: Array, normal: Array) -> Array:
    """Give each place's least coordinate along a unit normal over its swing, (m,)."""
    reach = np.hypot(places[:, 0], places[:, 1]) * math.hypot(normal[0], normal[1])
    start = np.arctan2(places[:, 1], places[:, 0]) - math.atan2(normal[1], normal[0])
    # The cosine is least half a turn from the normal, if the swing gets there.
    to_half = np.remainder(np.copysign(1.0, swept) * (math.pi - start), ROUND)
    ends = np.minimum(np.cos(start), np.cos(start + swept))
    least = np.where(to_half <= np.abs(swept), -1.0, ends)
    return np.asarray(places[:, 2] * normal[2] + reach * least)


def may_enter(places: Array, radii: Array, swept: Array, low: Array, high: Array) -> Bools:
    """Say of each ball whether it can meet its box in its swing; never no where it does, (m,)."""
    out = np.hypot(places[:, 0], places[:, 1])
    beside = np.maximum(np.maximum(low, -high)[:, :2], 0.0)
    nearest = np.hypot(beside[:, 0], beside[:, 1])
    across = np.maximum(np.abs(low), np.abs(high))[:, :2]
    meets = (
        (places[:, 2] + radii >= low[:, 2])
        & (places[:, 2] - radii <= high[:, 2])
        & (out + radii >= nearest)
        & (out - radii <= np.hypot(across[:, 0], across[:, 1]))
    )
    middle = (low + high)[:, :2] / 2
    towards = np.arctan2(middle[:, 1], middle[:, 0])
    corners = [np.arctan2(y, x) for x in (low[:, 0], high[:, 0]) for y in (low[:, 1], high[:, 1])]
    turns = np.abs(np.remainder(np.stack(corners) - towards + math.pi, ROUND) - math.pi)
    box_wide = np.where(nearest <= 0, math.pi, turns.max(axis=0))
    ball_wide = np.arcsin(np.minimum(radii / np.maximum(out, EDGE_MM), 1.0))
    wide = box_wide + np.where(radii >= out, math.pi, ball_wide)
    to_go = np.copysign(1.0, swept) * (towards - np.arctan2(places[:, 1], places[:, 0]))
    in_time = np.remainder(to_go + wide, ROUND) <= np.abs(swept) + 2 * wide
    return np.asarray(meets & (in_time | (wide >= math.pi)))


def first_angle(places: Array, swept: Array, low: Array, high: Array) -> Array:
    """Give the angle (radians, >= 0) at which each place enters its box, inf for never, (m,)."""
    out = np.maximum(np.hypot(places[:, 0], places[:, 1]), EDGE_MM)
    start = np.arctan2(places[:, 1], places[:, 0])
    sense = np.copysign(1.0, swept)
    faces = np.stack([low[:, 0], high[:, 0], low[:, 1], high[:, 1]]) / out
    reached = np.abs(faces) <= 1
    faces = np.clip(faces, -1, 1)
    over_x, over_y = np.arccos(faces[:2]), np.arcsin(faces[2:])
    crossings = np.concatenate([over_x, -over_x, over_y, math.pi - over_y])
    reached = np.concatenate([reached[:2], reached[:2], reached[2:], reached[2:]])
    angles = np.remainder(sense * (crossings - start), ROUND)
    angles = np.concatenate([np.zeros((1, len(out))), np.where(reached, angles, np.inf)])
    angles = np.where(angles <= np.abs(swept), angles, np.inf)
    turned = start + sense * np.where(np.isfinite(angles), angles, 0.0)
    x, y = out * np.cos(turned), out * np.sin(turned)
    inside = (
        (x >= low[:, 0] - EDGE_MM)
        & (x <= high[:, 0] + EDGE_MM)
        & (y >= low[:, 1] - EDGE_MM)
        & (y <= high[:, 1] + EDGE_MM)
        & (places[:, 2] >= low[:, 2])
        & (places[:, 2] <= high[:, 2])
    )
    return np.asarray(np.where(inside, angles, np.inf).min(axis=0))
