"""What trial pieces showed, and which to bend, in words and as plain data."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from benchmate.layout.trial_fit import shown
from benchmate.layout.trial_measurements import BY_FIELD
from benchmate.units import LengthUnit, show_about, show_length, show_on_tape
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.layout.trial_design import Suggestion
    from benchmate.layout.trial_fit import TrialAnswer
    from benchmate.shop.parts import Die, Tube


def suggested(
    wanted: "Suggestion", die: "Die", tube: "Tube", unit: LengthUnit, *, again: bool = False
) -> list[str]:
    """Give the piece to bend and what to measure of it; ``again``: another one is on record."""
    which = "bend another piece" if again else "the piece that tells most"
    offset, radius = (
        show_about(u, unit) for u in (wanted.start_offset_u_mm, wanted.free_radius_u_mm)
    )
    return [
        printable(f"die {die.die}, tube {tube.tube}: {which}", limit=200),
        f"  cut {show_on_tape(wanted.cut_length_mm, unit)},"
        f" mark at {show_on_tape(wanted.mark_mm, unit)}, bend to {wanted.angle_deg:g} deg",
        "  then measure:",
        *_lines(wanted.measure),
        f"  with these the start offset is known to {offset}, the radius to {radius}"
        " (one standard deviation)"
        if wanted.enough
        else "  it takes a second piece as well, of another angle: this die's bends are too short"
        " for one to tell",
    ]


def one_more(names: Sequence[str]) -> list[str]:
    """Give what else to measure of the piece at hand."""
    return ["measure of the last piece as well:", *_lines(names)]


def told(
    answer: "TrialAnswer", setup: "tuple[Die, Tube]", pieces: int, unit: LengthUnit
) -> list[str]:
    """Give start offset, radius and stretch, each with its bounds, and how all agrees."""
    die, tube = setup

    def length(name: str, value: float, u: float) -> str:
        return f"  {name:26} {show_length(value, unit)} +- {show_about(2 * u, unit)}"

    offset, radius, stretch = answer.start_offset_mm, answer.free_radius_mm, answer.stretch
    count = f"{pieces} piece{'s' if pieces > 1 else ''}"
    return [
        printable(f"die {die.die}, tube {tube.tube}, {count} (+- holds 19 times in 20)", limit=200),
        length("start offset", offset.value, offset.u),
        length("radius after springback", radius.value, radius.u),
        f"  {'stretch':26} {100 * stretch.value:.2f} % +- {200 * stretch.u:.2f} %"
        if stretch
        else f"  {'stretch':26} not told by these pieces, taken as 0 +- 2 %",
        *compared(answer, unit),
    ]


def compared(answer: "TrialAnswer", unit: LengthUnit) -> list[str]:
    """Set each measurement that others check beside what they make it."""
    checked = [each for each in answer.residuals if each.normalised]
    if not checked:
        return ["  nothing here checks anything else: measure more, or bend a second piece"]
    return [
        "  piece  measurement              measured  the others say",
        *(
            f"  {each.piece:5}  {each.what:22} {shown(each.what, each.measured, unit):>10}"
            f" {shown(each.what, each.others, unit):>15}"
            for each in checked
        ),
    ]


def as_json(answer: "TrialAnswer", die: "Die", tube: "Tube", pieces: int) -> dict[str, Any]:
    """Give the answer as plain data, lengths in mm."""
    return {
        "die": die.die,
        "tube": tube.tube,
        "pieces": pieces,
        "start_offset_mm": answer.start_offset_mm.value,
        "start_offset_u_mm": answer.start_offset_mm.u,
        "free_radius_mm": answer.free_radius_mm.value,
        "free_radius_u_mm": answer.free_radius_mm.u,
        "stretch": answer.stretch.value if answer.stretch else None,
        "stretch_u": answer.stretch.u if answer.stretch else None,
        "residuals": [each._asdict() for each in answer.residuals],
        "improbable": answer.outlier,
    }


def _lines(names: Sequence[str]) -> list[str]:
    return [
        f"    --{taken.word:9} {taken.what}" for taken in BY_FIELD.values() if taken.field in names
    ]
