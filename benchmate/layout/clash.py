"""What the tube runs into while it is bent: keep-outs of the bench, and itself.

Bends are made from the first to the last: at each, the bent end so far is on one side of the die
and straight tube on the other; one of the two goes round the bend's axis with the arm, the other
lies still. Places are as ``shop.keep_out`` tells them. The straight tube is taken as long as it is
before the bend, though the arc shortens it.
"""

import math
from dataclasses import dataclass, replace

import numpy as np

from benchmate.layout.centreline import Array
from benchmate.layout.sphere_tree import GROWN, Ints, SphereTree
from benchmate.layout.sweep import Bools, first_angle, lowest, may_enter
from benchmate.layout.tube_layout import TubeLayout
from benchmate.shop.keep_out import Box, KeepOut, Plane

PAST = 1.04
"""How much further than its bend angle a bend is pressed, so that it comes back to it."""
TOUCH = 0.99
"""Part of its diameter nearer than which tube counts as meeting itself."""
ITSELF = "the tube itself"


@dataclass(frozen=True, slots=True)
class Clash:
    """One bend at which the tube runs into something."""

    bend: int
    """0: the finished part."""
    what: str
    """The keep-out's name, or "the tube itself"."""
    at_deg: float | None
    """How far that bend has gone when it happens, where that can be said."""


def clashes(part: TubeLayout, od_mm: float, keep_out: KeepOut) -> tuple[Clash, ...]:
    """Give what the tube runs into, bend after bend, and whether the finished part meets itself."""
    swings = _Swings.of(part, od_mm, keep_out)
    found = [clash for plane in keep_out.planes for clash in swings.over_plane(plane)]
    found += [clash for box in keep_out.boxes for clash in swings.into_box(box)]
    found += swings.into_itself()
    found.sort(key=lambda clash: clash.bend)
    if meets_itself(swings.balls, od_mm):
        found.append(Clash(0, ITSELF, None))
    return tuple(found)


def turned_round(part: TubeLayout) -> TubeLayout:
    """Give the same part laid out from its other end."""
    return replace(
        part,
        starts_mm=(part.cut_length_mm - part.starts_mm - part.used_mm)[::-1],
        turns_deg=np.concatenate([[0.0], part.turns_deg[:0:-1]]),
        angles_deg=part.angles_deg[::-1],
    )


def meets_itself(balls: SphereTree, od_mm: float) -> bool:
    """Say whether tube of the finished part comes nearer to itself than its diameter."""
    places = balls.places

    def near(asking: Ints, centres: Array, radii: Array) -> Bools:
        apart = np.linalg.norm(places[asking] - centres, axis=1)
        return np.asarray(apart < radii + TOUCH * od_mm)

    asking, others = balls.pairs(balls.section, near)
    touching = near(asking, places[others], np.zeros(len(asking)))
    # Neighbours along the tube are always near; past two diameters and a half they needn't be. The
    # two ends may meet, as a frame's do at its joint.
    between = np.abs(balls.along[asking] - balls.along[others])
    between = np.minimum(between, balls.along[-1] - between)
    return bool((touching & (between > 2.5 * od_mm)).any())


@dataclass(frozen=True, slots=True)
class _Swings:
    """Every bend of a part with its bent end and its straight tube, in the die's frame."""

    part: TubeLayout
    od_mm: float
    first_end_swings: bool
    balls: SphereTree
    frames: Array
    """Of each start of bend, (n, 4, 4)."""
    swept: Array
    """Angle of each bend (radians) as the end that swings goes: the first end goes clockwise."""
    straight: Array
    """Tube from each start of bend to the last end."""

    @classmethod
    def of(cls, part: TubeLayout, od_mm: float, keep_out: KeepOut) -> "_Swings":
        stations = part.stations()
        first = keep_out.swings == "first end"
        swept = PAST * np.radians(part.angles_deg)
        return cls(
            part=part,
            od_mm=od_mm,
            first_end_swings=first,
            balls=SphereTree.of(part, stations, od_mm),
            frames=stations[1:-1:2],
            swept=-swept if first else swept,
            straight=np.asarray(part.cut_length_mm - part.starts_mm),
        )

    def over_plane(self, plane: Plane) -> list[Clash]:
        """Give the bends at which tube goes behind the plane."""
        normal = np.array(plane.facing) / np.linalg.norm(plane.facing)
        half_od = self.od_mm / 2
        level = float((self._axis - np.array(plane.through_mm)) @ normal) - half_od
        turned, lies = self._turned_and_lying()

        def low(bends: Ints, places: Array, radii: Array) -> Bools:
            heights = lowest(self._seen(bends, places), turned[bends], normal)
            return np.asarray(heights + level < radii)

        bends, places = self.balls.pairs(self._bent_sections, low)
        behind = low(bends, self.balls.places[places], np.zeros(len(bends)))
        ends = self._straight_places(self.straight)
        straight = lowest(ends, lies, normal) + level < 0
        hit = np.union1d(bends[behind], straight.nonzero()[0])
        return [Clash(int(bend) + 1, plane.name, None) for bend in hit]

    def into_box(self, box: Box) -> list[Clash]:
        """Give the bends at which tube gets into the box, and how far each has gone then."""
        grown = self.od_mm / 2 * GROWN
        low = np.array(box.low_mm) - self._axis - grown
        high = np.array(box.high_mm) - self._axis + grown
        turned, lies = self._turned_and_lying()
        count = len(turned)
        angles = self._bent_into(
            self._bent_sections, turned, np.tile(low, (count, 1)), np.tile(high, (count, 1))
        )
        # The straight tube is the same line at every bend, only shorter: one look is enough.
        reach = np.arange(0.0, float(self.straight.max()), self.od_mm / 2)
        line = self._straight_places(reach)
        most = np.full(len(line), float(lies[np.abs(lies).argmax()]))
        entry = first_angle(line, most, np.tile(low, (len(line), 1)), np.tile(high, (len(line), 1)))
        there = (reach <= self.straight[:, None]) & (entry <= np.abs(lies)[:, None])
        angles = np.minimum(angles, np.where(there, entry, np.inf).min(axis=1))
        return self._told(angles, box.name)

    def into_itself(self) -> list[Clash]:
        """Give the bends at which the bent end comes round onto the straight tube.

        The straight tube is taken as the bend leaves it, without its last bit: a frame's ends meet.
        """
        count = len(self.swept)
        grown = self.od_mm * GROWN
        low = np.tile(np.array([1.25 * self.od_mm, 0.0, 0.0]) - self._axis - grown, (count, 1))
        high = np.tile(-self._axis + grown, (count, 1))
        left = self.straight - self.part.used_mm - 2.5 * self.od_mm
        high[:, 0] = np.where(left > 1.25 * self.od_mm, left + grown, -np.inf)
        # The straight next to the bend always touches the lying one: it is left out.
        sections = 2 * np.arange(count)
        return self._told(self._bent_into(sections, -np.abs(self.swept), low, high), ITSELF)

    def _bent_into(self, sections: Ints, turned: Array, low: Array, high: Array) -> Array:
        """Give each bend's angle at which its bent end first enters its box, inf for never."""

        def keep(bends: Ints, places: Array, radii: Array) -> Bools:
            seen = self._seen(bends, places)
            return may_enter(seen, radii, turned[bends], low[bends], high[bends])

        bends, places = self.balls.pairs(sections, keep)
        seen = self._seen(bends, self.balls.places[places])
        entry = first_angle(seen, turned[bends], low[bends], high[bends])
        angles = np.full(len(sections), np.inf)
        np.minimum.at(angles, bends, entry)
        return angles

    @property
    def _axis(self) -> Array:
        return np.array([0.0, self.part.radius_mm, 0.0])

    @property
    def _bent_sections(self) -> Ints:
        return 2 * np.arange(len(self.swept)) + 1

    def _turned_and_lying(self) -> tuple[Array, Array]:
        """Give the angles by which the bent end and the straight tube go round."""
        still = np.zeros_like(self.swept)
        return (self.swept, still) if self.first_end_swings else (still, self.swept)

    def _seen(self, bends: Ints, places: Array) -> Array:
        """Give places of the part as they lie about each bend's axis when it begins."""
        frames = self.frames[bends]
        off = places - frames[:, :3, 3]
        return np.asarray((off[:, None, :] @ frames[:, :3, :3])[:, 0] - self._axis)

    def _straight_places(self, reach: Array) -> Array:
        line = np.zeros((len(reach), 3))
        line[:, 0] = reach
        return line - self._axis

    def _told(self, angles: Array, what: str) -> list[Clash]:
        return [
            Clash(int(bend) + 1, what, math.degrees(float(angles[bend])))
            for bend in np.isfinite(angles).nonzero()[0]
        ]
