"""The rest of the part: bend angles, marks and turns still to come, from what came out so far.

Pure. Turns, marks and distances across the part that a person measured count as measured.
"""

from collections.abc import Sequence
from typing import NamedTuple

from benchmate.bench.session.bend import OpenBend, came_out, unread
from benchmate.bench.session.task import Model, Task
from benchmate.errors import Refusal
from benchmate.layout.as_bent import AsBent
from benchmate.layout.distances import Distance


class BendOnTube(NamedTuple):
    """One bend of the part, where it is on the tube."""

    angle_deg: float
    mark_mm: float
    start_mm: float
    turn_deg: float
    arc_mm: float
    """Tube that its arc uses."""


class TubePlan(NamedTuple):
    """The part's bends as they are to be made now, and what was changed, in sentences."""

    bends: tuple[BendOnTube, ...] = ()
    """Empty: nothing is known of the part but its bend angles."""
    told: tuple[str, ...] = ()
    doubt: str = ""
    """A distance that can't be so if the bends are as estimated, in a sentence; empty: none."""
    cut_length_mm: float = 0.0
    lost: str = ""
    """How far the part's end stays from its place, in words; empty: next to nothing."""

    def start_of(self, index: int, mark_mm: float) -> float:
        """Give where the bend really starts when this is where its mark really is.

        Raises Refusal for a mark that would have the bend off the tube or in the bend before.
        """
        bend = self.bends[index]
        ahead = bend.start_mm - bend.mark_mm
        before = self.bends[index - 1] if index else None
        least = (before.start_mm + before.arc_mm if before else 0.0) - ahead
        most = self.cut_length_mm - bend.arc_mm - ahead
        if not least <= mark_mm <= most:
            raise Refusal(
                f"bend {index + 1} can't have its mark at {mark_mm:.1f} mm: that leaves no room on"
                f" the tube; from {max(least, 0.0):.1f} to {most:.1f} mm it can be, and"
                f" {bend.mark_mm:.1f} was asked for"
            )
        return mark_mm + ahead

    def refuse_longer(self, distance: Distance) -> None:
        """Raise Refusal for a distance that is longer than the tube."""
        if distance.measured_mm > self.cut_length_mm:
            raise Refusal(
                f"no two points are {distance.measured_mm:.1f} mm apart on a tube of"
                f" {self.cut_length_mm:.1f} mm"
            )


def replanned(task: Task, done: Sequence[OpenBend], model: Model) -> TubePlan:
    """Give the plan after these bends; those before the task's first were not made here.

    Raises Refusal for a distance that no tape can have shown, and where there is no way left.
    """
    if task.replan is None:
        return TubePlan()
    came = [AsBent()] * (task.first_bend - 1) + [_as_bent(bend) for bend in done]
    taped = [distance for bend in done for distance in bend.distances]
    carried = task.replan(came, taped, model)
    bends = tuple(
        BendOnTube(bend.bend_angle_deg, bend.mark_mm, bend.start_mm, bend.turn_deg, bend.arc_mm)
        for bend in carried.plan.bends
    )
    told = (*_not_measured(done), *carried.told)
    return TubePlan(bends, told, carried.doubt, carried.plan.cut_length_mm, carried.lost)


def replanned_or(
    standing: TubePlan, task: Task, done: Sequence[OpenBend], model: Model
) -> TubePlan:
    """Give the plan after these bends; where there is none, the standing one."""
    try:
        return replanned(task, done, model)
    except Refusal as refusal:
        return standing._replace(told=(f"nothing is planned anew: {refusal}",))


def _not_measured(done: Sequence[OpenBend]) -> tuple[str, ...]:
    return tuple(
        f"bend {bend.number} was not measured: the rest is planned as if it came out as asked for"
        for bend in done
        if unread(bend)
    )


def _as_bent(bend: OpenBend) -> AsBent:
    return AsBent(angle_deg=came_out(bend), turn_deg=bend.turn_deg, start_mm=bend.start_mm)
