"""One turn of the box, or of the arm with its encoder: the chip's own errors from still stops.

At rest a true accelerometer shows a vector of length 1 g whichever way it lies. A real one shows
an ellipse; gains, skews and offsets are what makes a sphere of it again, found by least squares
with the data sheet's spread as what is known beforehand (D. Gebre-Egziabher et al.,
"Calibration of strapdown magnetometers in magnetic field domain", J. Aerospace Engineering 19,
2006, does so for ellipsoids of a field of known strength). The stops' angles need not be known.
"""

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace
from functools import partial
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from benchmate.measurement import PROTRACTOR_SD_DEG
from benchmate.sensing.calibration.error_model import (
    TERMS,
    Axes,
    Calibration,
    Rows,
    angle_terms,
    from_factory,
)
from benchmate.sensing.calibration.harmonics import ORDERS, harmonic_row
from benchmate.sensing.calibration.static_intervals import StaticInterval, StaticIntervalDetector
from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.chips.registry import chip_facts
from benchmate.sensing.filters.uncertainty import AngleUncertainty, swing_uncertainty
from benchmate.sensing.mount.accuracy import WORKING_ARC_DEG
from benchmate.sensing.sample import MAGNET_CURES, Sample, SensorFault
from benchmate.shop.parts import Sensor

Floats: TypeAlias = NDArray[np.float64]

LEAST_COVERAGE_DEG = 270.0
LEAST_STOPS = 8
LEAST_LEVERAGE = 0.3
WORST_COST_DEG = 0.5
"""What a calibration may leave over a working arc, 2 sd, before it is refused."""
MISFIT = 5.0
"""A rms misfit so many times the expected one is no chip's."""
MOST_STOPS = 200
LEAST_LOCAL_DEG, MOST_LOCAL_DEG = 1e-3, 30.0
STEPS_OF_LOCAL = 24
STEPS = 8
BEST_GAIN_SD = 5e-4
"""A gyro's gain is never believed to better than this part: it wanders with warmth."""


class _Table(NamedTuple):
    """Harmonics fitted to stops."""

    terms: Floats
    covariance: Floats
    left: Floats
    """What they leave at each stop [deg]."""
    misfit: float
    """Sum of squares of it, in expected ones."""


class MultiPositionCalibration:
    """Gathers one turn's stops as samples come; its memory is the stops."""

    def __init__(self, sensor: Sensor, identity: str = "", facts: ChipFacts | None = None) -> None:
        self._facts = chip_facts(sensor) if facts is None else facts
        self._identity = identity
        self._finder = StaticIntervalDetector(self._facts)
        self._agcs: list[int] = []

    @property
    def stops(self) -> int:
        """Give how many still stops were found so far."""
        return len(self._finder.stops)

    @property
    def coverage_deg(self) -> float:
        """Give how much of the turn the stops cover: 360 less the widest gap between two."""
        return coverage_deg(self._finder.stops)

    @property
    def leverage(self) -> float:
        """Give the in-plane part of gravity over the stops; 1 for an encoder, or before three."""
        vectors = np.array([s.accel_g for s in self._finder.stops if s.accel_g is not None])
        if len(vectors) < 3:
            return 1.0
        _, _, normal = _plane(vectors)
        flat = vectors - np.outer(vectors @ normal, normal)
        return min(float(np.mean(np.linalg.norm(flat, axis=1))), 1.0)

    def see(self, sample: Sample) -> bool:
        """Take one good sample in; True when another stop was found."""
        if len(self._finder.stops) >= MOST_STOPS:
            raise _bad_turn("more than 200 stops: begin anew and turn the box round once")
        if sample.magnet in MAGNET_CURES:
            raise _bad_turn(
                f"the encoder's magnet is too {sample.magnet}: {MAGNET_CURES[sample.magnet]}, then "
                "turn anew"
            )
        found = self._finder.see(sample)
        if found and sample.agc is not None:
            self._agcs.append(sample.agc)
        return found

    def measured(self, angle_deg: float) -> None:
        """Note a protractor's reading of the arm [deg] at the last stop, for an encoder."""
        if not self._finder.measured(angle_deg):
            raise _bad_turn("no still stop was found yet: hold the arm still for a second first")

    def sd_deg(self, learned: Calibration) -> float:
        """Give the doubt of an angle [deg], 1 sd, in bends within the turn's own plane and reach.

        Where the working arc, begun anywhere within what the stops cover, has it worst.
        """
        if self._facts.is_encoder:
            read = [s for s in self._finder.stops if s.measured_deg is not None]
            return encoder_sd_deg(read or self._finder.stops, learned)
        true = [learned.correct(s.accel_g) for s in self._finder.stops if s.accel_g is not None]
        doubts = turn_uncertainties(learned, np.array(true))
        return max(doubt.worst_deg(WORKING_ARC_DEG) for doubt in doubts)

    def cure(self, sd_deg: float) -> str:  # noqa: ARG002 - for turns that can be made better
        """Say what to do about a large doubt: nothing here, a poor turn of a box is refused."""
        return ""

    def end(self, taken: str = "") -> Calibration:
        """Fit the calibration; SensorFault("alignment") says what is missing and what it costs."""
        fit = fit_encoder if self._facts.is_encoder else fit_turn
        agc = (min(self._agcs), max(self._agcs)) if self._agcs else None
        learned = fit(self._finder.stops, self._facts)
        return replace(learned, identity=self._identity, taken=taken, agc=agc)


def fit_turn(stops: Sequence[StaticInterval], facts: ChipFacts) -> Calibration:
    """Fit gains, skews and offsets, and the gyro's gain and zero, to a turn's stops."""
    if len(stops) < LEAST_STOPS:
        raise _bad_turn(f"{len(stops)} still stops were found, at least {LEAST_STOPS} are needed")
    shown = np.array([s.accel_g for s in stops if s.accel_g is not None])
    noise = math.hypot(*facts.accel_noise_g) / math.sqrt(3.0)
    sds = np.array([math.hypot(noise / math.sqrt(s.samples), facts.slow_noise_g) for s in stops])
    terms, covariance, misfit = fit_terms(shown, sds, from_factory(facts).covariance)
    if misfit > MISFIT:
        raise _bad_turn(
            "the stops fit no one chip: the box was shaken or slid while it stood; turn it again, "
            "each stop firm on the bench"
        )
    learned = replace(
        from_factory(facts),
        temperature_c=stops[-1].temperature_c,
        gains=_axes(terms[:3]),
        skews=_axes(terms[3:6]),
        offsets_g=_axes(terms[6:]),
        covariance=_rows(covariance),
        stops=len(stops),
        coverage_deg=coverage_deg(stops),
        residual_deg=math.degrees(misfit * float(np.sqrt(np.mean(sds**2)))),
    )
    true = np.array([learned.correct(_axes(v)) for v in shown])
    cost = cost_deg(learned, true)
    if learned.coverage_deg < LEAST_COVERAGE_DEG or cost > WORST_COST_DEG:
        raise _bad_turn(
            f"the stops cover {learned.coverage_deg:.0f} deg of the turn: a bend of "
            f"{WORKING_ARC_DEG:.0f} deg could be off by {cost:.2f} deg and never show it; turn the "
            "box all the way round, a stop every 30 deg"
        )
    return _with_gyro(learned, stops, true)


def fit_terms(shown: Floats, sds: Floats, prior: Rows) -> tuple[Floats, Floats, float]:
    """Fit the nine terms to resting vectors (n, 3) [g] of sds (n,) [g], each truly 1 g long.

    Gives terms (9,), the covariance (9, 9) of what is left of them in corrected vectors, and the
    rms misfit in expected ones.
    """
    known = np.linalg.inv(np.array(prior))
    terms: Floats = np.zeros(TERMS)
    for _ in range(STEPS):
        gains = np.eye(3) + _symmetric(terms)
        true = np.linalg.solve(gains, (shown - terms[6:]).T).T
        lengths = np.linalg.norm(true, axis=1)
        # u . A(dG v + db): how far the corrected length moves, A the correction.
        ways = np.linalg.solve(gains, (true / lengths[:, None]).T).T
        rows = np.array(
            [angle_terms(_axes(v), _axes(u), 1.0) for v, u in zip(true, ways, strict=True)]
        )
        weighed = rows / sds[:, None] ** 2
        covariance = np.linalg.inv(weighed.T @ rows + known)
        terms = terms + covariance @ (weighed.T @ (lengths - 1.0) - known @ terms)
    misfit = float(np.sqrt(np.mean(((lengths - 1.0) / sds) ** 2)))
    # What is left is left in the corrected vectors: so without the correction in between.
    left = np.array(
        [angle_terms(_axes(v), _axes(v / size), 1.0) for v, size in zip(true, lengths, strict=True)]
    )
    return terms, np.linalg.inv((left / sds[:, None] ** 2).T @ left + known), misfit


def fit_encoder(stops: Sequence[StaticInterval], facts: ChipFacts) -> Calibration:
    """Fit an encoder's harmonics to stops at which a protractor was read."""
    read = [s for s in stops if s.measured_deg is not None and s.angle_deg is not None]
    shown = np.array([s.angle_deg for s in read])
    true = np.array([s.measured_deg for s in read])
    return fit_harmonics(shown, true, PROTRACTOR_SD_DEG, facts)


def fit_harmonics(shown: Floats, true: Floats, sd_deg: float, facts: ChipFacts) -> Calibration:
    """Fit an encoder's harmonics to angles shown (n,) and true ones (n,) of a common zero [deg].

    ``true`` may count the other way; each is off by ``sd_deg``, 1 sd, for reasons of its own.
    """
    if len(shown) < LEAST_STOPS:
        raise _bad_turn(
            f"the arm's angle was measured at {len(shown)} stops, at least {LEAST_STOPS} are "
            "needed: say 'measured A' at each"
        )
    own = np.full(len(shown), sd_deg**2)
    learned = fit_table(shown, true, own, np.zeros((len(shown), len(shown))), facts)
    if learned.residual_deg > MISFIT * sd_deg:
        raise _bad_turn(
            "the angles measured don't follow the encoder: measure the arm anew at each stop"
        )
    return learned


def fit_table(
    shown: Floats, true: Floats, own_deg2: Floats, shared_deg2: Floats, facts: ChipFacts
) -> Calibration:
    """Fit an encoder's harmonics to angles [deg] of a common zero, and the way they count.

    The true angles are off by noise of variance ``own_deg2`` (n,) at each stop and by what they
    share, of covariance ``shared_deg2`` (n, n). Where more is left than that noise explains, the
    encoder has errors that no harmonic follows; they count as each stop's own then.
    """
    factory = from_factory(facts)

    def fitted(local_deg2: float) -> _Table:
        own = np.diag(own_deg2 + local_deg2)
        noise = own + shared_deg2
        fits = [_harmonics(shown, sense * true, noise, factory.covariance) for sense in (1, -1)]
        return min(fits, key=lambda fit: fit.misfit)

    local_deg2 = _unexplained(lambda local: fitted(local).misfit, len(shown))
    table = fitted(local_deg2)
    own = np.diag(own_deg2 + local_deg2)
    # Of what is left at the stops, that which they don't share.
    left = own @ np.linalg.solve(own + shared_deg2, table.left)
    return replace(
        factory,
        harmonics_deg=tuple(float(v) for v in table.terms),
        covariance=_rows(table.covariance),
        local_sd_deg=math.sqrt(local_deg2),
        stops=len(shown),
        coverage_deg=_covered(shown),
        residual_deg=float(np.sqrt(np.mean(left**2))),
    )


def _unexplained(misfit: Callable[[float], float], stops: int) -> float:
    """Give the variance [deg^2] at a stop that noise doesn't explain; 0 where chance might.

    ``misfit`` gives the sum of squares in expected ones with so much more variance at each stop.
    """
    free = max(stops - 2 * len(ORDERS) - 1, 1)
    if misfit(0.0) <= free + 2.0 * math.sqrt(2.0 * free):
        return 0.0
    # The least that makes it likely: towards the mean itself few stops leave the sum all but flat.
    likely = free + math.sqrt(2.0 * free)
    least, most = LEAST_LOCAL_DEG**2, MOST_LOCAL_DEG**2
    for _ in range(STEPS_OF_LOCAL):
        middle = math.sqrt(least * most)
        least, most = (middle, most) if misfit(middle) > likely else (least, middle)
    return most


def encoder_sd_deg(stops: Sequence[StaticInterval], learned: Calibration) -> float:
    """Give the doubt of an encoder's angle [deg], 1 sd, within what the stops cover."""
    angles = np.sort([s.angle_deg % 360.0 for s in stops if s.angle_deg is not None])
    gaps = np.diff(np.append(angles, angles[0] + 360.0))
    first = float(angles[(int(np.argmax(gaps)) + 1) % len(angles)])
    spare = max(learned.coverage_deg - WORKING_ARC_DEG, 0.0)
    worst = 0.0
    for begun in np.append(np.arange(0.0, spare, 15.0), spare):
        for start, sense in ((first + begun, 1.0), (first + begun + WORKING_ARC_DEG, -1.0)):
            doubt = AngleUncertainty(partial(_row_from, start, sense), learned.covariance, 1.0)
            worst = max(worst, doubt.worst_deg(WORKING_ARC_DEG))
    return math.hypot(worst, math.sqrt(2.0) * learned.local_sd_deg)


def coverage_deg(stops: Sequence[StaticInterval]) -> float:
    """Give how much of a turn stops cover: 360 less the widest gap between neighbours."""
    angles = [s.angle_deg for s in stops if s.angle_deg is not None]
    if angles:
        return _covered(np.array(angles))
    vectors = np.array([s.accel_g for s in stops if s.accel_g is not None])
    if len(vectors) < 3:
        return 0.0
    along, across, _ = _plane(vectors)
    return _covered(np.degrees(np.arctan2(vectors @ across, vectors @ along)))


def cost_deg(calibration: Calibration, true: Floats) -> float:
    """Give what a calibration may leave over the working arc, 2 sd, where it is worst [deg].

    ``true`` (n, 3) are the turn's vectors: the arc is taken in their plane.
    """
    return max(2.0 * d.sd_deg(WORKING_ARC_DEG) for d in turn_uncertainties(calibration, true))


def turn_uncertainties(calibration: Calibration, true: Floats) -> Iterator[AngleUncertainty]:
    """Give the doubts of swings in the plane of ``true`` (n, 3) that begin all round it."""
    along, across, normal = _plane(true)
    height = float(np.mean(true @ normal))
    leverage = math.sqrt(max(1.0 - height * height, LEAST_LEVERAGE**2))
    for start in np.radians(np.arange(0.0, 360.0, 15.0)):
        first = np.cos(start) * along + np.sin(start) * across
        second = np.cos(start) * across - np.sin(start) * along
        yield swing_uncertainty(
            (_axes(first), _axes(second), _axes(normal)), leverage, height, calibration.covariance
        )


def _with_gyro(learned: Calibration, stops: Sequence[StaticInterval], true: Floats) -> Calibration:
    spins = [s.gyro_dps for s in stops if s.gyro_dps is not None]
    if len(spins) != len(stops):
        return learned
    along, across, normal = _plane(true)
    weights = np.array([s.samples for s in stops])
    bias = np.average(np.array(spins), axis=0, weights=weights)
    # Gravity turns against the box.
    spun = np.array([-(np.array(s.spun_deg) - bias * s.spun_s) @ normal for s in stops[1:]])
    seen = np.degrees(np.arctan2(true @ across, true @ along))
    turned = spun + np.array([math.remainder(v, 360.0) for v in np.diff(seen) - spun])
    gain = float(turned @ spun / (spun @ spun))
    off = turned - gain * spun
    sd = float(np.sqrt(off @ off / max(len(off) - 1, 1) / (spun @ spun)))
    return replace(
        learned,
        gyro_bias_dps=_axes(bias),
        gyro_gain=gain,
        gyro_gain_sd=math.hypot(sd, BEST_GAIN_SD),
    )


def _harmonics(shown: Floats, true: Floats, noise_deg2: Floats, prior: Rows) -> _Table:
    off = np.unwrap(true - shown, period=360.0)
    # The common zero is anyone's guess: fitted with the terms, nothing known beforehand.
    rows = np.array([(1.0, *harmonic_row(angle)) for angle in shown])
    known = np.zeros((rows.shape[1], rows.shape[1]))
    known[1:, 1:] = np.linalg.inv(np.array(prior))
    weighed = np.linalg.solve(noise_deg2, rows)
    covariance = np.linalg.inv(weighed.T @ rows + known)
    terms = covariance @ weighed.T @ off
    left = off - rows @ terms
    misfit = float(left @ np.linalg.solve(noise_deg2, left))
    return _Table(terms[1:], covariance[1:, 1:], left, misfit)


def _row_from(start_deg: float, sense: float, phi: float) -> tuple[float, ...]:
    return harmonic_row(start_deg + sense * math.degrees(phi))


def _plane(vectors: Floats) -> tuple[Floats, Floats, Floats]:
    along, across, _ = np.linalg.svd(vectors - vectors.mean(axis=0), full_matrices=False)[2]
    return along, across, np.cross(along, across)


def _covered(angles_deg: Floats) -> float:
    if len(angles_deg) < 2:
        return 0.0
    ordered = np.sort(np.mod(angles_deg, 360.0))
    gaps = np.diff(np.append(ordered, ordered[0] + 360.0))
    return 360.0 - float(gaps.max())


def _symmetric(terms: Floats) -> Floats:
    gx, gy, gz, sxy, sxz, syz = terms[:6]
    return np.array([[gx, sxy, sxz], [sxy, gy, syz], [sxz, syz, gz]])


def _axes(vector: NDArray[np.floating]) -> Axes:
    x, y, z = (float(v) for v in vector)
    return x, y, z


def _rows(matrix: Floats) -> Rows:
    return tuple(tuple(float(v) for v in row) for row in matrix)


def _bad_turn(how: str) -> SensorFault:
    return SensorFault("alignment", how)
