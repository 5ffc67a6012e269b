"""A second sensor on the frame: what a bench rocks under the pump, taken out of the arm angle."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from benchmate.sensing.calibration.error_model import Axes, Calibration, from_factory
from benchmate.sensing.calibration.static_intervals import static_mean
from benchmate.sensing.chips.registry import chip_facts
from benchmate.sensing.estimator import ArmAngleEstimator
from benchmate.sensing.mount.alignment import REST_S, Mount, Swing
from benchmate.sensing.sample import ArmEstimate, Sample, SensorFault
from benchmate.shop.parts import Sensor

MOST_TWIST_DEG = 15.0
"""A frame's sensor may be clamped this much out of the arm's plane; rocking is read to 4 %."""


@dataclass(frozen=True, slots=True)
class Mounts:
    """How the arm's sensor sits, and the frame's where there is one."""

    arm: Mount
    frame: Mount | None = None


class FrameReferencedSwing:
    """Gathers one swing of the arm, and the frame at rest before it, where it has a sensor."""

    def __init__(self, swing: Swing, frame: Sensor | None = None) -> None:
        self._swing = swing
        self._frame = frame
        self._rest: list[Sample] = []

    def see(self, sample: Sample) -> None:
        """Take one good sample in; SensorFault("alignment") when the swing never ends."""
        self._swing.see(sample)
        frame, rests = sample.frame, self._rest
        # The arm may be read faster than the frame: each of its samples counts once.
        if frame is None or (rests and frame.t == rests[-1].t):
            return
        if not rests or frame.t - rests[0].t <= REST_S:
            rests.append(frame)

    def end(self) -> Mounts:
        """Fit both mounts, as ``fit_mount`` and ``frame_mount`` do."""
        arm = self._swing.end()
        if self._frame is None:
            return Mounts(arm)
        return Mounts(arm, frame_mount(arm, self._rest, self._frame))


class FrameReferencedEstimator:
    """Follows the arm against a frame that rocks, by samples that carry the frame's."""

    def __init__(self, arm: ArmAngleEstimator, frame: ArmAngleEstimator) -> None:
        self._arm = arm
        self._frame = frame
        self._rocked: ArmEstimate | None = None

    def reset(self) -> None:
        """Begin anew with the next sample; the number of whole turns so far is kept."""
        self._arm.reset()
        self._frame.reset()

    def step(self, sample: Sample) -> ArmEstimate:
        """Take one sample in; give the arm as it is believed to stand to the frame."""
        if sample.frame is None:
            raise ValueError("a sample beside a sensor on the frame carries the frame's own")
        if self._rocked is None or sample.frame.t != self._rocked.t:
            self._rocked = self._frame.step(sample.frame)
        return without_rocking(self._arm.step(sample), self._rocked)


def frame_mount(
    arm: Mount,
    samples: Sequence[Sample],
    sensor: Sensor,
    identity: str = "",
    calibration: Calibration | None = None,
) -> Mount:
    """Give the mount of a sensor on the frame, from samples at rest.

    A frame can't be swung, so its sensor is clamped the same way round as the arm's: the pivot
    then has the arm sensor's normal. A turn of the box about the pivot's axis doesn't matter.
    SensorFault("alignment") when the frame moved or the box sits another way round.
    """
    facts = chip_facts(sensor)
    known = from_factory(facts) if calibration is None else calibration
    shown = static_mean(list(samples), facts)
    if shown is None:
        raise SensorFault("alignment", "the frame moved: leave the bench alone for a second")
    felt = known.correct(shown)
    height = _dot(felt, arm.normal)
    twist = math.degrees(math.asin(max(-1.0, min(1.0, height - arm.height_g))))
    if abs(twist) > MOST_TWIST_DEG:
        raise SensorFault(
            "alignment",
            f"the frame's sensor sits {abs(twist):.0f} deg out of the arm's plane: clamp it the "
            "same way round as the one on the arm",
        )
    flat = _unit(tuple(f - height * n for f, n in zip(felt, arm.normal, strict=True)))
    return Mount(
        chip=sensor.chip,
        address=facts.address,
        identity=identity,
        normal=arm.normal,
        along=flat,
        across=_cross(arm.normal, flat),
        height_g=height,
        leverage=math.sqrt(max(1.0 - height * height, 0.0)),
        shown_normal=arm.normal,
        shown_height_g=_dot(shown, arm.normal),
        gyro_gain=known.gyro_gain,
        gyro_gain_sd=known.gyro_gain_sd,
        # It hardly moves, so where on the frame it sits doesn't show.
        lever_covariance=(0.0, 0.0, 0.0),
    )


def without_rocking(arm: ArmEstimate, frame: ArmEstimate) -> ArmEstimate:
    """Give the arm's reading against the frame, the frame's carried on to the arm's time."""
    rocked = frame.arm_deg + frame.rate_dps * (arm.t - frame.t)
    return ArmEstimate(
        arm.t,
        arm.arm_deg - rocked,
        arm.rate_dps - frame.rate_dps,
        math.hypot(arm.sd_deg, frame.sd_deg),
        math.hypot(arm.noise_deg, frame.noise_deg),
    )


def _dot(a: Axes, b: Axes) -> float:
    return sum(p * q for p, q in zip(a, b, strict=True))


def _unit(vector: tuple[float, ...]) -> Axes:
    size = math.hypot(*vector)
    x, y, z = (v / size for v in vector)
    return x, y, z


def _cross(a: Axes, b: Axes) -> Axes:
    return (a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0])
