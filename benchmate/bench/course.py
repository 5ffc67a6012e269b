"""The way that is left: bend angles, marks and turns still to come, from what came out so far."""

from collections.abc import Callable, Sequence
from typing import NamedTuple, TypeAlias

from benchmate.bench.piece import Model, Piece, came_out, unread
from benchmate.layout.asbent import AsBent
from benchmate.layout.carry_on import CarriedOn
from benchmate.layout.distances import Distance


class Place(NamedTuple):
    """One bend of the part."""

    angle_deg: float
    mark_mm: float
    start_mm: float
    turn_deg: float


class Course(NamedTuple):
    """The part's bends as they are to be made now, and what was changed, in sentences."""

    places: tuple[Place, ...] = ()
    told: tuple[str, ...] = ()


CarryOn: TypeAlias = Callable[[Sequence[AsBent], Sequence[Distance], Model], CarriedOn]
"""Plans the rest of the part from the bends done, in order, and the distances taped across them,
with the model as learned by now."""


def course(carry_on: CarryOn | None, done: Sequence[Piece], skipped: int, model: Model) -> Course:
    """Give the course after these pieces; ``skipped`` bends before them were not made here."""
    if carry_on is None:
        return Course()
    came = [AsBent()] * skipped + [_as_bent(piece) for piece in done]
    taped = [distance for piece in done for distance in piece.distances]
    carried = carry_on(came, taped, model)
    places = tuple(
        Place(bend.bend_angle_deg, bend.mark_mm, bend.start_mm, bend.turn_deg)
        for bend in carried.plan.bends
    )
    return Course(places, (*_guessed(done), *carried.told))


def _guessed(done: Sequence[Piece]) -> tuple[str, ...]:
    return tuple(
        f"bend {piece.number} was not measured: the rest is planned as if it came out as asked for"
        for piece in done
        if unread(piece)
    )


def _as_bent(piece: Piece) -> AsBent:
    return AsBent(angle_deg=came_out(piece), turn_deg=piece.turn_deg, start_mm=piece.start_mm)
