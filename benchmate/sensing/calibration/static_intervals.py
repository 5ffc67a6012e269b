"""Still stops in a stream of samples, found by themselves: where the box stood, and how long."""

import math
from typing import NamedTuple

from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.sample import Sample, Vector

WINDOW_S = 0.25
SHORTEST_S = 0.5
LEAST_MOVE_DEG = 5.0
"""Two stops nearer than this are one."""
STEADY_G = 3e-3
"""A box on a bench is taken as still while no axis spreads more, however quiet the chip."""


class StaticInterval(NamedTuple):
    """One standstill: means over it, and what the gyro gathered on the way to it."""

    t: float
    """When it began [s]."""
    samples: int
    """How many were averaged."""
    accel_g: Vector | None
    angle_deg: float | None
    """Of an encoder."""
    gyro_dps: Vector | None
    temperature_c: float | None
    spun_deg: Vector
    """Integral of the gyro's rates from the end of the stop before, its zero not taken out."""
    spun_s: float
    """How long that took [s]."""
    measured_deg: float | None = None
    """What a protractor read at this stop."""


class StaticIntervalDetector:
    """Takes samples one by one and gives the stops so far; its memory is the stops."""

    def __init__(self, facts: ChipFacts) -> None:
        self._facts = facts
        self._window: list[Sample] = []
        self._spun = Vector(0.0, 0.0, 0.0)
        self._spun_s = 0.0
        self._last_t: float | None = None
        self._standing: StaticInterval | None = None
        self.stops: list[StaticInterval] = []

    def see(self, sample: Sample) -> bool:
        """Take one good sample in; True when it made a stop count."""
        self._spin(sample)
        self._window.append(sample)
        if sample.t - self._window[0].t < WINDOW_S:
            return False
        window, self._window = self._window, []
        found = self._stop(window)
        if found is None:
            self._standing = None
            return False
        return self._join(found)

    def measured(self, angle_deg: float) -> bool:
        """Note a protractor's reading at the last stop; False when there is none yet."""
        if not self.stops:
            return False
        self.stops[-1] = self.stops[-1]._replace(measured_deg=angle_deg)
        return True

    def _spin(self, sample: Sample) -> None:
        if sample.gyro_dps is not None and self._last_t is not None:
            dt = sample.t - self._last_t
            self._spun = Vector(
                *(s + g * dt for s, g in zip(self._spun, sample.gyro_dps, strict=True))
            )
            self._spun_s += dt
        self._last_t = sample.t

    def _stop(self, window: list[Sample]) -> StaticInterval | None:
        accel, angle = static_mean(window, self._facts), static_angle_mean(window, self._facts)
        if (accel is None and window[0].accel_g is not None) or (
            angle is None and window[0].angle_deg is not None
        ):
            return None
        gyro = static_gyro_mean(window, self._facts)
        if gyro is None and self._facts.has_gyro:
            return None
        temperature = window[-1].temperature_c
        return StaticInterval(
            window[0].t, len(window), accel, angle, gyro, temperature, self._spun, self._spun_s
        )

    def _join(self, found: StaticInterval) -> bool:
        """Let a still window lengthen the stop it belongs to, or begin another."""
        if self._standing is None or _apart_deg(self._standing, found) > LEAST_MOVE_DEG:
            self._standing = found
            return False
        self._standing = grown = _together(self._standing, found)
        if self.stops and self.stops[-1].t == grown.t:
            self.stops[-1] = grown._replace(measured_deg=self.stops[-1].measured_deg)
            self._spun, self._spun_s = Vector(0.0, 0.0, 0.0), 0.0
            return False
        if found.t - grown.t + WINDOW_S < SHORTEST_S:
            return False
        if self.stops and _apart_deg(self.stops[-1], grown) <= LEAST_MOVE_DEG:
            return False
        self.stops.append(grown)
        self._spun, self._spun_s = Vector(0.0, 0.0, 0.0), 0.0
        return True


def static_mean(window: list[Sample], facts: ChipFacts) -> Vector | None:
    """Give the mean acceleration [g] of samples taken while the box stood still, None if it moved.

    Still: each axis spreads no more than three times the chip's noise, and halves agree.
    """
    seen = [s.accel_g for s in window if s.accel_g is not None]
    means = []
    for values, noise in zip(zip(*seen, strict=True), facts.accel_noise_g, strict=False):
        mean = _still(values, max(noise, STEADY_G / 3.0))
        if mean is None:
            return None
        means.append(mean)
    return Vector(*means) if len(means) == 3 else None


def static_gyro_mean(window: list[Sample], facts: ChipFacts) -> Vector | None:
    """Give the gyro's mean rates [deg/s] while the box stood still, None if it turned."""
    seen = [s.gyro_dps for s in window if s.gyro_dps is not None]
    means = [_still(values, facts.gyro_noise_dps) for values in zip(*seen, strict=True)]
    x, y, z = means if len(means) == 3 else (None, None, None)
    return None if x is None or y is None or z is None else Vector(x, y, z)


def static_angle_mean(window: list[Sample], facts: ChipFacts) -> float | None:
    """Give an encoder's mean angle [deg] over samples taken at a standstill, None if it moved."""
    seen = [s.angle_deg for s in window if s.angle_deg is not None]
    if not seen:
        return None
    off = [math.remainder(angle - seen[0], 360.0) for angle in seen]
    mean = _still(tuple(off), math.hypot(facts.angle_noise_deg, facts.angle_step_deg))
    return None if mean is None else (seen[0] + mean) % 360.0


def _still(values: tuple[float, ...], noise: float) -> float | None:
    half = len(values) // 2
    if half < 4:
        return None
    mean = math.fsum(values) / len(values)
    spread = math.sqrt(math.fsum((v - mean) ** 2 for v in values) / len(values))
    drift = abs(math.fsum(values[:half]) - math.fsum(values[-half:])) / half
    return mean if spread <= 3.0 * noise and drift <= 6.0 * noise / math.sqrt(half) else None


def _apart_deg(a: StaticInterval, b: StaticInterval) -> float:
    if a.angle_deg is not None and b.angle_deg is not None:
        return abs(math.remainder(a.angle_deg - b.angle_deg, 360.0))
    if a.accel_g is None or b.accel_g is None:
        return math.inf
    dot = math.fsum(p * q for p, q in zip(a.accel_g, b.accel_g, strict=True))
    return math.degrees(
        math.acos(max(-1.0, min(1.0, dot / math.hypot(*a.accel_g) / math.hypot(*b.accel_g))))
    )


def _together(a: StaticInterval, b: StaticInterval) -> StaticInterval:
    samples = a.samples + b.samples
    share = b.samples / samples

    def mean(p: Vector | None, q: Vector | None) -> Vector | None:
        if p is None or q is None:
            return None
        return Vector(*(u + share * (v - u) for u, v in zip(p, q, strict=True)))

    angle = a.angle_deg
    if angle is not None and b.angle_deg is not None:
        angle = (angle + share * math.remainder(b.angle_deg - angle, 360.0)) % 360.0
    return a._replace(
        samples=samples,
        accel_g=mean(a.accel_g, b.accel_g),
        angle_deg=angle,
        gyro_dps=mean(a.gyro_dps, b.gyro_dps),
        temperature_c=b.temperature_c,
    )
