"""Which trial piece to bend next, and what to measure of it, so that it tells most."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations

from benchmate.layout.centreline import Array
from benchmate.layout.feasibility import HOLD_DIAMETERS
from benchmate.layout.trial_fit import NEEDS, Accuracy, TrialPiece, covariance_of, fits, tells
from benchmate.shop.parts import Die, Tube
from benchmate.units import LengthUnit

LEG_MM = 150.0
"""Straight left beyond arc and hold, so that a square and a protractor find something to lie on."""
ROUND_MM = {"mm": 10.0, "in": 12.7, "frac": 12.7}
"""Mark and cut length are whole centimetres, or half inches."""
CANDIDATES_DEG = (180.0, 120.0, 90.0, 45.0)
STEP_DEG = 5.0
FURTHEST_CORNER_DEG = 130.0
"""Bend angle past which the legs' outsides meet too far off to find their corner by a straightedge
(our own limit: the corner lies two radii out)."""
SAME_DEG = 10.0
"""At 90 degrees, give or take this, corner and back of the bend lie at one place."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Suggestion:
    """A piece to bend: cut length, mark, bend angle, and what it would leave uncertain."""

    cut_length_mm: float
    mark_mm: float
    angle_deg: float
    measure: tuple[str, ...]
    """Names of the measurements to take, as in ``TrialPiece``."""
    start_offset_u_mm: float
    free_radius_u_mm: float
    enough: bool
    """Whether it tells start offset and radius, with the pieces measured before."""


def suggest(
    die: Die,
    tube: Tube,
    free_radius_mm: float,
    *,
    done: Sequence[TrialPiece] = (),
    accuracy: Accuracy | None = None,
    unit: LengthUnit = "mm",
) -> Suggestion:
    """Choose the piece that leaves marks least uncertain, given the pieces already measured.

    Each candidate is worked through with everything that a tape finds on it; the one wins whose
    start offset and radius together leave the mark after a 90 degree bend least uncertain.
    """
    furthest = math.floor(die.max_angle_deg / STEP_DEG) * STEP_DEG or die.max_angle_deg
    angles = dict.fromkeys([*(c for c in CANDIDATES_DEG if c <= die.max_angle_deg), furthest])
    options = [
        _weighed(
            whole_piece(angle, die, tube, free_radius_mm, unit),
            [*done],
            tube.od_mm,
            free_radius_mm,
            accuracy or Accuracy(),
        )
        for angle in angles
        if angle == CANDIDATES_DEG[0] or angle <= FURTHEST_CORNER_DEG
    ]
    return min(options, key=_uncertainty)


def still_to_measure(
    pieces: Sequence[TrialPiece], die: Die, tube: Tube, free_radius_mm: float, accuracy: Accuracy
) -> tuple[str, ...]:
    """Name what else to measure of the last piece so that the pieces tell; none: nothing would.

    The fewest that do, by name as in ``TrialPiece``, with the mark or cut length that they rest on.
    """
    last = pieces[-1]
    whole = whole_piece(last.angle_deg, die, tube, free_radius_mm)
    enough = []
    for names in _more(last, whole):
        added = replace(last, **{name: getattr(whole, name) for name in names})
        covariance = covariance_of([*pieces[:-1], added], tube.od_mm, free_radius_mm, accuracy)
        if tells(covariance, free_radius_mm, accuracy):
            enough.append((len(names), round(_mark_u(covariance), 3), names))
    # Of equals the first: a width is easier to measure than a gap.
    return min(enough, key=lambda each: each[:2], default=(0, 0.0, ()))[2]


def _more(piece: TrialPiece, whole: TrialPiece) -> Iterator[tuple[str, ...]]:
    """Give what could be measured besides, one thing and then two, with what each rests on."""
    open_ones = [
        name
        for name in TrialPiece.__dataclass_fields__
        if getattr(piece, name) is None and getattr(whole, name) is not None
    ]
    taken = [name for name in open_ones if name not in ("mark_mm", "cut_length_mm")]
    for count in (1, 2):
        for names in combinations(taken, count):
            needs = {need for name in names for need in NEEDS.get(name, ())}
            yield tuple(name for name in open_ones if name in needs or name in names)


def whole_piece(
    angle_deg: float, die: Die, tube: Tube, free_radius_mm: float, unit: LengthUnit = "mm"
) -> TrialPiece:
    """Give a piece of this angle with all that can be measured on it, as drawn."""
    straight = HOLD_DIAMETERS * tube.od_mm + LEG_MM
    offset = die.start_offset_mm or 0.0
    mark = _rounded(straight, unit)
    arc = free_radius_mm * math.radians(angle_deg)
    cut = _rounded(mark + offset + arc + straight, unit)
    near, far = mark + offset, cut - mark - offset - arc
    outer = free_radius_mm + tube.od_mm / 2
    piece = TrialPiece(angle_deg=angle_deg, mark_mm=mark, cut_length_mm=cut)
    backs = fits("back_mm", angle_deg)
    if angle_deg <= FURTHEST_CORNER_DEG and not (backs and abs(angle_deg - 90.0) <= SAME_DEG):
        corner = outer * math.tan(math.radians(angle_deg) / 2)
        piece = replace(piece, leg_mm=near + corner, far_leg_mm=far + corner)
    if backs:
        piece = replace(piece, back_mm=near + outer, far_back_mm=far + outer)
    if fits("width_mm", angle_deg):
        across = 1 - math.cos(math.radians(angle_deg))
        inner = outer - tube.od_mm
        piece = replace(piece, width_mm=outer * across, gap_mm=inner * across)
    return piece


def _weighed(
    piece: TrialPiece, done: list[TrialPiece], od_mm: float, radius_mm: float, accuracy: Accuracy
) -> Suggestion:
    covariance = covariance_of([*done, piece], od_mm, radius_mm, accuracy)
    taken = tuple(
        name
        for name in TrialPiece.__dataclass_fields__
        if name.endswith("_mm") and getattr(piece, name) is not None
    )
    return Suggestion(
        cut_length_mm=piece.cut_length_mm or 0.0,
        mark_mm=piece.mark_mm or 0.0,
        angle_deg=piece.angle_deg,
        measure=("angle_deg", *taken),
        start_offset_u_mm=math.sqrt(covariance[0, 0]),
        free_radius_u_mm=math.sqrt(covariance[1, 1]),
        enough=tells(covariance, radius_mm, accuracy),
    )


def _uncertainty(option: Suggestion) -> float:
    return math.hypot(option.start_offset_u_mm, option.free_radius_u_mm * math.pi / 2)


def _mark_u(covariance: Array) -> float:
    """Give what start offset and radius leave uncertain of the mark after a square bend, mm."""
    return math.hypot(math.sqrt(covariance[0, 0]), math.sqrt(covariance[1, 1]) * math.pi / 2)


def _rounded(length_mm: float, unit: LengthUnit) -> float:
    return math.ceil(length_mm / ROUND_MM[unit] - 1e-9) * ROUND_MM[unit]
