"""The way that is left: bend angles, marks and turns still to come, from what came out so far."""

from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeAlias

from benchmate.bench.piece import Model, Piece, came_out, unread
from benchmate.errors import Refusal
from benchmate.layout.as_bent import AsBent
from benchmate.layout.distances import Distance
from benchmate.layout.plan_update import PlanUpdate


class Place(NamedTuple):
    """One bend of the part."""

    angle_deg: float
    mark_mm: float
    start_mm: float
    turn_deg: float
    arc_mm: float
    """Tube that its arc uses."""


class Course(NamedTuple):
    """The part's bends as they are to be made now, and what was changed, in sentences."""

    places: tuple[Place, ...] = ()
    told: tuple[str, ...] = ()
    doubt: str = ""
    """A distance that can't be so if the bends are as believed, in a sentence; empty: none."""
    cut_length_mm: float = 0.0
    lost: str = ""
    """How far the part's end stays from its place, in words; empty: next to nothing."""

    def start_of(self, index: int, mark_mm: float) -> float:
        """Give where the bend really starts when this is where its mark really is.

        Raises Refusal for a mark that would have the bend off the tube or in the bend before.
        """
        place = self.places[index]
        ahead = place.start_mm - place.mark_mm
        before = self.places[index - 1] if index else None
        least = (before.start_mm + before.arc_mm if before else 0.0) - ahead
        most = self.cut_length_mm - place.arc_mm - ahead
        if not least <= mark_mm <= most:
            raise Refusal(
                f"bend {index + 1} can't have its mark at {mark_mm:.1f} mm: that leaves no room on"
                f" the tube; from {max(least, 0.0):.1f} to {most:.1f} mm it can be, and"
                f" {place.mark_mm:.1f} was asked for"
            )
        return mark_mm + ahead

    def refuse_longer(self, distance: Distance) -> None:
        """Raise Refusal for a distance that is longer than the tube."""
        if distance.measured_mm > self.cut_length_mm:
            raise Refusal(
                f"no two points are {distance.measured_mm:.1f} mm apart on a tube of"
                f" {self.cut_length_mm:.1f} mm"
            )


CarryOn: TypeAlias = Callable[[Sequence[AsBent], Sequence[Distance], Model], PlanUpdate]
"""Plans the rest of the part from the bends done, in order, and the distances taped across them,
with the model as learned by now."""


def course(carry_on: CarryOn | None, done: Sequence[Piece], skipped: int, model: Model) -> Course:
    """Give the course after these pieces; ``skipped`` bends before them were not made here.

    Raises Refusal for a distance that no tape can have shown, and where there is no way left.
    """
    if carry_on is None:
        return Course()
    came = [AsBent()] * skipped + [_as_bent(piece) for piece in done]
    taped = [distance for piece in done for distance in piece.distances]
    carried = carry_on(came, taped, model)
    places = tuple(
        Place(bend.bend_angle_deg, bend.mark_mm, bend.start_mm, bend.turn_deg, bend.arc_mm)
        for bend in carried.plan.bends
    )
    cut_mm = carried.plan.cut_length_mm
    told = (*_guessed(done), *carried.told)
    return Course(places, told, carried.doubt, cut_mm, carried.lost)


class Way:
    """What plans the rest of the part: from what came out of the bends made here."""

    def __init__(self, carry_on: CarryOn | None, skipped: int) -> None:
        """``skipped`` bends of the part were not made here."""
        self._carry_on = carry_on
        self._skipped = skipped

    def trial(self, done: Sequence[Piece], model: Model) -> Course:
        """Give the course after these pieces; Refusal as ``course`` raises it."""
        return course(self._carry_on, done, self._skipped, model)

    def after(self, done: Sequence[Piece], model: Model, standing: Course) -> Course:
        """Give the course after these pieces; where none can be planned, the standing one."""
        try:
            return self.trial(done, model)
        except Refusal as refusal:
            return standing._replace(told=(f"nothing is planned anew: {refusal}",))


def _guessed(done: Sequence[Piece]) -> tuple[str, ...]:
    return tuple(
        f"bend {piece.number} was not measured: the rest is planned as if it came out as asked for"
        for piece in done
        if unread(piece)
    )


def _as_bent(piece: Piece) -> AsBent:
    return AsBent(angle_deg=came_out(piece), turn_deg=piece.turn_deg, start_mm=piece.start_mm)
