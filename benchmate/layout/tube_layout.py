"""The part as its marks make it: starts of bend on a tube of fixed length.

Marks stay where they were drawn: a bend that comes out larger uses more tube, and the straight
after it gets shorter by as much.
"""

from dataclasses import dataclass

import numpy as np

from benchmate.layout.centreline import Array, Centreline, walk


@dataclass(frozen=True, slots=True, kw_only=True)
class TubeLayout:
    """Starts of bend along the straight tube (mm), turns and bend angles (deg), and the tube.

    Arrays are (n,), or (m, n) for many parts at once.
    """

    starts_mm: Array
    turns_deg: Array
    angles_deg: Array
    cut_length_mm: float | Array
    """One number, or (m,)."""
    radius_mm: float
    stretch: float = 0.0

    @classmethod
    def of(cls, centreline: Centreline, stretch: float = 0.0) -> "TubeLayout":
        """Lay a centreline on the straight tube."""
        used = np.array(centreline.arcs_mm) * (1 - stretch)
        straights = np.array(centreline.straights_mm)
        return cls(
            starts_mm=np.cumsum(straights[:-1] + used) - used,
            turns_deg=np.array(centreline.turns_deg, dtype=float),
            angles_deg=np.array(centreline.angles_deg, dtype=float),
            cut_length_mm=float(straights.sum() + used.sum()),
            radius_mm=centreline.radius_mm,
            stretch=stretch,
        )

    @property
    def used_mm(self) -> Array:
        """Tube that each arc uses."""
        return np.asarray(self.radius_mm * (1 - self.stretch) * np.radians(self.angles_deg))

    @property
    def straights_mm(self) -> Array:
        """Straights that these marks leave, (..., n + 1), tail last; below 0 where arcs overlap."""
        nought = np.zeros((*self.starts_mm.shape[:-1], 1))
        cut = nought + np.asarray(self.cut_length_mm)[..., None]
        ends = np.concatenate([nought, self.starts_mm + self.used_mm], axis=-1)
        return np.asarray(np.concatenate([self.starts_mm, cut], axis=-1) - ends)

    @property
    def centreline(self) -> Centreline:
        """Give the bent part (one part, not many)."""
        return Centreline(
            straights_mm=tuple(map(float, self.straights_mm)),
            turns_deg=tuple(map(float, self.turns_deg)),
            angles_deg=tuple(map(float, self.angles_deg)),
            radius_mm=self.radius_mm,
        )

    def stations(self) -> Array:
        """Give the frames of the bent part, as ``centreline.walk`` does."""
        return walk(self.straights_mm, self.turns_deg, self.angles_deg, self.radius_mm)


def corners(stations: Array, angles_deg: Array, radius_mm: float) -> Array:
    """Give the points in which straights meet, (..., n, 3); far away for bends near 180."""
    starts = stations[..., 1:-1:2, :3, :]
    reach = radius_mm * np.tan(np.radians(angles_deg) / 2)
    return np.asarray(starts[..., 3] + reach[..., None] * starts[..., 0])
