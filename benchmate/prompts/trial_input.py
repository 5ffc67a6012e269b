"""Measurements of trial pieces, read from words or a file."""

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from benchmate import units
from benchmate.errors import Refusal
from benchmate.layout.trial_measurements import BY_WORD, MEASUREMENTS, Measurement
from benchmate.units import LengthUnit
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.trial_fit import TrialPiece


def piece_of(values: Mapping[str, float]) -> "TrialPiece":
    """Make a piece of values by their options' words."""
    from benchmate.layout.trial_fit import TrialPiece

    return TrialPiece(**{BY_WORD[word].field: value for word, value in values.items()})


def measured(word: str, written: str, unit: LengthUnit) -> float:
    """Read one measurement; a bare length is in the shop's unit. Refusal for what is none."""
    value = read(f"--{word}", written, None if word == "angle" else unit)
    if value <= 0:
        raise Refusal(f"--{word}: {printable(written)} is no measurement; give one above 0")
    return value


def read(option: str, written: str, unit: LengthUnit | None) -> float:
    """Read a length in this unit unless it names its own, or with None an angle in degrees."""
    try:
        return units.angle_deg(written) if unit is None else units.length_mm(written, unit)
    except ValueError as error:
        raise Refusal(f"{option}: {error}") from error


def from_file(path: Path, unit: LengthUnit) -> "list[TrialPiece]":
    """Read a YAML list of pieces, each with the options' words as keys (far_leg for far-leg).

    A bare length is mm as in every file; in a shop that writes inches it is refused, since there it
    may well have been meant as inches.
    """
    from benchmate.shop.field_readers import Report, Row, Table, list_of, table_of, value_of
    from benchmate.shop.nodes import UnreadableError, read_nodes

    def length(written: str | float) -> float:
        bare = not isinstance(written, str) or units.is_bare(written)
        if bare and unit != "mm":
            raise ValueError(f"{written} has no unit; write {written} in or {written} mm")
        return units.length_mm(written)

    table: Table[Any] = Table(
        dict,
        tuple(
            Row(
                taken.word.replace("-", "_"),
                taken.word,
                value_of(units.angle_deg if taken.word == "angle" else length),
                needed=taken.word == "angle",
            )
            for taken in MEASUREMENTS
        ),
    )
    report = Report(printable(str(path), limit=400))
    try:
        found = list_of(table_of(table), 1, 20)(read_nodes(path), "piece", report)
    except UnreadableError as error:
        report.say(error.line, "", error.says)
    if report.problems or found is None:
        raise Refusal("\n".join(map(str, report.problems)))
    return [piece_of(values) for values in found]


def as_file(pieces: "list[TrialPiece]", unit: LengthUnit) -> list[str]:
    """Write pieces as the file's lines, to be taken up again with ``--file``."""

    def told(taken: Measurement, value: float) -> str:
        if taken.word == "angle":
            return f"angle: {value:g}"
        # Exact to a hundredth of a mm whichever unit: it is to be read back.
        length = f"{value:.2f} mm" if unit == "mm" else f"{value / 25.4:.4f} in"
        return f"{taken.word.replace('-', '_')}: {length}"

    return [
        "- {"
        + ", ".join(
            told(taken, value)
            for taken in MEASUREMENTS
            if (value := getattr(piece, taken.field)) is not None
        )
        + "}"
        for piece in pieces
    ]
