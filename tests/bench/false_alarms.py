"""How often gravity's length at rest cries wolf, and how large a shifted zero it sees.

    python tests/bench/false_alarms.py [--rigs 200] [--only CHIP] [--warm C] [--bare]

Each rig is a chip with its factory's errors in a box clamped anyhow, calibrated by one turn and
one swing unless ``--bare``, then pumped by hand to some 93 degrees, held and released, three
times. ``--warm`` lets it be so many degrees warmer than at its calibration, each axis drifting
as its data sheet says, 1 sd. Alarms are counted in whole bends without a fault. Then the zero
jumps once, any way round, in the middle of a hold, and what is told of it until the arm has come
to rest is counted; the yardstick is the limit that an uncalibrated chip's spread leaves.
"""

import argparse
import dataclasses
import itertools
import math
import sys
from collections.abc import Iterator
from pathlib import Path

import numpy as np

from benchmate.sensing import chip_facts
from benchmate.sensing.calibration.multi_position import MultiPositionCalibration
from benchmate.sensing.health.gravity_norm import FACTORY_SURELY, FLOOR_G
from benchmate.sensing.health.monitor import HealthMonitor
from benchmate.sensing.mount.alignment import Mount, fit_mount
from benchmate.sensing.sample import Sample, SensorFault
from benchmate.shop.parts import ChipKind, Sensor

sys.path.insert(0, str(Path(__file__).parents[1] / "sensing"))
import shaken_arm as arms  # the tests' own, found by the line above

CHIPS: tuple[ChipKind, ...] = ("lsm6dso", "adxl355", "adxl345")
STEPS_G = (0.01, 0.02, 0.03, 0.05)
BENDS = 3


class Rig:
    """One chip in its box: calibrated, aligned, and as warm as it is asked to be."""

    def __init__(self, chip: ChipKind, seed: int, radius_mm: float, *, bare: bool) -> None:
        self.rng = np.random.default_rng(seed)
        sensor = Sensor(chip=chip)
        self.facts = chip_facts(sensor)
        self.box = arms.any_box(self.facts, radius_mm, self.rng, self.rng.uniform(-30, 30))
        self.calibration = None
        if not bare:
            turn = MultiPositionCalibration(sensor)
            loose = dataclasses.replace(self.box, radius_mm=0.0)
            for sample in loose.stream(arms.full_turn(self.rng, self.facts.rate_hz), self.rng):
                turn.see(sample)
            self.calibration = turn.end()
        swung = self.box.samples(arms.swing(self.facts.rate_hz), self.rng)
        self.mount: Mount = fit_mount(swung, sensor, "", self.calibration)

    def warm(self, degrees_c: float) -> None:
        """Let the zero drift; a thermometer, where there is one, isn't told: the harder case."""
        drift = self.facts.offset_drift_g_per_c * np.array([1.0, 1.0, self.facts.z_drifts_more])
        self.box.offset = self.box.offset + degrees_c * drift * self.rng.normal(size=3)

    def health(self) -> HealthMonitor:
        """Give a fresh judge that knows what is known of this rig."""
        return HealthMonitor(self.facts, self.mount, self.calibration)

    def bend(self, t0: float, step_g: float = 0.0) -> tuple[list[Sample], float]:
        """Give a bend's samples, and when the zero jumped: half a second into the hold."""
        press = arms.press(self.rng, self.facts.rate_hz)
        jump = int(np.flatnonzero(press.peak)[0])
        back = arms.turn_by(-float(press.motion.angle[-1]), 3.0, self.facts.rate_hz)
        samples = self.box.samples(press.motion.then(back), self.rng, t0)
        way = self.rng.normal(size=3)
        self.box.offset = self.box.offset + step_g * way / np.linalg.norm(way)
        if step_g:
            counts = step_g * way / np.linalg.norm(way)
            samples[jump:] = [
                s._replace(accel_g=type(s.accel_g)(*(np.array(s.accel_g) + counts)))
                for s in samples[jump:]
            ]
        return samples, samples[jump].t


def told(health: HealthMonitor, samples: list[Sample]) -> Iterator[tuple[float, SensorFault]]:
    """Give each fault that is told anew, and when."""
    standing = ""
    for sample in samples:
        fault = health.see(sample)
        now = "" if fault is None else fault.detail
        if fault is not None and now != standing:
            yield sample.t, fault
        standing = now


def main() -> None:
    """Count, and print a line for each chip and place."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("--rigs", type=int, default=200)
    asked.add_argument("--first", type=int, default=1)
    asked.add_argument("--only", choices=CHIPS)
    asked.add_argument("--warm", type=float, default=0.0)
    asked.add_argument("--bare", action="store_true")
    want = asked.parse_args()
    for chip, radius in itertools.product((want.only,) if want.only else CHIPS, (80.0, 450.0)):
        alarms: list[str] = []
        seen = dict.fromkeys(STEPS_G, 0)
        late: list[float] = []
        for seed in range(want.first, want.first + want.rigs):
            rig = Rig(chip, seed, radius, bare=want.bare)
            rig.warm(want.warm)
            health, t = rig.health(), 0.0
            for _ in range(BENDS):
                samples, _ = rig.bend(t)
                found = list(told(health, samples))
                alarms += [fault.detail for _, fault in found[:1]]
                t = samples[-1].t + 1.0 / rig.facts.rate_hz
                if found:
                    break
            step = STEPS_G[seed % len(STEPS_G)]
            samples, jumped = rig.bend(t, step)
            first = next((at for at, _ in told(rig.health(), samples) if at >= jumped), math.nan)
            if not math.isnan(first):
                seen[step] += 1
                late.append(first - jumped)
        facts = chip_facts(Sensor(chip=chip))
        wide = FLOOR_G + FACTORY_SURELY * math.hypot(facts.offset_g, facts.gain)
        steps = ", ".join(
            f"{1e3 * step:.0f} mg {seen[step] / max(1, want.rigs // len(STEPS_G)):.0%}"
            for step in STEPS_G
        )
        sys.stdout.write(
            f"{chip} at {radius:.0f} mm: alarms {len(alarms)} in {want.rigs} rigs; steps seen "
            f"{steps} (spread alone: from {1e3 * wide:.0f} mg); in "
            f"{np.median(late) if late else math.nan:.2f} s\n"
        )
        sys.stdout.writelines(f"    {detail}\n" for detail in alarms[:3])
        sys.stdout.flush()


if __name__ == "__main__":
    main()
