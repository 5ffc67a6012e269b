"""Turn, mark and distances across the part, as a person measured them after a bend. Pure."""

from collections.abc import Callable
from dataclasses import replace

from benchmate import stream
from benchmate.bench.course import Course
from benchmate.bench.piece import Piece
from benchmate.errors import Refusal
from benchmate.layout.distances import Distance

Trial = Callable[[Piece], Course]
"""Plans on with the piece as it is; Refusal when that can't be."""


def placed(piece: Piece, command: stream.Command, way: Course, trial: Trial) -> tuple[Piece, str]:
    """Give the piece with what was measured, and what to know of that, else an empty sentence.

    Raises Refusal for a mark, or a distance, that can't be.
    """
    match command:
        case stream.Command("turned", (turn,)):
            return replace(piece, turn_deg=turn), ""
        case stream.Command("marked", (mark,)):
            return replace(piece, start_mm=way.start_of(piece.index, mark)), ""
        case stream.Command("taped", (one, other, measured)):
            taped = Distance(one=int(one), other=int(other), measured_mm=measured)
            way.refuse_longer(taped)
            with_it = replace(piece, distances=(*piece.distances, taped))
            return with_it, trial(with_it).doubt
    raise ValueError(f"{command.word} measures no place")


def as_said(command: stream.Command) -> str:
    """Give a command as it was understood: "marked 251.5"."""
    return " ".join([command.word, *(f"{number:g}" for number in command.numbers)])


def end_of_part(piece: Piece, trial: Trial) -> str:
    """Say where the part ends after its last bend, after the verdict's own advice.

    Empty where it ends as it should, where the bend isn't done, and where nobody can tell.
    """
    if piece.verdict is None or piece.verdict.verdict not in ("accept", "over"):
        return ""
    try:
        lost = trial(piece).lost
    except Refusal:
        return ""
    return f"{piece.verdict.advice} The part's end is {lost}.".strip() if lost else ""
