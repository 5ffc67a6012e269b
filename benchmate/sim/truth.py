"""What a die, a steel, a lot and a piece really do: drawn once, from their names."""

import math

from benchmate.metal import released_per_mm, section_of, springback_per_degree, steel_of
from benchmate.shop.parts import Die, Tube
from benchmate.sim.draws import chance
from benchmate.sim.tube import Truth

_PIECE_SHARE_SD, _PIECE_SD_DEG = 0.015, 0.12
_SLACK_DEG = (0.3, 2.7)
_LEGS_PER_OD = (0.4, 1.8)
_STRONGER, _GRADE_SD = 1.08, 0.10
"""Steel against the strengths that its tube file promises."""
_LOT_SD, _DIE_SD = 0.07, 0.05


def draw_truth(seed: int, die: Die, tube: Tube, lot: str) -> Truth:
    """Draw the setup: the same seed and names give the same truth in every run.

    Mechanics gives the middle; the steel, the lot and the die differ from it by some percent each.
    """
    of_die = chance(seed, "die", die.die)
    slack = float(of_die.uniform(*_SLACK_DEG))
    legs_mm = die.for_od_mm * float(of_die.uniform(*_LEGS_PER_OD))
    stiffer = _STRONGER + _GRADE_SD * chance(seed, "grade", tube.grade).standard_normal()
    stiffer *= 1.0 + _LOT_SD * chance(seed, "lot", tube.tube, lot).standard_normal()
    stiffer *= 1.0 + _DIE_SD * of_die.standard_normal()
    if die.slack_deg is not None:
        slack = max(0.0, die.slack_deg + 0.05 * float(of_die.standard_normal()))
    radius = die.centreline_radius_mm
    released = released_per_mm(section_of(tube), steel_of(tube), radius)
    return Truth(
        slack_deg=slack,
        legs_deg=math.degrees(legs_mm * released),
        share=springback_per_degree(radius, released) * float(stiffer),
    )


def draw_piece(seed: int, *names: object) -> tuple[float, float]:
    """Draw one piece's own part: degrees, and share of its springback."""
    drawn = chance(seed, "piece", *names).standard_normal(2)
    return float(_PIECE_SD_DEG * drawn[0]), float(_PIECE_SHARE_SD * drawn[1])
