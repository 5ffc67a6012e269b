"""What can't be bent, or is doubtful, in plain words."""

from typing import NamedTuple

from benchmate.layout.parameters import BendParameters
from benchmate.layout.tube_layout import TubeLayout
from benchmate.shop.parts import Die, Tube
from benchmate.units import LengthUnit, show_length

HOLD_DIAMETERS = 1.5
"""Straight that a clamp or hook wants, in outside diameters: common practice, no source."""
TIGHT_DIAMETERS = 3.0
"""Centreline radius in outside diameters under which many rule books refuse tube (3 x OD)."""
TOO_TIGHT_DIAMETERS = 2.0
"""Under this, tube with nothing inside it usually flattens or kinks: common practice, no source."""


def warnings_for(
    layout: TubeLayout,
    die: Die,
    tube: Tube,
    parameters: BendParameters,
    *,
    unit: LengthUnit = "mm",
) -> tuple[str, ...]:
    """Give one plain sentence for each thing that the person should know before cutting tube."""
    return (
        *_fit(die, tube, unit),
        *_straights(layout, die, tube, unit),
        *_stock(layout, tube, unit),
        *_angles(layout, die),
        *_marks(layout, parameters, unit),
    )


def _fit(die: Die, tube: Tube, unit: LengthUnit) -> list[str]:
    said = []
    if abs(die.for_od_mm - tube.od_mm) > 0.02 * tube.od_mm:
        said.append(
            f"die {die.die} is made for tube of {show_length(die.for_od_mm, unit)},"
            f" tube {tube.tube} has {show_length(tube.od_mm, unit)} outside diameter"
        )
    diameters = die.centreline_radius_mm / tube.od_mm
    radius = f"die {die.die}'s radius is {diameters:.1f} outside diameters"
    if diameters < TOO_TIGHT_DIAMETERS:
        said.append(f"{radius}: expect the tube to flatten or kink")
    elif diameters < TIGHT_DIAMETERS - 1e-9:
        said.append(f"{radius}: many rule books ask for 3 or more, and the tube may flatten")
    return said


class StraightsNeeded(NamedTuple):
    """Straights that a die needs, mm: as its file says, else a rule of thumb."""

    grip_mm: float
    between_mm: float
    tail_mm: float


def straights_needed(die: Die, tube: Tube) -> StraightsNeeded:
    """Give the straights that a die needs to hold this tube."""
    thumb = HOLD_DIAMETERS * tube.od_mm
    return StraightsNeeded(
        grip_mm=thumb if die.grip_mm is None else die.grip_mm,
        between_mm=thumb if die.between_mm is None else die.between_mm,
        tail_mm=0.0 if die.tail_mm is None else die.tail_mm,
    )


def _straights(layout: TubeLayout, die: Die, tube: Tube, unit: LengthUnit) -> list[str]:
    said = []
    needs = straights_needed(die, tube)
    last = len(layout.angles_deg)
    for number, straight in enumerate(map(float, layout.straights_mm)):
        where = f"the straight between bends {number} and {number + 1}"
        least = needs.between_mm
        if number == 0:
            where, least = "the straight before bend 1", needs.grip_mm
        elif number == last:
            where, least = f"the tail after bend {last}", needs.tail_mm
        length, wanted = show_length(straight, unit), show_length(least, unit)
        if straight < 0:
            said.append(
                f"{where} would be {length}: the part can't be bent like that on die {die.die};"
                f" it needs {show_length(-straight, unit)} more there, or a smaller radius"
            )
        elif straight < least and 0 < number < last:
            said.append(f"{where} is {length}: die and clamp want {wanted}; look before cutting")
        elif straight < least:
            said.append(
                f"{where} is {length}, little to hold: have {wanted} or more and cut the end off"
                " afterwards"
            )
    return said


def _stock(layout: TubeLayout, tube: Tube, unit: LengthUnit) -> list[str]:
    if tube.stock_mm is None or layout.cut_length_mm <= tube.stock_mm:
        return []
    length, stock = (show_length(float(mm), unit) for mm in (layout.cut_length_mm, tube.stock_mm))
    return [f"the cut length of {length} is more than the stock of tube {tube.tube}, {stock}"]


def _angles(layout: TubeLayout, die: Die) -> list[str]:
    return [
        f"bend {bend} of {angle:g} deg is more than die {die.die} does ({die.max_angle_deg:g} deg)"
        for bend, angle in enumerate(layout.angles_deg, start=1)
        if angle > die.max_angle_deg + 1e-9
    ]


def _marks(layout: TubeLayout, parameters: BendParameters, unit: LengthUnit) -> list[str]:
    if parameters.start_offset_from is None:
        return [
            "the die's start offset is unknown: marks are at the start of bend itself;"
            " bend a trial piece to find it"
        ]
    offset = parameters.start_offset_mm.value
    return [
        f"the mark of bend {bend} falls {show_length(offset - start, unit)} off the end:"
        " leave that much more tube before it and cut it off afterwards"
        for bend, start in enumerate(map(float, layout.starts_mm), start=1)
        if start < offset
    ]
