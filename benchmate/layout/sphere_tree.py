"""The bent tube as balls along its centreline, in a tree, so that far tube is passed over in bulk.

The tree is binary over runs of balls in their order along the tube, each run within one section
(straight, arc, straight ...): each node is a ball round the balls of its two halves. Asking for
many bends at once walks it level by level with pairs of bend and node; only pairs that can meet go
on to the next.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from benchmate.layout.centreline import Array
from benchmate.layout.sweep import Bools
from benchmate.layout.tube_layout import TubeLayout

Ints = np.ndarray[tuple[int, ...], np.dtype[np.int_]]
STEP = 0.5
"""Balls stand this part of the tube's diameter apart,"""
GROWN = math.hypot(1.0, STEP)
"""and are this much larger than the tube, so that the tube between them is in them."""
IN_LEAF = 16
"""Balls in one run."""


@dataclass(frozen=True, slots=True)
class SphereTree:
    """Places along the finished part's centreline in its own frame, by section, and the tree."""

    places: Array
    along: Array
    """How far along the tube each place lies, mm."""
    section: Ints
    """Which section each place belongs to."""
    first: Ints
    """Where each leaf's places begin; one more at the end."""
    leaves: Ints
    """How many leaves the first k sections have, for k from 0."""
    centres: tuple[Array, ...]
    radii: tuple[Array, ...]
    """Of the nodes, leaves first: level k has a node for every 2^k leaves."""

    @classmethod
    def of(cls, part: TubeLayout, stations: Array, od_mm: float) -> "SphereTree":
        """Spread balls over the sections: straights and arcs in turn, 2 n + 1 of them."""
        lengths = np.empty(2 * len(part.angles_deg) + 1)
        lengths[0::2] = np.abs(part.straights_mm)
        lengths[1::2] = part.radius_mm * np.radians(part.angles_deg)
        counts = np.ceil(lengths / (STEP * od_mm)).astype(int) + 1
        section = np.repeat(np.arange(len(counts)), counts)
        number = np.arange(len(section)) - (np.cumsum(counts) - counts)[section]
        share = number / np.maximum(counts[section] - 1, 1)
        along = (np.cumsum(lengths) - lengths)[section] + share * lengths[section]
        places = _along(part, stations, section, share)
        first = np.concatenate([np.nonzero(number % IN_LEAF == 0)[0], [len(number)]])
        leaves = np.concatenate([[0], np.cumsum(-(-counts // IN_LEAF))])
        tree = _tree(places[first[:-1]], places[first[1:] - 1])
        return cls(places, along, section, first, leaves, *tree)

    def pairs(
        self, sections: Ints, keep: Callable[[Ints, Array, Array], Bools]
    ) -> tuple[Ints, Ints]:
        """Give (asking, place) pairs that can meet, as two arrays of indices.

        Bends, or whatever else asks, are numbered from 0; ``sections`` says how many of the first
        sections count for each; ``keep`` says of (asking, centres, radii) which can meet.
        """
        most = self.leaves[sections]
        asking = np.arange(len(most))
        nodes = np.zeros_like(asking)
        for level in range(len(self.centres) - 1, -1, -1):
            there = nodes << level < most[asking]
            asking, nodes = asking[there], nodes[there]
            stay = keep(asking, self.centres[level][nodes], self.radii[level][nodes])
            asking, nodes = asking[stay], nodes[stay]
            if level:
                asking = np.repeat(asking, 2)
                nodes = np.stack([2 * nodes, 2 * nodes + 1], axis=1).ravel()
                there = nodes < len(self.centres[level - 1])
                asking, nodes = asking[there], nodes[there]
        sizes = self.first[nodes + 1] - self.first[nodes]
        shifts: Ints = self.first[nodes] - np.cumsum(sizes) + sizes
        places = np.arange(int(sizes.sum())) + np.repeat(shifts, sizes)
        return np.repeat(asking, sizes), places


def _along(part: TubeLayout, stations: Array, section: Ints, share: Array) -> Array:
    frame = stations[section]
    reach = np.zeros((len(section), 3))
    straight = section % 2 == 0
    reach[straight, 0] = (share * part.straights_mm[section // 2])[straight]
    bends = np.minimum(section // 2, len(part.angles_deg) - 1)
    swept = share * np.radians(part.angles_deg)[bends]
    arc = part.radius_mm * np.stack([np.sin(swept), 1 - np.cos(swept)], axis=-1)
    reach[~straight, :2] = arc[~straight]
    return np.asarray(frame[:, :3, 3] + (frame[:, :3, :3] @ reach[:, :, None])[:, :, 0])


def _tree(start: Array, end: Array) -> tuple[tuple[Array, ...], tuple[Array, ...]]:
    """Give centres and radii of the nodes: an arc up to 180 lies in the ball over its chord."""
    centres = [(start + end) / 2]
    radii = [np.linalg.norm(end - start, axis=1) / 2]
    while len(centres[-1]) > 1:
        below, size = centres[-1], radii[-1]
        if len(below) % 2:
            below, size = np.concatenate([below, below[-1:]]), np.concatenate([size, size[-1:]])
        one, two, small, large = below[0::2], below[1::2], size[0::2], size[1::2]
        between = np.linalg.norm(two - one, axis=1)
        radius = np.maximum(np.maximum(small, large), (between + small + large) / 2)
        towards = (radius - small) / np.maximum(between, 1e-12)
        centres.append(one + np.minimum(towards, 1.0)[:, None] * (two - one))
        radii.append(radius)
    return tuple(centres), tuple(radii)
