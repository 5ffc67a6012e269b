"""How the sensor sits on the arm: the swing plane in the chip's own frame, learned by one swing.

Gravity, seen from the turning box, traces a circle; the circle's plane is the swing plane and its
normal the pivot's axis. Pump and swing shake the box within that plane alone, so the normal is
found well even from a jerky swing.
"""

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from itertools import pairwise
from typing import Any, TypeAlias

import msgspec
import numpy as np
from numpy.typing import NDArray

from benchmate.sensing.calibration.error_model import Axes, Calibration, from_factory, swing_terms
from benchmate.sensing.chips.registry import ENCODERS, chip_facts
from benchmate.sensing.filters.uncertainty import swing_uncertainty
from benchmate.sensing.mount.lever_arm import SwingRecord, fit_gyro_gain, fit_lever_arm
from benchmate.sensing.sample import Sample, SensorFault
from benchmate.shop.parts import Sensor

Floats: TypeAlias = NDArray[np.float64]

SHORTEST_ARC_DEG = 30.0
LEAST_LEVERAGE = math.sin(math.radians(17.5))
"""In-plane part of gravity: below this noise and offsets count more than three times."""
REST_S = 0.3
STIRRED_DEG = 3.0
LONGEST_GAP_S = 0.25
LONGEST_SWING_S = 120.0
SMOOTHED_S = 0.1
BEST_GAIN_SD = 5e-4
"""A gyro's gain is never believed to better than this part: it wanders with warmth."""
WORST_RESIDUAL_DEG = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Mount:
    """How one sensor sits on the arm. Directions are unit vectors in the chip's frame."""

    chip: str
    address: int
    identity: str
    normal: Axes = (0.0, 0.0, 0.0)
    """The pivot's axis; gravity turns about it, right-handed, as the arm bends."""
    along: Axes = (0.0, 0.0, 0.0)
    """Gravity's in-plane direction with the arm at rest before the swing: arm angle 0."""
    across: Axes = (0.0, 0.0, 0.0)
    """``normal`` x ``along``."""
    height_g: float = 0.0
    """Gravity along ``normal``: the same all round the swing."""
    leverage: float = 1.0
    """In-plane part of gravity, 1 for an upright plane, 0 for a level one."""
    residual_deg: float = 0.0
    """Rms distance of the swing's samples from the plane, as an angle."""
    arc_deg: float = 0.0
    normal_sd_deg: float = 0.0
    """How far the normal may stand off the pivot's axis, 1 sd."""
    gyro_gain: float = 1.0
    """True turn over shown turn about the normal."""
    gyro_gain_sd: float = 0.01
    lever_s2: tuple[float, float] = (0.0, 0.0)
    """Pivot to box over gravity [s^2], in ``along`` and ``across``, where the swing told it."""
    lever_covariance: tuple[float, float, float] | None = None
    """11, 12 and 22 of its covariance [s^4]; None: the swing didn't tell."""
    shown_normal: Axes = (0.0, 0.0, 0.0)
    """As ``normal``, of the vectors as the chip shows them, its errors still in them."""
    shown_height_g: float = 0.0
    """As ``height_g``, of the vectors as the chip shows them."""
    sense: int = 1
    """Encoders: +1 when the count rises while bending, else -1."""
    start_deg: float = 0.0
    """Encoders: the angle shown with the arm at rest before the swing: arm angle 0."""

    @property
    def plane_limit_deg(self) -> float:
        """How far out of its plane the box may read at rest before it counts as knocked."""
        return 1.0 + 3.0 * self.residual_deg

    def off_plane_deg(self, shown_g: Axes) -> float:
        """Give how far a vector as shown at rest stands out of the swing's plane, as a turn."""
        height = sum(a * n for a, n in zip(shown_g, self.shown_normal, strict=True))
        return math.degrees((height - self.shown_height_g) / max(self.leverage, 0.1))

    def to_plain(self) -> dict[str, Any]:
        """Give it as numbers, words and lists for the store."""
        return asdict(self)

    @classmethod
    def from_plain(cls, plain: dict[str, Any]) -> "Mount":
        """Build it from what ``to_plain`` gave; ValueError when it is no mount."""
        return msgspec.convert(plain, cls, strict=False)


class Swing:
    """Gathers one swing's samples as they come; what ``begin`` and ``end`` stand around."""

    def __init__(
        self, sensor: Sensor, identity: str = "", calibration: Calibration | None = None
    ) -> None:
        self._sensor = sensor
        self._identity = identity
        self._calibration = calibration
        self._samples: list[Sample] = []

    def see(self, sample: Sample) -> None:
        """Take one good sample in; SensorFault("alignment") when the swing never ends."""
        self._samples.append(sample)
        if sample.t - self._samples[0].t > LONGEST_SWING_S:
            raise _bad_swing("the swing took more than two minutes: begin anew and swing once")

    def end(self) -> Mount:
        """Fit the mount, as ``fit_mount`` does."""
        return fit_mount(self._samples, self._sensor, self._identity, self._calibration)


def fit_mount(
    samples: Sequence[Sample],
    sensor: Sensor,
    identity: str = "",
    calibration: Calibration | None = None,
) -> Mount:
    """Fit the mount to one swing: the arm at rest first, then first the way of bending.

    SensorFault("alignment") says what was wrong with the swing and what would be right.
    """
    _check_even(samples)
    facts = chip_facts(sensor)
    if facts.is_encoder:
        return _encoder_mount(samples, sensor, identity)
    known = from_factory(facts) if calibration is None else calibration
    rows, offset = known.corrector()
    t = np.array([s.t for s in samples])
    shown = np.array([s.accel_g for s in samples if s.accel_g is not None])
    true = (shown - np.array(offset)) @ np.array(rows).T
    mount = _fit_plane(t, true, sensor, identity)
    seen = _smoothed(t, shown)
    shown_normal = np.linalg.svd(seen - seen.mean(axis=0), full_matrices=False)[2][2]
    mount = replace(
        mount,
        shown_normal=_axes(shown_normal),
        shown_height_g=float(seen.mean(axis=0) @ shown_normal),
    )
    shaken = SwingRecord(
        # Times jitter with the program; their mean is the chip's own.
        dt=float(t[-1] - t[0]) / (len(t) - 1),
        plane=true @ np.array([mount.along, mount.across]).T,
        rate=_turning(samples, mount, known),
        noise_g=math.hypot(*facts.accel_noise_g) / math.sqrt(3.0),
    )
    return _fit_shaking(mount, shaken, known)


def _fit_plane(t: Floats, true: Floats, sensor: Sensor, identity: str) -> Mount:
    seen = _smoothed(t, true)
    facts = chip_facts(sensor)
    _, sizes, ways = np.linalg.svd(seen - seen.mean(axis=0), full_matrices=False)
    normal = ways[2]
    at_rest = seen[t <= t[0] + REST_S].mean(axis=0)
    height = float(seen.mean(axis=0) @ normal)
    flat = seen - np.outer(seen @ normal, normal)
    leverage = float(np.median(np.linalg.norm(flat, axis=1)))
    if leverage < LEAST_LEVERAGE:
        raise _bad_swing(
            f"only {leverage:.0%} of gravity lies in the arm's plane (the pivot stands within "
            f"{math.degrees(math.asin(min(leverage, 1.0))):.0f} deg of upright), too little to "
            f"read an angle from: the {sensor.chip} reads gravity and can't do a bender that lies "
            f"flat; use an encoder on the pivot ({', '.join(ENCODERS)})"
        )
    along = at_rest - (at_rest @ normal) * normal
    along /= np.linalg.norm(along)
    across = np.cross(normal, along)
    angle = np.degrees(np.unwrap(np.arctan2(flat @ across, flat @ along)))
    sense = _first_way(t, angle)
    residual_deg = math.degrees(np.sqrt(np.mean((seen @ normal - height) ** 2)) / leverage)
    if residual_deg > WORST_RESIDUAL_DEG:
        raise _bad_swing(
            f"gravity left the swing's plane by {residual_deg:.1f} deg: the box slipped or was "
            "knocked; clamp it tight and swing again"
        )
    return Mount(
        chip=sensor.chip,
        address=facts.address,
        identity=identity,
        normal=_axes(sense * normal),
        along=_axes(along),
        across=_axes(sense * across),
        height_g=sense * height,
        leverage=leverage,
        residual_deg=residual_deg,
        arc_deg=float(np.ptp(angle)),
        normal_sd_deg=math.degrees(max(facts.accel_noise_g) / float(sizes[1])),
    )


def _fit_shaking(mount: Mount, swing: SwingRecord, known: Calibration) -> Mount:
    directions = (mount.along, mount.across, mount.normal)
    size = (mount.leverage, mount.height_g)
    lever, leverage = fit_lever_arm(
        swing,
        lambda angles: np.array([swing_terms(directions, *size, phi, turn=0) for phi in angles]),
        known.covariance,
    )
    doubt = swing_uncertainty(directions, *size, known.covariance)
    bent = max(doubt.sd_deg(mount.arc_deg) / mount.arc_deg, BEST_GAIN_SD)
    gain, gain_sd = fit_gyro_gain(swing, lever, (known.gyro_gain, known.gyro_gain_sd), bent)
    return replace(
        mount,
        leverage=leverage,
        lever_s2=lever[0],
        lever_covariance=lever[1],
        gyro_gain=gain,
        gyro_gain_sd=gain_sd,
    )


def _turning(samples: Sequence[Sample], mount: Mount, known: Calibration) -> Floats | None:
    """Give the gyro's rate [rad/s] about the pivot, its zero taken at rest before the swing."""
    spun = [s.gyro_dps for s in samples if s.gyro_dps is not None]
    if len(spun) != len(samples):
        return None
    # Gravity turns against the box, so the arm's rate is the gyro's about -normal.
    rate = -np.radians((np.array(spun) - np.array(known.gyro_bias_dps)) @ np.array(mount.normal))
    at_rest = np.array([s.t <= samples[0].t + REST_S for s in samples])
    return np.asarray(rate - rate[at_rest].mean())


def _encoder_mount(samples: Sequence[Sample], sensor: Sensor, identity: str) -> Mount:
    t = np.array([s.t for s in samples])
    counted = np.array([s.angle_deg for s in samples if s.angle_deg is not None])
    angle = np.unwrap(counted, period=360.0)
    return Mount(
        chip=sensor.chip,
        address=chip_facts(sensor).address,
        identity=identity,
        arc_deg=float(np.ptp(angle)),
        sense=_first_way(t, angle - angle[0]),
        start_deg=float(np.median(angle[t <= t[0] + REST_S])) % 360.0,
    )


def _check_even(samples: Sequence[Sample]) -> None:
    if len(samples) < 50:
        raise _bad_swing("too few samples came: begin, swing the arm, then end")
    if any(s.saturated for s in samples):
        raise _bad_swing("the sensor hit its end stop: swing more gently")
    if any(b.t - a.t > LONGEST_GAP_S for a, b in pairwise(samples)):
        raise _bad_swing("samples were missing in the middle: swing again")


def _first_way(t: Floats, angle: Floats) -> int:
    """Give the sense of the first true move; refuse a short arc or an arm that never rested."""
    resting = angle[t <= t[0] + REST_S]
    if np.ptp(resting) > STIRRED_DEG:
        raise _bad_swing("the arm moved from the start: leave it at rest for a second, then swing")
    arc = float(np.ptp(angle))
    if arc < SHORTEST_ARC_DEG:
        raise _bad_swing(
            f"the arm swung {arc:.0f} deg, too short to see its plane: swing it at least "
            f"{SHORTEST_ARC_DEG:.0f} deg"
        )
    moved = np.abs(angle - np.median(resting)) > STIRRED_DEG
    return 1 if angle[int(np.argmax(moved))] > np.median(resting) else -1


def _smoothed(t: Floats, values: Floats) -> Floats:
    """Average over a tenth of a second, each end kept by a shorter window."""
    n = max(1, round(SMOOTHED_S / float(np.median(np.diff(t))))) | 1
    padded = np.pad(values, ((n // 2, n // 2), (0, 0)), mode="edge")
    sums = np.cumsum(np.vstack([np.zeros((1, values.shape[1])), padded]), axis=0)
    return np.asarray((sums[n:] - sums[:-n]) / n)


def _axes(vector: Floats) -> Axes:
    x, y, z = (float(v) for v in vector)
    return x, y, z


def _bad_swing(how: str) -> SensorFault:
    return SensorFault("alignment", how)
