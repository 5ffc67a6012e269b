"""What is known of one chip's own errors, and what they do to an angle.

A chip shows (1 + G) a + b where the acceleration is a: G holds three gains and three skews
(symmetric: a common turn of the axes is the mount's business), b the zero-g offsets.
"""

import math
from dataclasses import asdict, dataclass
from typing import Any, TypeAlias

import msgspec

from benchmate.sensing.calibration.harmonics import FACTORY_SD_DEG
from benchmate.sensing.chips.driver import ChipFacts

Axes: TypeAlias = tuple[float, float, float]
Rows: TypeAlias = tuple[tuple[float, ...], ...]

TERMS = 9
"""Gains x y z, skews xy xz yz, offsets x y z, in this order wherever terms stand in a row."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """One chip's errors as learned, with their covariance; as from the factory when not learned."""

    chip: str
    address: int
    identity: str = ""
    taken: str = ""
    """The date, as the person's clock had it."""
    temperature_c: float | None = None
    gains: Axes = (0.0, 0.0, 0.0)
    skews: Axes = (0.0, 0.0, 0.0)
    offsets_g: Axes = (0.0, 0.0, 0.0)
    covariance: Rows = ()
    """Of what is left of the terms, in their order; of the harmonics [deg^2] for an encoder."""
    stops: int = 0
    coverage_deg: float = 0.0
    residual_deg: float = 0.0
    """Rms misfit of the stops, as an angle."""
    gyro_bias_dps: Axes = (0.0, 0.0, 0.0)
    gyro_gain: float = 1.0
    """True turn over shown turn, about the axis of the calibrating turn."""
    gyro_gain_sd: float = 0.01
    harmonics_deg: tuple[float, ...] = ()
    """Encoders: what ``harmonics.harmonic_row`` is to be weighed with for true less shown."""
    local_sd_deg: float = 0.0
    """Encoders: what the harmonics leave at a stop beyond what the true angles' noise explains."""
    agc: tuple[int, int] | None = None
    """Encoders: least and most field gain over the stops; None where nobody noted it."""

    @property
    def terms(self) -> tuple[float, ...]:
        """Give the nine terms in their order."""
        return (*self.gains, *self.skews, *self.offsets_g)

    def corrector(self) -> tuple[Rows, Axes]:
        """Give A and b such that A (shown - b) is the acceleration [g]."""
        (gx, gy, gz), (sxy, sxz, syz) = self.gains, self.skews
        shown = ((1 + gx, sxy, sxz), (sxy, 1 + gy, syz), (sxz, syz, 1 + gz))
        return _inverse(shown), self.offsets_g

    def correct(self, shown_g: Axes) -> Axes:
        """Give the acceleration [g] behind what the chip showed."""
        rows, (bx, by, bz) = self.corrector()
        x, y, z = shown_g[0] - bx, shown_g[1] - by, shown_g[2] - bz
        ax, ay, az = (row[0] * x + row[1] * y + row[2] * z for row in rows)
        return ax, ay, az

    def to_plain(self) -> dict[str, Any]:
        """Give it as numbers, words and lists for the store."""
        return asdict(self)

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> "Calibration":
        """Build it from what ``to_plain`` gave; ValueError when it is no calibration."""
        return msgspec.convert(plain, cls, strict=False)


def from_factory(facts: ChipFacts) -> Calibration:
    """Give what the data sheet lets one believe of a chip that was never calibrated."""
    if facts.is_encoder:
        sds = tuple(sd for sd in FACTORY_SD_DEG for _ in range(2))
    else:
        sds = (*(facts.gain,) * 3, *(facts.skew,) * 3, *(facts.offset_g,) * 3)
    return Calibration(
        chip=facts.kind,
        address=facts.address,
        covariance=tuple(
            tuple(sd * sd if i == j else 0.0 for j in range(len(sds))) for i, sd in enumerate(sds)
        ),
    )


def angle_terms(direction: Axes, turning: Axes, leverage: float) -> tuple[float, ...]:
    """Give how far the in-plane angle [rad] shown moves for each of the nine terms.

    ``direction`` is the acceleration [g] at rest, ``turning`` the unit vector in the swing plane
    across its in-plane part, ``leverage`` the length of that part.
    """
    (x, y, z), (tx, ty, tz) = direction, turning
    row = (
        x * tx,
        y * ty,
        z * tz,
        x * ty + y * tx,
        x * tz + z * tx,
        y * tz + z * ty,
        tx,
        ty,
        tz,
    )
    return tuple(value / leverage for value in row)


def swing_terms(
    plane: tuple[Axes, Axes, Axes], leverage: float, height_g: float, phi: float, turn: int = 1
) -> tuple[float, ...]:
    """Give ``angle_terms`` at an arm angle [rad] of a swing in ``plane`` (along, across, normal).

    ``turn`` 0 gives instead how far the in-plane length [g] moves for each term. The part along
    the normal counts twice: what the terms make of it in the plane, and by how much they tilt the
    plane that the swing's vectors seem to lie in.
    """
    along, across, normal = plane
    cosine, sine = math.cos(phi), math.sin(phi)
    x, y, z = (
        leverage * (a * cosine + b * sine) + 2.0 * height_g * n
        for a, b, n in zip(along, across, normal, strict=True)
    )
    if turn == 0:
        ux, uy, uz = (a * cosine + b * sine for a, b in zip(along, across, strict=True))
        return angle_terms((x, y, z), (ux, uy, uz), 1.0)
    tx, ty, tz = (b * cosine - a * sine for a, b in zip(along, across, strict=True))
    return angle_terms((x, y, z), (tx, ty, tz), leverage)


def spread(row: tuple[float, ...], covariance: Rows) -> float:
    """Give the standard deviation of a row's sum over terms of that covariance."""
    variance = sum(
        a * b * cell
        for a, cells in zip(row, covariance, strict=True)
        for b, cell in zip(row, cells, strict=True)
    )
    return math.sqrt(max(variance, 0.0))


def _inverse(m: Rows) -> Rows:
    (a, b, c), (d, e, f), (g, h, i) = m
    minors = (
        (e * i - f * h, c * h - b * i, b * f - c * e),
        (f * g - d * i, a * i - c * g, c * d - a * f),
        (d * h - e * g, b * g - a * h, a * e - b * d),
    )
    determinant = a * minors[0][0] + b * minors[1][0] + c * minors[2][0]
    return tuple(tuple(value / determinant for value in row) for row in minors)
