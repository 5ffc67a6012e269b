"""One sample after another through driver, health, estimator, tracker and guide.

The bus is a tape: what a chip on a shaken arm shows in one bend, over and over, taking no time.
"""

from collections import Counter
from types import ModuleType

import numpy as np

from benchmate.bench.motion.cue import Guide, Wanted, advise
from benchmate.bench.motion.tracker import NewBend, Peaked, TakeZero, Track, follow, mark
from benchmate.sensing import chip_facts, open_chip
from benchmate.sensing.bus import Bus
from benchmate.sensing.calibration.error_model import Calibration
from benchmate.sensing.estimator import ArmAngleEstimator
from benchmate.sensing.health.monitor import HealthMonitor
from benchmate.sensing.mount.alignment import Mount, fit_mount
from benchmate.sensing.sample import Sample
from benchmate.shop.parts import Arm, Sensor

STOP_DEG = 30.0
LEFT = 1e-4
"""What a good calibration leaves of each of a chip's terms."""


class Tape:
    """A bus that shows one burst after another, and the clock that its samples are read by."""

    def __init__(self, bursts: list[bytes], period_s: float) -> None:
        self._bursts = bursts
        self._size = len(bursts[0])
        self._period_s = period_s
        self._next = 0
        self.t = 0.0

    def now(self) -> float:
        return self.t

    def sleep(self, seconds: float) -> None:
        self.t += seconds

    def wind(self) -> None:
        """Let the next sample come."""
        self.t += self._period_s
        self._next = (self._next + 1) % len(self._bursts)

    def read_byte_data(self, address: int, register: int) -> int:
        # Ready, whichever chip asks; an encoder sees its magnet.
        return 0xA3

    def read_i2c_block_data(self, address: int, register: int, n: int) -> bytes:
        return self._bursts[self._next] if n == self._size else bytes(n)


class Looped:
    """A chip's whole way from bytes to cue, and what came of it."""

    def __init__(self, arms: ModuleType, chip: str, seed: int = 1) -> None:
        self.sensor = Sensor(chip=chip)
        self.facts = chip_facts(self.sensor)
        rng = np.random.default_rng(seed)
        bend = arms.press(rng, self.facts.rate_hz, STOP_DEG)
        motion = bend.motion
        self.peak_deg = float(motion.angle[bend.peak].mean())
        motion = motion.then(arms.turn_by(-motion.angle[-1], 2.0, self.facts.rate_hz))
        motion = motion.then(arms.stay(1.0, self.facts.rate_hz))
        left = np.eye(6 if self.facts.is_encoder else 9) * LEFT**2
        known = Calibration(chip=chip, address=0, covariance=tuple(map(tuple, left.tolist())))
        samples, mount = self._played(arms, motion, known, rng)
        self.bend_samples = len(samples)
        self.tape = Tape([burst(chip, s.raw) for s in samples], 1.0 / self.facts.rate_hz)
        self.bus = Bus(lambda _: self.tape)
        self._driver = open_chip(self.sensor, self.bus, self.tape)
        self._health = HealthMonitor(self.facts, mount)
        self._estimator = ArmAngleEstimator(mount, self.facts, Arm(radius_mm=80.0), known)
        self._track, self._guide = Track(follows_tube=True), Guide()
        self._wanted = Wanted(stop_angle=STOP_DEG, over_angle=STOP_DEG + 10.0)
        self._seen = 0
        self.peaks_deg: Counter[float] = Counter()
        self.cues: Counter[str] = Counter()

    def step(self) -> None:
        """Take the next sample all the way."""
        if self._seen % self.bend_samples == 0:
            self._track = mark(mark(self._track, NewBend()), TakeZero())
        self._seen += 1
        self.tape.wind()
        sample = self._driver.read()
        assert sample is not None
        assert self._health.see(sample) is None
        reading = self._estimator.step(sample)
        self._track, happened = follow(self._track, reading)
        self._guide = advise(
            self._guide,
            phase=self._track.phase,
            latched=False,
            t=reading.t,
            arm=self._track.arm,
            rate=reading.rate_dps,
            wanted=self._wanted,
        )
        self.cues[self._guide.cue] += 1
        if isinstance(happened, Peaked):
            self.peaks_deg[round(happened.arm, 1)] += 1

    def bare(self) -> None:
        """Move the same bytes over the same bus, and make nothing of them."""
        self.tape.wind()
        for _ in range(2 if self.facts.is_encoder else 1):
            self.bus.read_byte(self.facts.address, 0)
        self.bus.read_block(self.facts.address, 0, len(self.tape._bursts[0]))

    def _played(
        self,
        arms: ModuleType,
        motion: object,
        known: Calibration,
        rng: np.random.Generator,
    ) -> tuple[list[Sample], Mount]:
        if self.facts.is_encoder:
            shown = motion.angle + rng.normal(size=len(motion.t)) * self.facts.angle_noise_deg
            counts = np.round(shown / self.facts.angle_step_deg).astype(int) % 4096
            samples = [Sample(float(t), (int(n),)) for t, n in zip(motion.t, counts, strict=True)]
            return samples, Mount(chip="as5600", address=self.facts.address, identity="")
        box = arms.any_box(self.facts, 80.0, rng, errors=False)
        mount = fit_mount(box.samples(arms.swing(self.facts.rate_hz), rng), self.sensor, "", known)
        return box.samples(motion, rng), mount


def burst(chip: str, raw: tuple[int, ...]) -> bytes:
    """Give a sample's counts as the chip's registers hold them."""
    if chip == "adxl355":
        return b"".join((v << 4 & 0xFFFFFF).to_bytes(3, "big") for v in raw)
    if chip == "as5600":
        return raw[0].to_bytes(2, "big")
    return b"".join(v.to_bytes(2, "little", signed=True) for v in raw)
