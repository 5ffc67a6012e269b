"""Ask for trial pieces at the terminal, until what was measured tells what is wanted."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from benchmate.errors import Refusal
from benchmate.layout.trial_design import still_to_measure, suggest
from benchmate.layout.trial_fit import (
    Accuracy,
    TooLittle,
    TrialAnswer,
    TrialPiece,
    fits,
    refuse_piece,
    solve,
)
from benchmate.layout.trial_measurements import BY_FIELD, MEASUREMENTS, Measurement
from benchmate.prompts.trial_input import as_file, measured, piece_of
from benchmate.reports.trial_table import one_more, suggested
from benchmate.units import LengthUnit

if TYPE_CHECKING:
    from benchmate.layout.trial_design import Suggestion
    from benchmate.shop.parts import Die, Tube

LENGTHS = {
    "mm": "lengths in mm, or as 7/8 in",
    "in": "lengths in inches, as 11.75; or as 298 mm",
    "frac": "lengths in inches, as 11-3/4; or as 298 mm",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialSetup:
    """The setup that pieces are bent on, and how they are measured."""

    die: "Die"
    tube: "Tube"
    radius_mm: float
    """Free radius that drawing and springback give."""
    accuracy: Accuracy
    unit: LengthUnit
    before: tuple[TrialPiece, ...]
    """Pieces kept from earlier days."""

    def solved(self, new: Sequence[TrialPiece]) -> TrialAnswer:
        """Work the pieces out, with those kept before."""
        pieces = (*self.before, *new)
        return solve(pieces, self.tube.od_mm, self.radius_mm, self.accuracy, self.unit)

    def lacking(self, new: Sequence[TrialPiece]) -> tuple[str, ...]:
        """Name what else to measure of the last piece; none: it takes another piece."""
        pieces = (*self.before, *new)
        return still_to_measure(pieces, self.die, self.tube, self.radius_mm, self.accuracy)

    def advice(self, new: Sequence[TrialPiece]) -> list[str]:
        """Give the lines that say what to measure, or which piece to bend, so that it is enough."""
        names = self.lacking(new)
        if names:
            return one_more(names)
        return suggested(self.wanted(new), self.die, self.tube, self.unit, again=True)

    def wanted(self, new: Sequence[TrialPiece] = ()) -> "Suggestion":
        """Give the piece that would tell most after these."""
        return suggest(
            self.die,
            self.tube,
            self.radius_mm,
            done=(*self.before, *new),
            accuracy=self.accuracy,
            unit=self.unit,
        )


def asked(trial: TrialSetup) -> list[TrialPiece]:
    """Ask for pieces, one after the other, and for more while they can't tell; [] for none.

    Refusal, with what was typed as lines for ``--file``, when the person ends it too early.
    """
    print(f"{LENGTHS[trial.unit]}; an empty answer: not measured; an empty bend angle: done")
    new: list[TrialPiece] = []
    while (piece := _asked_piece(trial.unit, len(trial.before) + len(new) + 1)) is not None:
        new.append(piece)
    while new and (short := _short_of(trial, new)):
        print(
            "\n".join([f"not enough yet: {short}; what you typed is kept here", *trial.advice(new)])
        )
        more = _asked_more(trial, new)
        if more is None:
            kept = "\n".join(as_file(new, trial.unit))
            raise Refusal(f"{short}; nothing was kept. What you typed, for --file:\n{kept}")
        new = more
    return new


def _short_of(trial: TrialSetup, new: Sequence[TrialPiece]) -> str:
    try:
        trial.solved(new)
    except TooLittle as too_little:
        return str(too_little)
    return ""


def _asked_more(trial: TrialSetup, new: list[TrialPiece]) -> list[TrialPiece] | None:
    """Ask for what is lacking of the last piece, else for another piece; None: neither came."""
    added = new[-1]
    for name in trial.lacking(new):
        value = _answer(BY_FIELD[name], trial.unit)
        added = added if value is None else replace(added, **{name: value})
    sound = _sound(added, len(trial.before) + len(new), trial.unit)
    if sound is not None and sound != new[-1]:
        return [*new[:-1], sound]
    print("  another piece, or an empty bend angle to end here")
    piece = _asked_piece(trial.unit, len(trial.before) + len(new) + 1)
    return None if piece is None else [*new, piece]


def _asked_piece(unit: LengthUnit, number: int) -> TrialPiece | None:
    while (angle := _answer(MEASUREMENTS[0], unit)) is not None:
        values = {"angle": angle}
        for taken in MEASUREMENTS[1:]:
            if fits(taken.field, angle) and (value := _answer(taken, unit)) is not None:
                values[taken.word] = value
        if piece := _sound(piece_of(values), number, unit):
            return piece
    return None


def _sound(piece: TrialPiece, number: int, unit: LengthUnit) -> TrialPiece | None:
    """Give the piece back, or say what is wrong with it and give None."""
    try:
        refuse_piece(number, piece, unit)
    except Refusal as refusal:
        print(f"  {refusal}; once more, this piece")
        return None
    return piece


def _answer(taken: Measurement, unit: LengthUnit) -> float | None:
    while True:
        try:
            written = input(f"  {taken.what}: ").strip()
        except EOFError:
            return None
        if not written:
            return None
        try:
            return measured(taken.word, written, unit)
        except Refusal as refusal:
            print(f"  {refusal}")
