"""A tape's divisions and a trial piece's legs against the rules that everybody uses."""

import math

import numpy as np
import pytest

from benchmate.layout.centreline import Centreline
from benchmate.layout.tape import _rounded
from benchmate.layout.trial_fit import TrialPiece, solve


@pytest.mark.parametrize(
    ("length", "division", "rounded"),
    [(1041.6, 1.0, 1042.0), (1041.4, 1.0, 1041.0), (12.223, 0.1, 12.2), (12.275, 0.1, 12.3)],
)
def test_a_length_is_rounded_to_the_nearest_division(
    length: float, division: float, rounded: float
) -> None:
    """Source: ISO 80000-1, annex B, "Rounding of numbers": the nearest multiple of the range.

    12.223 to 12.2 and 12.275 to 12.3 with a rounding range of 0.1 are its examples (from memory).
    """
    assert float(_rounded(np.array(length), division)) == pytest.approx(rounded, abs=1e-9)


def test_legs_of_trial_pieces_reach_to_the_outside_setback() -> None:
    """An outside leg is its straight and the outside setback (R + D/2) tan(a/2).

    Source: outside setback, Machinery's Handbook, section on bending of sheet and tube (from
    memory): OSSB = (R + T) tan(A/2) with R + T the outside radius.
    """
    od, radius, offset, cut = 25.0, 76.5, 4.0, 700.0
    pieces = []
    for angle, mark in ((90.0, 220.0), (120.0, 230.0)):
        setback = (radius + od / 2) * math.tan(math.radians(angle) / 2)
        near = mark + offset
        far = cut - near - radius * math.radians(angle)
        pieces.append(
            TrialPiece(
                angle_deg=angle,
                mark_mm=mark,
                cut_length_mm=cut,
                leg_mm=near + setback,
                far_leg_mm=far + setback,
            )
        )
    answer = solve(pieces, od, 75.0)
    assert answer.start_offset_mm.value == pytest.approx(offset, abs=0.05)
    assert answer.free_radius_mm.value == pytest.approx(radius, abs=0.05)
    part = Centreline((300.0, 200.0), (0.0,), (90.0,), radius)
    assert part.arcs_mm[0] == pytest.approx(radius * math.pi / 2)
