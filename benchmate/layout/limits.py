"""What can't be bent, or is doubtful, in plain words."""

from benchmate.layout.chain import Chain
from benchmate.layout.figures import Figures
from benchmate.shop.parts import Die, Tube

HOLD_DIAMETERS = 1.5
"""Straight that a clamp or hook wants before a bend, in outside diameters: common practice, no source."""
TIGHT_DIAMETERS = 3.0
"""Centreline radius in outside diameters under which many rule books refuse tube (3 x OD)."""
TOO_TIGHT_DIAMETERS = 2.0
"""Under this, tube with nothing inside it usually flattens or kinks: common practice, no source."""


def warnings_for(
    chain: Chain, starts_mm: list[float], die: Die, tube: Tube, figures: Figures
) -> tuple[str, ...]:
    """Give one plain sentence for each thing that the person should know before cutting tube."""
    return (
        *_fit(die, tube),
        *_straights(chain, die, tube),
        *_angles(chain, die),
        *_marks(starts_mm, figures),
    )


def _fit(die: Die, tube: Tube) -> list[str]:
    said = []
    if abs(die.for_od_mm - tube.od_mm) > 0.02 * tube.od_mm:
        said.append(
            f"die {die.die} is made for {die.for_od_mm:g} mm outside diameter,"
            f" tube {tube.tube} has {tube.od_mm:g} mm"
        )
    diameters = die.centreline_radius_mm / tube.od_mm
    if diameters < TOO_TIGHT_DIAMETERS:
        said.append(
            f"radius {die.centreline_radius_mm:g} mm is only {diameters:.1f} outside diameters:"
            " expect the tube to flatten or kink"
        )
    elif diameters < TIGHT_DIAMETERS - 1e-9:
        said.append(
            f"radius {die.centreline_radius_mm:g} mm is {diameters:.1f} outside diameters:"
            " many rule books ask for 3 or more, and the tube may flatten"
        )
    return said


def _straights(chain: Chain, die: Die, tube: Tube) -> list[str]:
    said = []
    hold = HOLD_DIAMETERS * tube.od_mm
    last = len(chain.angles_deg)
    for number, straight in enumerate(chain.straights_mm):
        if number == 0:
            where = "the straight before bend 1"
        elif number == last:
            where = f"the tail after bend {last}"
        else:
            where = f"the straight between bends {number} and {number + 1}"
        if straight < 0:
            said.append(
                f"{where} would be {straight:.1f} mm: the part can't be bent on die {die.die};"
                f" it needs {-straight:.1f} mm more there, or a smaller radius"
            )
        elif number == 0 and straight < hold:
            said.append(
                f"{where} is {straight:.1f} mm, little to hold; have {hold:.0f} mm or more"
                " and cut the end off afterwards"
            )
        elif 0 < number < last and straight < hold:
            said.append(
                f"{where} is {straight:.1f} mm: see that die and clamp can take it before cutting"
            )
    return said


def _angles(chain: Chain, die: Die) -> list[str]:
    return [
        f"bend {bend} of {angle:g} deg is more than die {die.die} does ({die.max_angle_deg:g} deg)"
        for bend, angle in enumerate(chain.angles_deg, start=1)
        if angle > die.max_angle_deg + 1e-9
    ]


def _marks(starts_mm: list[float], figures: Figures) -> list[str]:
    if not figures.start_offset_known:
        return [
            "the die's start offset is unknown: marks are at the start of bend itself;"
            " bend a trial piece to find it"
        ]
    return [
        f"the mark of bend {bend} falls {-(start - figures.start_offset_mm):.1f} mm off the tube's end:"
        " leave more tube before it and cut it off afterwards"
        for bend, start in enumerate(starts_mm, start=1)
        if start < figures.start_offset_mm
    ]
