"""Which trial piece to bend next, so that it tells most."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from benchmate.layout.limits import HOLD_DIAMETERS
from benchmate.layout.trial import Accuracy, Piece, covariance_of
from benchmate.shop.parts import Die, Tube

LEG_MM = 150.0
"""Straight left beyond arc and hold, so that a square and a protractor find something to lie on."""
ROUND_MM = 10.0
CANDIDATES_DEG = (180.0, 90.0, 45.0, 120.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """A piece to bend: cut length, mark, bend angle, and what it would leave uncertain."""

    cut_length_mm: float
    mark_mm: float
    angle_deg: float
    measure: tuple[str, ...]
    """Names of the measurements to take, as in ``Piece``."""
    start_offset_u_mm: float
    free_radius_u_mm: float


def suggest(
    die: Die,
    tube: Tube,
    free_radius_mm: float,
    *,
    done: Sequence[Piece] = (),
    accuracy: Accuracy | None = None,
) -> Suggestion:
    """Choose the piece that leaves marks least uncertain, given the pieces already measured.

    Each candidate is worked through with everything that a tape finds on it; the one wins whose
    start offset and radius together leave the mark after a 90 degree bend least uncertain.
    """
    angles = [angle for angle in CANDIDATES_DEG if angle <= die.max_angle_deg]
    options = [
        _weighed(
            whole_piece(angle, die, tube, free_radius_mm),
            [*done],
            tube.od_mm,
            free_radius_mm,
            accuracy or Accuracy(),
        )
        for angle in angles or [die.max_angle_deg]
    ]
    return min(options, key=_uncertainty)


def whole_piece(angle_deg: float, die: Die, tube: Tube, free_radius_mm: float) -> Piece:
    """Give a piece of this angle with all that can be measured on it, as drawn."""
    straight = HOLD_DIAMETERS * tube.od_mm + LEG_MM
    offset = die.start_offset_mm or 0.0
    mark = _rounded(straight)
    arc = free_radius_mm * math.radians(angle_deg)
    cut = _rounded(mark + offset + arc + straight)
    near, far = mark + offset, cut - mark - offset - arc
    outer = free_radius_mm + tube.od_mm / 2
    piece = Piece(angle_deg=angle_deg, mark_mm=mark, cut_length_mm=cut)
    if angle_deg < 90:
        corner = outer * math.tan(math.radians(angle_deg) / 2)
        return replace(piece, leg_mm=near + corner, far_leg_mm=far + corner)
    piece = replace(piece, back_mm=near + outer, far_back_mm=far + outer)
    if angle_deg < 120:
        return piece
    across = 1 - math.cos(math.radians(angle_deg))
    return replace(piece, width_mm=outer * across, gap_mm=(outer - tube.od_mm) * across)


def _weighed(
    piece: Piece, done: list[Piece], od_mm: float, radius_mm: float, accuracy: Accuracy
) -> Suggestion:
    covariance = covariance_of([*done, piece], od_mm, radius_mm, accuracy)
    taken = tuple(
        name
        for name in Piece.__dataclass_fields__
        if name.endswith("_mm") and getattr(piece, name) is not None
    )
    return Suggestion(
        cut_length_mm=piece.cut_length_mm or 0.0,
        mark_mm=piece.mark_mm or 0.0,
        angle_deg=piece.angle_deg,
        measure=("angle_deg", *taken),
        start_offset_u_mm=math.sqrt(covariance[0, 0]),
        free_radius_u_mm=math.sqrt(covariance[1, 1]),
    )


def _uncertainty(option: Suggestion) -> float:
    return math.hypot(option.start_offset_u_mm, option.free_radius_u_mm * math.pi / 2)


def _rounded(length_mm: float) -> float:
    return math.ceil(length_mm / ROUND_MM) * ROUND_MM
