"""An encoder's turn against an accelerometer beside it: gravity in the protractor's place.

The bender's plane is stood upright, the accelerometer's box clamped to the arm. At each still stop
gravity says how the arm stands; what isn't known of the accelerometer is shared by all stops and
looks like an encoder's own error, so it is weighed as shared and stays in the doubt.
"""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from benchmate.sensing.calibration.error_model import Axes, Calibration, angle_terms
from benchmate.sensing.calibration.multi_position import (
    LEAST_STOPS,
    MultiPositionCalibration,
    coverage_deg,
    fit_table,
)
from benchmate.sensing.calibration.static_intervals import StaticInterval
from benchmate.sensing.chips.registry import chip_facts
from benchmate.sensing.mount.accuracy import LARGE_SD_DEG
from benchmate.sensing.sample import Sample, SensorFault
from benchmate.shop.parts import Sensor

Floats: TypeAlias = NDArray[np.float64]

LEAST_LEVERAGE = 0.5
"""In-plane part of gravity under which it refuses: the plane leans more than 60 deg."""
LEAST_COVERAGE_DEG = 60.0
"""Over less of a turn neither the plane nor the table can be seen."""
WORST_LOCAL_DEG = 0.4
"""More than this at the stops is no encoder's: a tidy magnet leaves 0.1 to 0.2 deg of itself."""


class _Circle(NamedTuple):
    """The circle that gravity makes in the accelerometer's frame."""

    along: Floats
    across: Floats
    normal: Floats
    leverage: float


class EncoderReferenceCalibration(MultiPositionCalibration):
    """Gathers the stops of an encoder's arm at which an accelerometer beside it is read as well.

    Samples are the encoder's, each with the accelerometer's newest under ``frame``.
    """

    def __init__(
        self, encoder: Sensor, beside: Sensor, calibration: Calibration, identity: str = ""
    ) -> None:
        of_encoder, self._beside = chip_facts(encoder), chip_facts(beside)
        both = of_encoder._replace(accel_noise_g=self._beside.accel_noise_g)
        super().__init__(encoder, identity, both)
        self._encoder = of_encoder
        self._calibration = calibration

    @property
    def leverage(self) -> float:
        """Give the part of gravity that goes round with the arm."""
        stops = self._finder.stops
        if len(stops) < 3:
            return 1.0
        return min(_circle(_shown_deg(stops), self._true_g(stops)).leverage, 1.0)

    def see(self, sample: Sample) -> bool:
        """Take one good sample in; True when another stop was found."""
        if sample.frame is None:
            raise ValueError("a sample of the encoder carries the accelerometer's beside it")
        return super().see(sample._replace(accel_g=sample.frame.accel_g))

    def measured(self, angle_deg: float) -> None:  # noqa: ARG002 - as there
        """Refuse: gravity gives the angles."""
        raise _bad_turn(f"the {self._beside.kind} gives the angles: no protractor is needed")

    def cure(self, sd_deg: float) -> str:
        """Say what to do about a table that leaves a large doubt."""
        if sd_deg <= LARGE_SD_DEG:
            return ""
        lean = math.degrees(math.acos(self.leverage))
        return (
            f"A bend may be off by {2.0 * sd_deg:.1f} deg: the {self._beside.kind} is known best "
            "in the plane that its box was turned in; stand the bender upright (it leaned "
            f"{lean:.0f} deg), clamp the box on as it lay in that turn, and go round again."
        )

    def end(self, taken: str = "") -> Calibration:
        """Fit the table; SensorFault("alignment") says what is missing and what to do."""
        stops = self._finder.stops
        covered = coverage_deg(stops)
        if len(stops) < LEAST_STOPS or covered < LEAST_COVERAGE_DEG:
            raise _bad_turn(
                f"{len(stops)} still stops over {covered:.0f} deg were found, at least "
                f"{LEAST_STOPS} over {LEAST_COVERAGE_DEG:.0f} deg are needed: hold the arm still "
                "for a second at each, all along its way"
            )
        shown, true_g = _shown_deg(stops), self._true_g(stops)
        circle = _circle(shown, true_g)
        if circle.leverage < LEAST_LEVERAGE:
            raise _bad_turn(
                f"only {circle.leverage:.0%} of gravity went round with the arm, too little to "
                f"check an encoder by: stand the bender's plane upright, and clamp the "
                f"{self._beside.kind}'s box to the arm"
            )
        flat = true_g - np.outer(true_g @ circle.normal, circle.normal)
        true = np.degrees(np.arctan2(flat @ circle.across, flat @ circle.along))
        own, shared = self._noise_deg2(stops, true_g, circle)
        learned = fit_table(shown, np.unwrap(true, period=360.0), own, shared, self._encoder)
        if learned.local_sd_deg > WORST_LOCAL_DEG:
            raise _bad_turn(
                f"the {self._beside.kind} and the encoder didn't turn together: clamp its box "
                "tight to the arm, hold each stop still, and go round again"
            )
        return replace(learned, identity=self._identity, taken=taken)

    def _true_g(self, stops: Sequence[StaticInterval]) -> Floats:
        shown = [s.accel_g for s in stops if s.accel_g is not None]
        return np.array([self._calibration.correct(v) for v in shown])

    def _noise_deg2(
        self, stops: Sequence[StaticInterval], true_g: Floats, circle: _Circle
    ) -> tuple[Floats, Floats]:
        """Give the variance of each stop's own noise, and the covariance of what stops share."""
        # As in ``swing_terms``: the part along the normal counts twice, the plane tilts with it.
        lifted = true_g + np.mean(true_g @ circle.normal) * circle.normal
        turning = np.cross(circle.normal, true_g)
        turning /= np.linalg.norm(turning, axis=1)[:, None]
        rows = np.degrees(
            [
                angle_terms(_axes(v), _axes(u), circle.leverage)
                for v, u in zip(lifted, turning, strict=True)
            ]
        )
        shared = rows @ np.array(self._calibration.covariance) @ rows.T
        felt, counted = self._beside, self._encoder
        sample_g = math.hypot(*felt.accel_noise_g) / math.sqrt(3.0)
        count_deg = math.hypot(counted.angle_noise_deg, counted.angle_step_deg / math.sqrt(12.0))
        own = [
            math.degrees(math.hypot(sample_g / math.sqrt(s.samples), felt.slow_noise_g)) ** 2
            / circle.leverage**2
            + count_deg**2 / s.samples
            for s in stops
        ]
        return np.array(own), np.asarray(shared)


def _circle(shown_deg: Floats, true_g: Floats) -> _Circle:
    """Fit gravity's circle with the encoder's own angle as the way round, a degree or two off.

    A box that doesn't go round with the arm, or a plane that lies level, leaves no circle: that is
    seen here, and would not be by a plane through the vectors alone.
    """
    turn = np.radians(shown_deg)
    rows = np.column_stack([np.ones_like(turn), np.cos(turn), np.sin(turn)])
    _, cosine, sine = np.linalg.lstsq(rows, true_g, rcond=None)[0]
    leverage = math.sqrt((float(cosine @ cosine) + float(sine @ sine)) / 2.0)
    centred = true_g - true_g.mean(axis=0)
    along, _, normal = np.linalg.svd(centred, full_matrices=False)[2]
    return _Circle(along, np.cross(normal, along), normal, leverage)


def _shown_deg(stops: Sequence[StaticInterval]) -> Floats:
    return np.array([s.angle_deg for s in stops if s.angle_deg is not None])


def _axes(vector: Floats) -> Axes:
    x, y, z = (float(v) for v in vector)
    return x, y, z


def _bad_turn(how: str) -> SensorFault:
    return SensorFault("alignment", how)
