"""What two minutes of an arm that stands still say of its sensor, as sums. Pure.

The rule: a bend is a rest less a zero, both taken over half a second and half a minute apart. Its
1 sd is made of the noise of the two, of what the sensor drifts in between, and of the doubt that
the chip's calibration leaves over the bend; a sensor holds a tolerance of three times that.
"""

import math
from dataclasses import dataclass

import numpy as np

from benchmate.sensing.calibration.allan import Floats, allan_deviation
from benchmate.sensing.calibration.error_model import Calibration, from_factory
from benchmate.sensing.calibration.harmonics import correction_deg, harmonic_row
from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.filters.uncertainty import AngleUncertainty, swing_uncertainty
from benchmate.sensing.mount.alignment import Mount
from benchmate.sensing.sample import Sample

NOISE_OVER_S = (0.1, 1.0, 10.0)
ZERO_S = 0.5
"""So long a zero and a rest are averaged."""
BEND_MIN = 0.5
"""From a bend's zero to its rest, by hand at a pump."""
SHARE = 3.0
FAR_DEG = 120.0
"""A long bend: there the doubt of the calibration is told."""


class SampleAngle:
    """Gives each sample's own arm angle [deg], unsmoothed, as its mount and calibration have it."""

    def __init__(self, mount: Mount, facts: ChipFacts, known: Calibration | None) -> None:
        self._mount = mount
        self._known = from_factory(facts) if known is None else known

    def __call__(self, sample: Sample) -> float:
        """Give the angle, -180 to 180 from where the swing began."""
        mount = self._mount
        if sample.angle_deg is not None:
            shown, start = (
                angle + correction_deg(angle, self._known.harmonics_deg)
                for angle in (sample.angle_deg, mount.start_deg)
            )
            return math.remainder(mount.sense * (shown - start), 360.0)
        if sample.accel_g is None:
            raise ValueError("a sample carries an acceleration or an angle")
        felt = self._known.correct(sample.accel_g)
        along, across = (
            sum(a * b for a, b in zip(felt, way, strict=True))
            for way in (mount.along, mount.across)
        )
        return math.degrees(math.atan2(across, along))


@dataclass(frozen=True, slots=True, kw_only=True)
class StandstillRecord:
    """An arm standing still: when each sample was read, its angle, and what the bus did."""

    times_s: tuple[float, ...]
    angles_deg: tuple[float, ...]
    transfers: int
    retries: int
    failures: int
    moves: int = 0
    """How often the arm was moved and the record begun anew."""
    faults: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class StandstillNoise:
    """What a record says, in degrees and seconds."""

    samples: int
    seconds: float
    rate_hz: float
    jitter_ms: float
    """Standard deviation of the time between two samples."""
    longest_ms: float
    allan: tuple[tuple[float, float], ...]
    """Averaging time [s] and overlapping Allan deviation [deg]."""
    noise_deg: tuple[float | None, ...]
    """The same at ``NOISE_OVER_S``; None where the record is too short."""
    drift_deg_per_min: float
    leverage: float
    calibrated: bool
    doubt_deg: float
    """1 sd of the arm angle at ``FAR_DEG`` that calibration and mount leave."""
    noise_part_deg: float
    """What a rest less a zero owes to noise."""
    drift_part_deg: float

    @property
    def bend_sd_deg(self) -> float:
        """Give the 1 sd of a rest less a zero."""
        return math.hypot(self.noise_part_deg, self.drift_part_deg, self.doubt_deg)

    def holds(self, tolerance_deg: float) -> bool:
        """Tell whether a bend's 1 sd is at most a third of the tolerance."""
        return self.bend_sd_deg <= tolerance_deg / SHARE


def weigh(
    record: StandstillRecord, mount: Mount, facts: ChipFacts, known: Calibration | None
) -> StandstillNoise:
    """Work out what a record says; ``known`` None: the chip was never calibrated."""
    times = np.array(record.times_s)
    angles = np.degrees(np.unwrap(np.radians(record.angles_deg)))
    apart = np.diff(times)
    rate = float(len(apart) / (times[-1] - times[0]))
    noise = tuple(_noise(angles, rate, over) for over in NOISE_OVER_S)
    drift = float(np.polyfit((times - times[0]) / 60.0, angles, 1)[0])
    over, deviation = allan_deviation(angles, rate)
    return StandstillNoise(
        samples=len(times),
        seconds=float(times[-1] - times[0]),
        rate_hz=rate,
        jitter_ms=1e3 * float(np.std(apart)),
        longest_ms=1e3 * float(apart.max()),
        allan=tuple(zip(over.tolist(), deviation.tolist(), strict=True)),
        noise_deg=noise,
        drift_deg_per_min=drift,
        leverage=min(mount.leverage, 1.0),
        calibrated=known is not None,
        doubt_deg=_doubt(mount, facts, known).sd_deg(FAR_DEG),
        # The deviation is that of one average to the next over the root of two.
        noise_part_deg=math.sqrt(2.0) * (_noise(angles, rate, ZERO_S) or 0.0),
        drift_part_deg=abs(drift) * BEND_MIN,
    )


def verdict(standing: StandstillNoise, tolerance_deg: float) -> str:
    """Say whether the sensor holds the tolerance, by what rule, and what to do if it doesn't."""
    told = (
        f"a bend (rest less zero, {BEND_MIN * 60:.0f} s apart, {FAR_DEG:.0f} deg) is told to"
        f" {standing.bend_sd_deg:.2g} deg, 1 sd"
    )
    allowed = f"{tolerance_deg / SHARE:.2g}, a third of the tolerance"
    if standing.holds(tolerance_deg):
        return f"this sensor holds +-{tolerance_deg:g} deg: {told}; it may be {allowed}"
    cures = (
        (standing.doubt_deg, _doubt_cure(standing)),
        (standing.drift_part_deg, "most of it is drift: let the box warm up for ten minutes"),
        (standing.noise_part_deg, "most of it is noise: take a quieter chip, or steady the bench"),
    )
    _, cure = max(cures)
    return f"this sensor can't hold +-{tolerance_deg:g} deg: {told}, over {allowed}; {cure}"


def _doubt_cure(standing: StandstillNoise) -> str:
    if not standing.calibrated:
        return "most of it is the chip's own errors: run benchmate align --turn, then align"
    return "most of it is what the calibration left: calibrate anew with more stops, each firm"


def _noise(angles: Floats, rate: float, over_s: float) -> float | None:
    _, found = allan_deviation(angles, rate, [over_s])
    return float(found[0]) if len(found) else None


def _doubt(mount: Mount, facts: ChipFacts, known: Calibration | None) -> AngleUncertainty:
    calibration = from_factory(facts) if known is None else known
    if facts.is_encoder:
        return AngleUncertainty(
            lambda phi: harmonic_row(mount.start_deg + mount.sense * math.degrees(phi)),
            calibration.covariance,
            1.0,
        )
    plane = (mount.along, mount.across, mount.normal)
    return swing_uncertainty(
        plane, mount.leverage, mount.height_g, calibration.covariance, mount.normal_sd_deg
    )
