"""The bent part as lines to draw: three views and a turned one, as bent over as planned.

Drawings are flat: x to the right, y up, mm. The three views stand in the part's own best plane, so
that a part bent in one plane shows all of itself in front.
"""

import itertools
import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from benchmate.layout.centreline import Array, Centreline, frames

CHORD_DEG = 6.0
"""Arcs are drawn in chords of this angle."""
ON_EDGE = 0.35
"""A bend whose way out is shorter than this in a view is seen on edge; its number is left off."""


class Label(NamedTuple):
    """A bend's number at the middle of its arc, and the way out from there."""

    text: str
    x_mm: float
    y_mm: float
    out_x: float
    out_y: float
    """Unit vector away from the inside of the bend."""
    angle_deg: float
    """The bend angle."""
    faces: float
    """How squarely the bend faces the viewer: 1 where its angle is seen as it is, 0 on edge."""


class Straight(NamedTuple):
    """A straight as it is seen: its middle and its direction in the view."""

    length_mm: float
    x_mm: float
    y_mm: float
    along_x: float
    along_y: float
    """As a unit of it is seen: (1, 0) lies level in its full length, (0, 0) is seen end on."""

    @property
    def seen(self) -> float:
        """Give which part of its length is seen."""
        return math.hypot(self.along_x, self.along_y)


@dataclass(frozen=True, slots=True)
class Projection:
    """One view: centrelines as rows of points (m, 2), the planned part first, and bend numbers."""

    name: str
    lines: tuple[Array, ...]
    labels: tuple[Label, ...]
    depths: Array
    """How near to the viewer each point of the planned part is, mm (m,)."""
    straights: tuple[Straight, ...] = ()
    """Of the planned part, from its first end."""

    def segments(self) -> tuple[tuple[float, float, float, float], ...]:
        """Give every line piece by piece, (x1, y1, x2, y2), for screens that draw no more."""
        return tuple(
            (float(one[0]), float(one[1]), float(two[0]), float(two[1]))
            for line in self.lines
            for one, two in itertools.pairwise(line)
        )

    def box(self) -> tuple[float, float, float, float]:
        """Give left, bottom, right and top of everything drawn."""
        points = np.concatenate(self.lines)
        low, high = points.min(axis=0), points.max(axis=0)
        return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def three_views(
    planned: Centreline, as_bent: Centreline | None = None
) -> tuple[Projection, Projection, Projection]:
    """Give the part from the front, from above and from its right."""
    about = _best_plane(polyline(planned))
    front = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    above = np.array([[1.0, 0.0, 0.0], [0.0, 0.0, -1.0]])
    right = np.array([[0.0, 0.0, -1.0], [0.0, 1.0, 0.0]])
    return (
        _drawn("front", planned, as_bent, front @ about),
        _drawn("top", planned, as_bent, above @ about),
        _drawn("right", planned, as_bent, right @ about),
    )


def turned_view(
    planned: Centreline,
    turn_deg: float = 45.0,
    tilt_deg: float = 35.264,
    as_bent: Centreline | None = None,
) -> Projection:
    """Give the part turned about the upright and tilted to the viewer; left alone: isometric."""
    turn, tilt = math.radians(turn_deg), math.radians(tilt_deg)
    about_up = [
        [math.cos(turn), 0.0, math.sin(turn)],
        [0.0, 1.0, 0.0],
        [-math.sin(turn), 0.0, math.cos(turn)],
    ]
    down = [
        [1.0, 0.0, 0.0],
        [0.0, math.cos(tilt), -math.sin(tilt)],
    ]
    about = np.array(down) @ np.array(about_up) @ _best_plane(polyline(planned))
    return _drawn("turned", planned, as_bent, about)


def polyline(centreline: Centreline) -> Array:
    """Give the bent polyline as points in space, (m, 3), arcs in short chords."""
    at = frames(centreline)
    rows = [at[:1, :3, 3]]
    for bend, angle in enumerate(centreline.angles_deg):
        start = at[1 + 2 * bend]
        swept = np.radians(angle) * np.linspace(0, 1, 1 + math.ceil(angle / CHORD_DEG))
        arc = centreline.radius_mm * np.stack([np.sin(swept), 1 - np.cos(swept)], axis=1)
        rows.append(start[:3, 3] + arc @ start[:3, :2].T)
    rows.append(at[-1:, :3, 3])
    return np.concatenate(rows)


def _drawn(name: str, planned: Centreline, as_bent: Centreline | None, view: Array) -> Projection:
    centrelines = [planned] if as_bent is None else [planned, as_bent]
    lines = tuple(polyline(centreline) @ view.T for centreline in centrelines)
    middles, outwards = (places @ view.T for places in _middles(planned))
    seen = np.linalg.norm(outwards, axis=1)
    towards = np.cross(view[0], view[1])
    axes = frames(planned)[1:-1:2, :3, 2]
    labels = tuple(
        Label(
            text=str(bend + 1),
            x_mm=float(middles[bend][0]),
            y_mm=float(middles[bend][1]),
            out_x=float(outwards[bend][0] / seen[bend]),
            out_y=float(outwards[bend][1] / seen[bend]),
            angle_deg=float(planned.angles_deg[bend]),
            faces=float(abs(axes[bend] @ towards)),
        )
        for bend in range(len(seen))
        if seen[bend] > ON_EDGE
    )
    depths = polyline(planned) @ towards
    return Projection(name, lines, labels, depths, _straights(planned, view))


def _straights(planned: Centreline, view: Array) -> tuple[Straight, ...]:
    at = frames(planned)
    found = []
    for number, length in enumerate(planned.straights_mm):
        start = at[2 * number]
        middle = view @ (start[:3, 3] + start[:3, 0] * length / 2)
        found.append(Straight(float(length), *map(float, (*middle, *(view @ start[:3, 0])))))
    return tuple(found)


def _middles(centreline: Centreline) -> tuple[Array, Array]:
    """Give the middle of each arc and the way out from its inside there, (n, 3) each."""
    starts = frames(centreline)[1:-1:2]
    half = np.radians(np.array(centreline.angles_deg)) / 2
    outwards = np.stack([np.sin(half), -np.cos(half)], axis=1)
    out = (starts[:, :3, :2] @ outwards[:, :, None])[:, :, 0]
    centres = starts[:, :3, 3] + centreline.radius_mm * starts[:, :3, 1]
    return np.asarray(centres + centreline.radius_mm * out), np.asarray(out)


def _best_plane(line: Array) -> Array:
    """Give the rotation (3, 3) that lays the part's longest way along x and its flattest along z.

    Singular vectors of points spread evenly along the tube; signs are set so that the tube runs to
    the right and then up, and the rotation is a proper one.
    """
    lengths = np.concatenate([[0.0], np.cumsum(np.linalg.norm(np.diff(line, axis=0), axis=1))])
    even = np.linspace(0.0, lengths[-1], 200)
    spread = np.stack([np.interp(even, lengths, line[:, axis]) for axis in range(3)], axis=1)
    spread -= spread.mean(axis=0)
    _, _, axes = np.linalg.svd(spread, full_matrices=False)
    run = spread[-1] - spread[0]
    first = line[1] - line[0]
    along = run if abs(float(axes[0] @ run)) > 1e-6 else first
    if float(axes[0] @ along) < 0:
        axes[0] = -axes[0]
    if float(axes[1] @ spread[len(spread) // 2]) < -1e-9:
        axes[1] = -axes[1]
    axes[2] = np.cross(axes[0], axes[1])
    return np.asarray(axes)
