"""What trial pieces tell of a setup: start offset, radius after springback, stretch.

A piece is one bend in a marked length of tube. With D the tube's outside diameter, m the mark, L
the cut length, t the bend angle, o the start offset, R the free radius and e the stretch, its
straights are s = m + o and s' = L - s - R t (1 - e), and a tape finds

    leg, far leg     s + (R + D/2) tan(t/2)     to where the outsides of the legs would meet
    back, far back   s + (R + D/2)              to the back of the bend, t >= 90
    width            (R + D/2) (1 - cos t)      over the outsides of a U's legs, where the bend ends
    gap              (R - D/2) (1 - cos t)      between the insides there

(s' in place of s for the far ones). All that was measured, mark, cut length and angle too, is
adjusted together by weighted least squares, each with its own standard uncertainty; the covariance
is the inverse normal matrix (JCGM 100:2008, 5.2, and JCGM 102:2011, 6.2).
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import NamedTuple

import numpy as np

from benchmate.errors import Refusal
from benchmate.layout.centreline import Array
from benchmate.layout.parameters import UncertainValue
from benchmate.measurement import IMPROBABLE_SDS
from benchmate.units import LengthUnit, show_length

STRETCH_ALLOWED = 0.01
"""Standard uncertainty of the stretch before anything is measured (our own allowance)."""
RADIUS_ENOUGH = 0.03
"""Relative uncertainty of the radius above which pieces count as not telling it,"""
LENGTHS_ENOUGH = 4.0
"""or so many times a length's own, whichever is more (a single L leaves 5 times and 4 %)."""
OFFSET_ENOUGH_MM = 4.0
"""Uncertainty of the start offset above which pieces count as not telling it."""
UNCHECKED = 1e-6
"""Share of its own variance under which a measurement is checked by no other."""
STEP_ENOUGH = 1e-10
RADIUS_STRANGE = 0.25
"""Part of the drawn radius by which none comes out (our own limit: a die is made nearer)."""
STRETCH_STRANGE = 0.06
"""No tube's centreline stretches by so much: six times what is allowed beforehand."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Accuracy:
    """Standard uncertainty of what was measured: tape or caliper, mark, protractor."""

    length_mm: float = 0.5
    mark_mm: float = 0.5
    angle_deg: float = 0.15


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialPiece:
    """One trial piece as measured, mm and degrees; None: not measured.

    ``mark_mm`` lies from the first end; ``leg_mm`` and ``back_mm`` too. The far ones lie from the
    other end and need the cut length.
    """

    angle_deg: float
    mark_mm: float | None = None
    cut_length_mm: float | None = None
    leg_mm: float | None = None
    far_leg_mm: float | None = None
    back_mm: float | None = None
    far_back_mm: float | None = None
    width_mm: float | None = None
    gap_mm: float | None = None


class Residual(NamedTuple):
    """How one measurement sits with all the others. mm, or degrees for an angle."""

    piece: int
    what: str
    measured: float
    others: float
    """What all the other measurements make it."""
    normalised: float
    """Residual over its own standard deviation; 0 where nothing else checks the measurement."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialAnswer:
    """Start offset, free radius and stretch with uncertainties, and how well all agrees."""

    start_offset_mm: UncertainValue
    free_radius_mm: UncertainValue
    stretch: UncertainValue | None
    """None when these pieces can't tell it; it was then taken as 0, give or take 1 %."""
    residuals: tuple[Residual, ...]
    outlier: str
    """Names the measurement that can't be right if the others are; empty: all agree."""


class _Spots(NamedTuple):
    """What a measurement is worked out from: the unknowns and one piece's mark, cut and angle."""

    offset: float
    radius: float
    stretch: float
    mark: float
    cut: float
    angle: float

    @property
    def near(self) -> float:
        return self.mark + self.offset

    @property
    def far(self) -> float:
        used = self.radius * math.radians(self.angle) * (1 - self.stretch)
        return self.cut - self.near - used


def _corner(at: _Spots, half_od: float) -> float:
    return (at.radius + half_od) * math.tan(math.radians(at.angle) / 2)


def _across(at: _Spots, half_od: float) -> float:
    return (at.radius + half_od) * (1 - math.cos(math.radians(at.angle)))


_FORMULAS: dict[str, Callable[[_Spots, float], float]] = {
    "leg_mm": lambda at, half_od: at.near + _corner(at, half_od),
    "far_leg_mm": lambda at, half_od: at.far + _corner(at, half_od),
    "back_mm": lambda at, half_od: at.near + at.radius + half_od,
    "far_back_mm": lambda at, half_od: at.far + at.radius + half_od,
    "width_mm": _across,
    "gap_mm": lambda at, half_od: _across(at, -half_od),
}
_WORDS = {
    "angle_deg": "bend angle",
    "mark_mm": "mark",
    "cut_length_mm": "cut length",
    "leg_mm": "outside leg",
    "far_leg_mm": "far outside leg",
    "back_mm": "back of bend to end",
    "far_back_mm": "back of bend to far end",
    "width_mm": "outside width",
    "gap_mm": "gap",
}
_GIVEN = ("mark_mm", "cut_length_mm", "angle_deg")
NEEDS = {
    "leg_mm": ("mark_mm",),
    "back_mm": ("mark_mm",),
    "far_leg_mm": ("mark_mm", "cut_length_mm"),
    "far_back_mm": ("mark_mm", "cut_length_mm"),
}
_ANGLES = {
    "leg_mm": (1.0, 150.0),
    "far_leg_mm": (1.0, 150.0),
    "back_mm": (90.0, 180.0),
    "far_back_mm": (90.0, 180.0),
    "width_mm": (170.0, 180.0),
    "gap_mm": (170.0, 180.0),
}
"""Bends that have the measurement. Only a U's legs lie so near to parallel that a caliper finds
where the bend ends; short of that its end is a place that nobody sees."""
ANGLE_SLIP_DEG = 3.0
"""A 90 bend that came out at 88 still shows its back; a bit of room for that."""


def fits(name: str, angle_deg: float) -> bool:
    """Say whether a bend of this angle has the measurement of this name."""
    least, most = _ANGLES.get(name, (0.0, 180.0))
    return least - ANGLE_SLIP_DEG <= angle_deg <= most + ANGLE_SLIP_DEG


class TooLittle(Refusal):
    """What was measured can't tell start offset and radius apart; more of the same can."""


def solve(
    pieces: Sequence[TrialPiece],
    od_mm: float,
    drawn_radius_mm: float,
    accuracy: Accuracy | None = None,
    unit: LengthUnit = "mm",
) -> TrialAnswer:
    """Find start offset, free radius and stretch from trial pieces of one die and one tube.

    ``drawn_radius_mm`` only starts the search; ``unit`` is the one to say what is wrong in. Raises
    Refusal for measurements that a piece of such an angle doesn't have, TooLittle for a mix that
    can't tell start offset and radius apart.
    """
    accuracy = accuracy or Accuracy()
    for number, piece in enumerate(pieces, start=1):
        refuse_piece(number, piece, unit)
    system = _System(pieces, od_mm / 2, accuracy)
    state, covariance = system.adjusted(drawn_radius_mm)
    offset = UncertainValue(float(state[0]), math.sqrt(covariance[0, 0]))
    radius = UncertainValue(float(state[1]), math.sqrt(covariance[1, 1]))
    stretch = UncertainValue(float(state[2]), math.sqrt(covariance[2, 2]))
    if not tells(covariance, radius.value, accuracy):
        raise TooLittle(_too_little(pieces, offset.u))
    residuals = system.residuals(state, covariance)
    return TrialAnswer(
        start_offset_mm=offset,
        free_radius_mm=radius,
        stretch=stretch if stretch.u < 0.9 * STRETCH_ALLOWED else None,
        residuals=residuals,
        outlier=_improbable(residuals, unit),
    )


def tells(covariance: Array, radius_mm: float, accuracy: Accuracy) -> bool:
    """Say whether pieces that leave this covariance tell start offset and radius well enough."""
    enough = max(RADIUS_ENOUGH * abs(radius_mm), LENGTHS_ENOUGH * accuracy.length_mm)
    offset_u, radius_u = math.sqrt(covariance[0, 0]), math.sqrt(covariance[1, 1])
    return radius_u <= enough and offset_u <= OFFSET_ENOUGH_MM


def implausible(answer: TrialAnswer, expected_mm: float, unit: LengthUnit = "mm") -> str:
    """Say what no die and tube do, though all measurements may agree on it; empty: nothing.

    ``expected_mm`` is the free radius that the die's drawing and springback give.
    """
    radius, offset = answer.free_radius_mm.value, answer.start_offset_mm.value
    if abs(radius / expected_mm - 1) > RADIUS_STRANGE:
        return (
            f"the radius would come out at {show_length(radius, unit)}, and the die is drawn for"
            f" {show_length(expected_mm, unit)}: a length, its unit or the angle can't be right"
        )
    if abs(offset) > expected_mm:
        return (
            f"the bend would start {show_length(abs(offset), unit)} from the mark, further than the"
            " die's radius: a length or its unit can't be right"
        )
    if answer.stretch is not None and abs(answer.stretch.value) > STRETCH_STRANGE:
        return (
            f"the tube would have stretched by {100 * answer.stretch.value:.1f} %: a length or its"
            " unit can't be right"
        )
    return ""


def covariance_of(
    pieces: Sequence[TrialPiece], od_mm: float, radius_mm: float, accuracy: Accuracy
) -> Array:
    """Give the covariance of start offset, radius and stretch that such pieces leave, (3, 3)."""
    return _System(pieces, od_mm / 2, accuracy).adjusted(radius_mm)[1][:3, :3]


class _System:
    """The observations of all pieces, and the sums of their adjustment."""

    def __init__(self, pieces: Sequence[TrialPiece], half_od: float, accuracy: Accuracy) -> None:
        self.pieces = pieces
        self.half_od = half_od
        self.spread = {"angle_deg": accuracy.angle_deg, "mark_mm": accuracy.mark_mm}
        self.length_mm = accuracy.length_mm
        self.seen = [
            (number, field.name, float(value))
            for number, piece in enumerate(pieces)
            for field in fields(piece)
            if (value := getattr(piece, field.name)) is not None
        ]

    def adjusted(self, radius_mm: float) -> tuple[Array, Array]:
        """Iterate Gauss-Newton from the drawn radius; give the state and its covariance."""
        givens = [[getattr(piece, name) or 0.0 for name in _GIVEN] for piece in self.pieces]
        state = np.array([0.0, radius_mm, 0.0, *(value for given in givens for value in given)])
        for _ in range(50):
            slopes, misses = self._weighted(state)
            normal = slopes.T @ slopes
            # Eigenvalues, not a solve: along a direction that nothing was measured in, the state
            # stays put and the variance comes out huge, instead of the sum breaking down.
            values, vectors = np.linalg.eigh(normal)
            least = 1e-10 * values[-1]
            covariance = (vectors / np.maximum(values, least)) @ vectors.T
            known = np.where(values > least, 1 / np.maximum(values, least), 0.0)
            step = (vectors * known) @ vectors.T @ (slopes.T @ misses)
            state = state + step
            if float(np.abs(step).max()) < STEP_ENOUGH * max(1.0, radius_mm):
                break
        return state, covariance

    def residuals(self, state: Array, covariance: Array) -> tuple[Residual, ...]:
        """Give every measurement with what the fit makes of it."""
        slopes, misses = self._weighted(state)
        left = 1 - np.einsum("ij,jk,ik->i", slopes, covariance, slopes)
        return tuple(
            Residual(
                piece=number + 1,
                what=_WORDS[name],
                measured=value,
                others=value - float(miss / free) * self._u(name) if free > UNCHECKED else value,
                normalised=float(miss / math.sqrt(free)) if free > UNCHECKED else 0.0,
            )
            for (number, name, value), miss, free in zip(self.seen, misses, left, strict=False)
        )

    def _u(self, name: str) -> float:
        return self.spread.get(name, self.length_mm)

    def _weighted(self, state: Array) -> tuple[Array, Array]:
        """Give slopes (rows measurements, columns unknowns) and misses, over their uncertainty.

        The last row is what is known of the stretch beforehand: 0, give or take 1 %.
        """
        slopes = np.zeros((len(self.seen) + 1, len(state)))
        misses = np.zeros(len(self.seen) + 1)
        for row, (number, name, value) in enumerate(self.seen):
            own = slice(3 + 3 * number, 6 + 3 * number)
            unknowns = np.concatenate([state[:3], state[own]])
            if name in _GIVEN:
                fitted = float(unknowns[3 + _GIVEN.index(name)])
                slope = np.eye(6)[3 + _GIVEN.index(name)]
            else:
                fitted, slope = self._formula(name, unknowns)
            slopes[row, :3] = slope[:3] / self._u(name)
            slopes[row, own] = slope[3:] / self._u(name)
            misses[row] = (value - fitted) / self._u(name)
        slopes[-1, 2] = 1 / STRETCH_ALLOWED
        misses[-1] = -state[2] / STRETCH_ALLOWED
        return slopes, misses

    def _formula(self, name: str, unknowns: Array) -> tuple[float, Array]:
        formula = _FORMULAS[name]
        slope = np.zeros(6)
        for column, step in enumerate((1e-3, 1e-3, 1e-5, 1e-3, 1e-3, 1e-4)):
            nudge = np.zeros(6)
            nudge[column] = step
            ahead = formula(_Spots(*(unknowns + nudge)), self.half_od)
            behind = formula(_Spots(*(unknowns - nudge)), self.half_od)
            slope[column] = (ahead - behind) / (2 * step)
        return formula(_Spots(*unknowns), self.half_od), slope


def refuse_piece(number: int, piece: TrialPiece, unit: LengthUnit = "mm") -> None:
    """Refuse, in words, what a piece of its angle can't have; ``number`` is what to call it."""
    for field in fields(piece):
        value = getattr(piece, field.name)
        if value is None:
            continue
        if not math.isfinite(value) or value <= 0:
            raise Refusal(
                f"piece {number}: {_WORDS[field.name]} {value:g}; it must be a number above 0"
            )
    if piece.angle_deg > 180:
        raise Refusal(f"piece {number}: a bend angle of {piece.angle_deg:g} deg; give up to 180")
    for name, (least, most) in _ANGLES.items():
        if getattr(piece, name) is None:
            continue
        if not fits(name, piece.angle_deg):
            raise Refusal(
                f"piece {number}: {_WORDS[name]} belongs to a bend of {least:g} to {most:g} deg,"
                f" and this one has {piece.angle_deg:g}"
            )
        for needed in NEEDS.get(name, ()):
            if getattr(piece, needed) is None:
                raise Refusal(
                    f"piece {number}: {_WORDS[name]} says nothing without the {_WORDS[needed]};"
                    f" give the {_WORDS[needed]} too"
                )
    if piece.mark_mm and piece.cut_length_mm and piece.mark_mm >= piece.cut_length_mm:
        mark, cut = show_length(piece.mark_mm, unit), show_length(piece.cut_length_mm, unit)
        raise Refusal(f"piece {number}: the mark at {mark} lies past the cut length of {cut}")


def _too_little(pieces: Sequence[TrialPiece], offset_u: float) -> str:
    angles = sorted({round(piece.angle_deg) for piece in pieces})
    which = (
        f"a single {angles[0]} deg L"
        if len(pieces) == 1 and angles[0] < 120
        else f"what was measured of {len(pieces)} piece{'s' if len(pieces) > 1 else ''}"
    )
    marked = any(
        piece.mark_mm is not None and getattr(piece, name) is not None
        for piece in pieces
        for name in NEEDS
    )
    if offset_u > OFFSET_ENOUGH_MM and not marked:
        return f"{which} doesn't tell the start offset: give a mark with a leg or back of bend"
    return f"{which} can't tell radius from start offset"


def shown(what: str, value: float, unit: LengthUnit) -> str:
    """Write a measurement that ``Residual.what`` names: an angle in degrees, else a length."""
    return f"{value:.1f} deg" if what == _WORDS["angle_deg"] else show_length(value, unit)


def _improbable(residuals: Sequence[Residual], unit: LengthUnit) -> str:
    worst = max((abs(each.normalised) for each in residuals), default=0.0)
    if worst < IMPROBABLE_SDS:
        return ""
    # Measurements that only check each other are equally far off: nobody can say which it is.
    suspects = [each for each in residuals if abs(each.normalised) > worst - 0.05]
    named = [
        f"piece {each.piece}'s {each.what} {shown(each.what, each.measured, unit)}"
        for each in suspects
    ]
    if len(suspects) == 1:
        others = shown(suspects[0].what, suspects[0].others, unit)
        return f"{named[0]} can't be right if the others are: they make it {others}"
    return f"{', '.join(named[:-1])} and {named[-1]} don't agree: one of them can't be right"
