"""An arm with a box on it, made of kinematics alone: what the sensor room is tried on.

It shares nothing with the program's own rehearsal bench. Angles are degrees and the arm's angle is
right-handed about the pivot's axis; accelerations are what a box at ``radius_mm`` feels.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from benchmate.sensing.chips.driver import MEAN_WAIT, ChipFacts
from benchmate.sensing.sample import Sample, Vector

Floats = NDArray[np.float64]
G = 9.80665
SLOW_S = 5.0
TURNED_AT_C = 20.0


@dataclass
class Motion:
    """The arm's angle [deg], rate [deg/s] and acceleration [deg/s^2] at times t [s]."""

    t: Floats
    angle: Floats
    rate: Floats
    acceleration: Floats

    def then(self, other: "Motion") -> "Motion":
        """Go on with another motion from where this one ends."""
        step = self.t[1] - self.t[0]
        return Motion(
            np.concatenate([self.t, other.t + self.t[-1] + step]),
            np.concatenate([self.angle, other.angle + self.angle[-1]]),
            np.concatenate([self.rate, other.rate]),
            np.concatenate([self.acceleration, other.acceleration]),
        )


def waits(facts: ChipFacts, rng: np.random.Generator, n: int) -> Floats:
    """Give by how much more [s] than on the whole each of n samples waits for its reader.

    A reader that asks 3 to 9 per cent ahead of the chip, and a quarter later where it was too
    early, finds a sample that has waited so much less than the one before, until it comes too
    early again.
    """
    crept = rng.random() - rng.uniform(0.03, 0.09) / 0.235 * np.arange(n)
    return (0.235 * (crept % 1.0) - MEAN_WAIT) / facts.rate_hz


def late(motion: Motion, delay_s: float | Floats) -> Motion:
    """Give the motion as a chip shows it that is so much behind."""
    then = motion.t - delay_s
    return Motion(
        motion.t,
        np.interp(then, motion.t, motion.angle),
        np.interp(then, motion.t, motion.rate),
        np.interp(then, motion.t, motion.acceleration),
    )


def stay(seconds: float, rate_hz: float) -> Motion:
    n = max(2, round(seconds * rate_hz))
    return Motion(np.arange(n) / rate_hz, np.zeros(n), np.zeros(n), np.zeros(n))


def turn_by(degrees: float, seconds: float, rate_hz: float) -> Motion:
    """Turn as one smooth stroke does: the acceleration is one period of a sine."""
    n = max(2, round(seconds * rate_hz))
    s = np.arange(1, n + 1) / n
    seconds = n / rate_hz
    speed = degrees / seconds
    return Motion(
        np.arange(n) / rate_hz,
        degrees * (s - np.sin(2 * np.pi * s) / (2 * np.pi)),
        speed * (1 - np.cos(2 * np.pi * s)),
        2 * np.pi * degrees / seconds**2 * np.sin(2 * np.pi * s),
    )


def creep(degrees: float, rate_dps: float, rate_hz: float) -> Motion:
    n = round(degrees / rate_dps * rate_hz)
    return Motion(
        np.arange(n) / rate_hz,
        rate_dps * np.arange(1, n + 1) / rate_hz,
        np.full(n, rate_dps),
        np.zeros(n),
    )


def swing(rate_hz: float, arc: float = 95.0) -> Motion:
    """Swing the arm out and back by hand, as for an alignment."""
    motion = stay(1.0, rate_hz).then(turn_by(arc, 3.5, rate_hz)).then(stay(0.7, rate_hz))
    return motion.then(turn_by(-arc, 3.5, rate_hz)).then(stay(0.7, rate_hz))


@dataclass
class Press:
    """One hit: the motion, and where it pumps, stands at its peak and stands at rest."""

    motion: Motion
    pumping: Floats
    peak: Floats
    rest: Floats


def press(rng: np.random.Generator, rate_hz: float, stop: float = 93.0) -> Press:
    """Pump by hand to about ``stop`` in strokes of some 3 deg in 0.4 s, hold, release, rest."""
    motion = stay(1.0, rate_hz)
    pumping = [len(motion.t)]
    reached = 0.0
    while reached < stop:
        size = rng.uniform(2.0, 4.0)
        motion = motion.then(turn_by(size, rng.uniform(0.3, 0.5), rate_hz))
        motion = motion.then(stay(rng.uniform(0.15, 0.5), rate_hz))
        reached += size
    pumping.append(len(motion.t))
    motion = motion.then(stay(1.5, rate_hz))
    held = len(motion.t)
    motion = motion.then(turn_by(-rng.uniform(2.0, 4.0), 0.3, rate_hz)).then(stay(2.0, rate_hz))
    index = np.arange(len(motion.t))
    return Press(
        motion,
        (index >= pumping[0]) & (index < pumping[1]),
        (index >= held - round(0.5 * rate_hz)) & (index < held),
        index >= len(index) - round(0.5 * rate_hz),
    )


@dataclass
class Box:
    """A chip with its factory's errors, clamped to the arm at some attitude and radius.

    ``pivot`` is the pivot's axis in the chip's frame, right-handed as the arm bends; ``up`` is
    where up points at arm angle 0; ``place`` is where on the arm the box stands, as a direction
    across the pivot's axis in the chip's frame.
    """

    facts: ChipFacts
    radius_mm: float
    pivot: Floats
    up: Floats
    place: Floats
    gains: Floats = field(default_factory=lambda: np.eye(3))
    offset: Floats = field(default_factory=lambda: np.zeros(3))
    gyro_gain: float = 1.0
    gyro_bias: Floats = field(default_factory=lambda: np.zeros(3))
    drift_g_per_c: Floats = field(default_factory=lambda: np.zeros(3))
    warmth_c: float = 0.0
    """How much warmer it is than when the box was turned."""
    noise: float = 1.0

    def samples(self, motion: Motion, rng: np.random.Generator, t0: float = 0.0) -> list[Sample]:
        return list(self.stream(motion, rng, t0))

    def stream(self, motion: Motion, rng: np.random.Generator, t0: float = 0.0) -> Iterator[Sample]:
        facts = self.facts
        motion = late(motion, facts.delay_s)
        axis = self.pivot
        phi, w, wdot = (np.radians(v) for v in (motion.angle, motion.rate, motion.acceleration))
        # In the box's frame the world turns the other way.
        up = turned(self.up, axis, -phi)
        r = self.radius_mm / 1000 / G
        tangent = np.cross(axis, self.place)
        felt = up + r * (wdot[:, None] * tangent - (w**2)[:, None] * self.place)
        noise = self.noise * rng.normal(size=felt.shape) * np.array(facts.accel_noise_g)
        noise += self.noise * facts.slow_noise_g * wander(rng, len(felt), facts.rate_hz)
        offset = self.offset + self.drift_g_per_c * self.warmth_c
        counts = np.round((felt @ self.gains.T + offset + noise) / facts.accel_step_g)
        accel = counts * facts.accel_step_g
        raws = [counts.astype(int)]
        gyro = None
        if facts.has_gyro:
            spun = np.degrees(w)[:, None] * axis / self.gyro_gain + self.gyro_bias
            spun = spun + self.noise * rng.normal(size=spun.shape) * facts.gyro_noise_dps
            spins = np.round(spun / facts.gyro_step_dps)
            gyro = spins * facts.gyro_step_dps
            raws.insert(0, spins.astype(int))
        raw = np.hstack(raws)
        tells_warmth = facts.kind != "adxl345"
        for i, t in enumerate(motion.t):
            yield Sample(
                t=t0 + float(t),
                raw=tuple(raw[i].tolist()),
                accel_g=Vector(*accel[i].tolist()),
                gyro_dps=None if gyro is None else Vector(*gyro[i].tolist()),
                temperature_c=TURNED_AT_C + self.warmth_c if tells_warmth else None,
            )


def any_box(
    facts: ChipFacts,
    radius_mm: float,
    rng: np.random.Generator,
    tilt_deg: float = 0.0,
    *,
    errors: bool = True,
) -> Box:
    """Clamp a box anyhow; ``tilt_deg`` is the pivot axis's lean out of the level."""
    frame = np.linalg.qr(rng.normal(size=(3, 3)))[0]
    frame *= np.sign(np.linalg.det(frame))
    pivot, up0, side = frame
    lean = np.radians(tilt_deg)
    up = np.cos(lean) * up0 + np.sin(lean) * pivot
    around = rng.uniform(0, 2 * np.pi)
    place = np.cos(around) * up0 + np.sin(around) * side
    box = Box(facts, radius_mm, pivot, up, place)
    if errors:
        skew = np.triu(rng.normal(size=(3, 3)), 1) * facts.skew
        box.gains = np.eye(3) + np.diag(rng.normal(size=3)) * facts.gain + skew + skew.T
        box.offset = rng.normal(size=3) * facts.offset_g
        box.gyro_gain = 1.0 + rng.normal() * 0.01
        box.gyro_bias = rng.normal(size=3) * facts.gyro_bias_dps
        box.drift_g_per_c = rng.normal(size=3) * facts.offset_drift_g_per_c
        box.drift_g_per_c[2] *= facts.z_drifts_more
    return box


def full_turn(
    rng: np.random.Generator, rate_hz: float, stops: int = 12, arc: float = 360.0
) -> Motion:
    """Turn the box round by hand, standing still about evenly; the last stop is short of a turn."""
    motion = stay(1.5, rate_hz)
    for _ in range(stops - 1):
        step = arc / stops * rng.uniform(0.85, 1.15)
        motion = motion.then(turn_by(step, rng.uniform(0.6, 1.0), rate_hz))
        motion = motion.then(stay(rng.uniform(1.2, 2.0), rate_hz))
    return motion


def wander(rng: np.random.Generator, n: int, rate_hz: float) -> Floats:
    """Give three slow noises of 1 sd: a first-order memory of five seconds."""
    kept = np.exp(-1.0 / (SLOW_S * rate_hz))
    walk = rng.normal(size=(n, 3))
    walk[1:] *= np.sqrt(1 - kept**2)
    for i in range(1, n):
        walk[i] += kept * walk[i - 1]
    return walk


def turned(vector: Floats, axis: Floats, angle: Floats | float) -> Floats:
    """Turn a vector about a unit axis by one angle or many [rad] (Rodrigues)."""
    c, s = np.cos(angle)[..., None], np.sin(angle)[..., None]
    return vector * c + np.cross(axis, vector) * s + axis * (axis @ vector) * (1 - c)
