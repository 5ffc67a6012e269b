"""What can be measured of a trial piece, each with the words that ask for it."""

from typing import NamedTuple


class Measurement(NamedTuple):
    """One thing that can be measured of a piece: its option, field and words."""

    word: str
    field: str
    what: str


MEASUREMENTS = (
    Measurement("angle", "angle_deg", "bend angle, by protractor"),
    Measurement("mark", "mark_mm", "first end to layout mark, before bending"),
    Measurement("cut", "cut_length_mm", "cut length of the straight tube"),
    Measurement(
        "leg", "leg_mm", "first end to where the legs' outsides would meet (up to 150 deg)"
    ),
    Measurement("far-leg", "far_leg_mm", "the other end to where the legs' outsides would meet"),
    Measurement(
        "back", "back_mm", "first end to the back of the bend, square to it (90 deg or more)"
    ),
    Measurement("far-back", "far_back_mm", "the other end to the back of the bend"),
    Measurement(
        "width", "width_mm", "over the outsides of a U's legs, where the bend ends (170 or more)"
    ),
    Measurement("gap", "gap_mm", "between the insides of a U's legs, where the bend ends"),
)
BY_FIELD = {taken.field: taken for taken in MEASUREMENTS}
BY_WORD = {taken.word: taken for taken in MEASUREMENTS}
