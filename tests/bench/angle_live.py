"""How true the live arm angle is while pumped: against truth, yardsticks and a bound.

    python tests/bench/angle_live.py [--rigs 24] [--only CHIP] [--warmth 5]

Each rig is a chip with its factory's errors in a box clamped anyhow, calibrated by one turn and
one swing, then pumped by hand to some 93 degrees, held, and released. Yardsticks on the same
samples: the bare direction of the calibrated vector (or the bare encoder), and the best
first-order low-pass of it, its time chosen in hindsight over all rigs.

The bound is the posterior Cramer-Rao bound (P. Tichavsky, C. Muravchik, A. Nehorai, "Posterior
Cramer-Rao bounds for discrete-time nonlinear filtering", IEEE Trans. Signal Processing 46, 1998)
of an observer who is told when the arm stands still, where the box sits and what the chip's errors
are; in a stroke the acceleration is noise of the strokes' own size and length. The estimator is
told the last two here as well, but finds standstills for itself; so the bound is given once more
for an observer who hears of a standstill as late as the program's own rule lets it.
"""

import argparse
import dataclasses
import math
import statistics
import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from benchmate.sensing import chip_facts
from benchmate.sensing.calibration.error_model import Calibration
from benchmate.sensing.calibration.multi_position import (
    PROTRACTOR_SD_DEG,
    MultiPositionCalibration,
    fit_harmonics,
)
from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.estimator import ArmAngleEstimator
from benchmate.sensing.filters.kalman import STROKE_ACCELERATION, STROKE_W
from benchmate.sensing.mount.alignment import Mount, fit_mount
from benchmate.sensing.sample import Sample
from benchmate.shop.parts import Arm, Sensor

sys.path.insert(0, str(Path(__file__).parents[1] / "sensing"))
import shaken_arm as arms  # the tests' own, found by the line above

Floats = NDArray[np.float64]
G_MM = 9806.65


class Place(NamedTuple):
    """A chip, where it hangs, and the rms [deg] that is promised there."""

    chip: str
    radius_mm: float
    pumping: float
    standing: float


PLACES = (
    Place("lsm6dso", 80.0, 0.2, 0.12),
    Place("lsm6dso", 450.0, 0.4, 0.2),
    Place("adxl355", 80.0, 0.4, 0.12),
    Place("adxl345", 80.0, 0.6, 0.3),
    Place("as5600", 80.0, 0.15, 0.12),
)
WAITED_S = 2.0
WARMTH_C = 5.0
"""How much warmer or colder it is on the day than when the chip was turned, 1 sd."""
MOST_BOUNDS = 16
LAGS_S = tuple(0.01 * 1.5**n for n in range(12))


class Trace(NamedTuple):
    """One press: truth, what was shown, and what was made of it; degrees, since zero."""

    press: arms.Press
    bare: Floats
    live: Floats
    sd: Floats
    rate_hz: float

    def errors(self, shown: Floats, part: Floats) -> Floats:
        return (shown - self.press.motion.angle)[part]


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--rigs", type=int, default=24)
    parser.add_argument("--only", default="")
    parser.add_argument("--warmth", type=float, default=WARMTH_C, help="degrees C, 1 sd")
    asked = parser.parse_args()
    say(f"{asked.rigs} rigs each; rms in degrees; both calibrations done\n")
    say(
        "chip, place          pumping (bare   low-pass)  at most peak  rest  at most  "
        "within 1, 2 sd: pumping, standing   lag at 5 deg/s"
    )
    missed = 0
    for place in PLACES:
        if asked.only in place.chip:
            missed += table_row(place, asked.rigs, asked.warmth)
    say("\nagainst the bound (chips without errors): rms over bound in the stroke, at rest")
    for place in PLACES:
        if asked.only in place.chip:
            bound_row(place, asked.rigs)
    return 1 if missed else 0


def table_row(place: Place, rigs: int, warmth_c: float) -> int:
    traces = [calibrated_trace(place, seed, warmth_c) for seed in range(rigs)]
    lags = [lag_s(place, seed) for seed in range(min(rigs, 8))]
    parts = ("pumping", "peak", "rest")
    live = {part: pooled(traces, "live", part) for part in parts}
    low_pass = min(
        rms(
            [
                low_passed(t, lag)[t.press.pumping] - t.press.motion.angle[t.press.pumping]
                for t in traces
            ]
        )
        for lag in LAGS_S
    )
    ok = (
        live["pumping"] <= place.pumping
        and max(live["peak"], live["rest"]) <= place.standing
        and max(lags) <= 0.05
    )
    inside = "   ".join(
        f"{one:3.0%} {two:4.0%}"
        for one, two in (covered(traces, ("pumping",)), covered(traces, ("peak", "rest")))
    )
    say(
        f"{place.chip:8} {place.radius_mm:4.0f} mm     {live['pumping']:.3f}  "
        f"({pooled(traces, 'bare', 'pumping'):.3f}  {low_pass:.3f})     {place.pumping:.2f}   "
        f"{live['peak']:.3f}  {live['rest']:.3f}  {place.standing:.2f}   {inside}   "
        f"{1000 * max(lags):3.0f} ms  {'ok' if ok else 'MISSED'}"
    )
    return 0 if ok else 1


def calibrated_trace(place: Place, seed: int, warmth_c: float) -> Trace:
    """Calibrate, align, zero and press once."""
    rng = np.random.default_rng([seed, len(place.chip), int(place.radius_mm)])
    sensor = Sensor(chip=place.chip)  # type: ignore[arg-type]  # from the list above
    facts = chip_facts(sensor)
    rig = (
        EncoderRig(facts, rng) if facts.is_encoder else BoxRig(sensor, facts, place, rng, warmth_c)
    )
    press = arms.press(rng, facts.rate_hz)
    estimator = ArmAngleEstimator(rig.mount, facts, Arm(radius_mm=place.radius_mm), rig.calibration)
    # It has been looked at for a while before anyone takes zero.
    waited = arms.stay(WAITED_S, facts.rate_hz)
    samples = list(rig.stream(waited.then(press.motion)))
    readings = [estimator.step(sample) for sample in samples][len(waited.t) :]
    samples = samples[len(waited.t) :]
    bare = np.degrees(np.unwrap(np.radians([rig.bare(sample) for sample in samples])))
    live = np.array([r.arm_deg for r in readings])
    sd = np.array([r.sd_deg for r in readings])
    zero = (press.motion.t > 0.5) & (press.motion.t < 1.0)
    return Trace(press, bare - bare[zero].mean(), live - live[zero].mean(), sd, facts.rate_hz)


class BoxRig:
    """A box with an accelerometer, turned once and swung once."""

    def __init__(
        self,
        sensor: Sensor,
        facts: ChipFacts,
        place: Place,
        rng: np.random.Generator,
        warmth_c: float,
    ) -> None:
        self._facts, self._rng = facts, rng
        self._box = arms.any_box(facts, place.radius_mm, rng, rng.uniform(-30.0, 30.0))
        loose = dataclasses.replace(self._box, radius_mm=0.0)
        turn = MultiPositionCalibration(sensor)
        for sample in loose.stream(arms.full_turn(rng, facts.rate_hz), rng):
            turn.see(sample)
        self.calibration = turn.end()
        # Another day, and then in the course of it.
        self._box.warmth_c = rng.normal() * warmth_c
        swung = self._box.samples(arms.swing(facts.rate_hz), rng)
        self.mount = fit_mount(swung, sensor, "", self.calibration)
        self._box.warmth_c += rng.normal() * warmth_c / 2.0

    def stream(self, motion: arms.Motion):
        return self._box.stream(
            arms.late(motion, arms.waits(self._facts, self._rng, len(motion.t))), self._rng
        )

    def bare(self, sample: Sample) -> float:
        felt = np.array(self.calibration.correct(sample.accel_g))
        return math.degrees(
            math.atan2(felt @ np.array(self.mount.across), felt @ np.array(self.mount.along))
        )


class EncoderRig:
    """An encoder with harmonics of its own, tabled at sixteen protractor stops."""

    def __init__(self, facts: ChipFacts, rng: np.random.Generator) -> None:
        self._facts, self._rng = facts, rng
        self._sizes = rng.normal(size=4) * (0.7, 0.7, 0.5, 0.5)
        true = np.arange(0.0, 360.0, 22.5)
        stops = np.array([np.mean([self._count(a) for _ in range(200)]) for a in true])
        read = true + rng.normal(size=16) * PROTRACTOR_SD_DEG
        self.calibration = fit_harmonics(stops, read, PROTRACTOR_SD_DEG, facts)
        self.mount = Mount(chip="as5600", address=0x36, identity="", start_deg=self._count(0.0))

    def _count(self, true: float) -> float:
        a = np.radians(true)
        waves = np.array([np.sin(a), np.cos(a), np.sin(2 * a), np.cos(2 * a)])
        shown = true + 5.0 + self._sizes @ waves + self._rng.normal() * self._facts.angle_noise_deg
        return float(np.round(shown / self._facts.angle_step_deg) * self._facts.angle_step_deg)

    def stream(self, motion: arms.Motion):
        motion = arms.late(motion, self._facts.delay_s)
        for t, angle in zip(motion.t, motion.angle, strict=True):
            shown = self._count(angle) % 360.0
            yield Sample(float(t), (0,), angle_deg=shown)

    def bare(self, sample: Sample) -> float:
        return sample.angle_deg


def lag_s(place: Place, seed: int) -> float:
    """Give how far behind [s] the live angle is on an arm that turns at 5 degrees a second."""
    rng = np.random.default_rng([seed, 77])
    facts, box, _, estimator = faultless(place, rng)
    motion = arms.stay(1.0, facts.rate_hz).then(arms.creep(40.0, 5.0, facts.rate_hz))
    live = [estimator.step(s).arm_deg for s in perfect_stream(facts, box, motion, rng)]
    late = (motion.angle - np.array(live))[motion.angle > 4.0]
    return float(late.mean() / 5.0)


def bound_row(place: Place, rigs: int) -> None:
    errors: dict[str, list[Floats]] = {"stroke": [], "rest": []}
    bounds: dict[str, list[Floats]] = {"stroke": [], "rest": []}
    for seed in range(min(rigs, MOST_BOUNDS)):
        rng = np.random.default_rng([seed, 99])
        facts, box, mount, estimator = faultless(place, rng)
        press = arms.press(rng, facts.rate_hz)
        motion = press.motion
        live = [estimator.step(s).arm_deg for s in perfect_stream(facts, box, motion, rng)]
        bound = cramer_rao_deg(facts, mount, motion)
        moving = press.pumping & (np.abs(motion.acceleration) > 1e-6)
        for name, part in (("stroke", moving), ("rest", press.peak | press.rest)):
            errors[name].append((np.array(live) - motion.angle)[part])
            bounds[name].append(bound[part])
    told = []
    for name in ("stroke", "rest"):
        error, bound = rms(errors[name]), rms(bounds[name])
        told.append(f"{name} {error:.4f} / {bound:.4f} = {error / bound:4.2f}")
    say(f"  {place.chip:8} {place.radius_mm:4.0f} mm   " + "    ".join(told))


def faultless(
    place: Place, rng: np.random.Generator
) -> tuple[ChipFacts, "arms.Box | None", Mount, ArmAngleEstimator]:
    """Give a chip without errors, a box of known seat, and an estimator that is told both."""
    sensor = Sensor(chip=place.chip)  # type: ignore[arg-type]  # from the list above
    facts = chip_facts(sensor)._replace(slow_noise_g=0.0)
    known = Calibration(chip=place.chip, address=0, covariance=((0.0,) * 9,) * 9)
    if facts.is_encoder:
        mount = Mount(chip="as5600", address=0x36, identity="")
        known = dataclasses.replace(known, covariance=((0.0,) * 6,) * 6)
        return (
            facts,
            None,
            mount,
            ArmAngleEstimator(mount, facts, Arm(radius_mm=place.radius_mm), known),
        )
    box = arms.any_box(facts, place.radius_mm, rng, errors=False)
    normal, along = -box.pivot, box.up
    across = np.cross(normal, along)
    lever = place.radius_mm / G_MM
    seat = (lever * float(box.place @ along), lever * float(box.place @ across))
    mount = Mount(
        chip=place.chip,
        address=0,
        identity="",
        normal=tuple(normal.tolist()),
        along=tuple(along.tolist()),
        across=tuple(across.tolist()),
        gyro_gain_sd=1e-4,
        lever_s2=seat,
        lever_covariance=((1e-3 * lever) ** 2, 0.0, (1e-3 * lever) ** 2),
    )
    return facts, box, mount, ArmAngleEstimator(mount, facts, Arm(radius_mm=place.radius_mm), known)


def perfect_stream(
    facts: ChipFacts, box: "arms.Box | None", motion: arms.Motion, rng: np.random.Generator
):
    if box is not None:
        yield from box.stream(motion, rng)
        return
    motion = arms.late(motion, facts.delay_s)
    for t, angle in zip(motion.t, motion.angle, strict=True):
        shown = angle + rng.normal() * facts.angle_noise_deg
        step = facts.angle_step_deg
        yield Sample(float(t), (0,), angle_deg=float(np.round(shown / step) * step))


def cramer_rao_deg(
    facts: ChipFacts, mount: Mount, motion: arms.Motion, told_after_s: float = 0.0
) -> Floats:
    """Give the bound on the angle's sd [deg] sample by sample, for an observer told of standstills.

    ``told_after_s`` is how long one lasts before the observer is told.

    States angle, rate, acceleration, jerk and, with a gyro, its zero; the information of each
    sample is taken at the true state.
    """
    n = 5 if facts.has_gyro else 4
    dt = 1.0 / facts.rate_hz
    carry, drive = np.eye(n), np.zeros((n, n))
    carry[:4, :4], drive[:4, :4] = stroke_matrices(dt)
    covariance = np.diag([1.0, 0.0, 0.0, 0.0, math.radians(facts.gyro_bias_dps) ** 2][:n])
    standing = np.abs(motion.acceleration) < 1e-6
    for _ in range(round(told_after_s * facts.rate_hz)):
        standing[1:] &= standing[:-1].copy()
        standing[0] = True
    phi, w = np.radians(motion.angle), np.radians(motion.rate)
    accel = statistics.fmean(v**2 for v in facts.accel_noise_g)
    encoder = facts.angle_noise_deg**2 + facts.angle_step_deg**2 / 12.0
    bounds = np.zeros(len(phi))
    for k in range(len(phi)):
        if standing[k]:
            covariance[1:4, :] = 0.0
            covariance[:, 1:4] = 0.0
        elif standing[k - 1]:
            covariance[2, 2] = STROKE_ACCELERATION**2
            covariance[3, 3] = (STROKE_ACCELERATION * STROKE_W) ** 2
        else:
            covariance = carry @ covariance @ carry.T + drive
        if facts.is_encoder:
            rows, noises = [[1.0, 0.0, 0.0, 0.0]], [math.radians(1.0) ** 2 * encoder]
        else:
            (c1, c2), c, s = mount.lever_s2, math.cos(phi[k]), math.sin(phi[k])
            out, side = c1 * c + c2 * s, c2 * c - c1 * s
            rows = [[1.0, -2.0 * w[k] * side, -out, 0.0], [0.0, -2.0 * w[k] * out, side, 0.0]]
            noises = [accel, accel]
        if facts.has_gyro:
            rows = [[*row, 0.0] for row in rows] + [[0.0, 1.0, 0.0, 0.0, 1.0]]
            noises = [*noises, math.radians(facts.gyro_noise_dps) ** 2]
        for row, noise in zip(np.array(rows), noises, strict=True):
            gain = covariance @ row
            covariance = covariance - np.outer(gain, gain) / (row @ gain + noise)
        bounds[k] = math.sqrt(max(covariance[0, 0], 0.0))
    return np.degrees(bounds)


def stroke_matrices(dt: float) -> tuple[Floats, Floats]:
    """Give how angle, rate, acceleration and jerk go on over dt, and what is added to their spread.

    By series (C. F. Van Loan, "Computing integrals involving the matrix exponential", IEEE Trans.
    Automatic Control 23, 1978), from what the filter's model is said to be, not from its code.
    """
    flow = np.diag([1.0, 1.0, 1.0], 1)
    flow[3, 2:] = -(STROKE_W**2), -2.0 * STROKE_W
    push = np.zeros((4, 4))
    push[3, 3] = 4.0 * STROKE_W**3 * STROKE_ACCELERATION**2
    both = np.block([[-flow, push], [np.zeros((4, 4)), flow.T]]) * dt
    total, term = np.eye(8), np.eye(8)
    for order in range(1, 20):
        term = term @ both / order
        total = total + term
    carry = total[4:, 4:].T
    return carry, carry @ total[:4, 4:]


def low_passed(trace: Trace, lag: float) -> Floats:
    share = 1.0 - math.exp(-1.0 / (lag * trace.rate_hz))
    shown, kept = np.empty_like(trace.bare), trace.bare[0]
    for i, value in enumerate(trace.bare):
        kept += share * (value - kept)
        shown[i] = kept
    return shown


def pooled(traces: list[Trace], what: str, part: str) -> float:
    return rms([t.errors(getattr(t, what), getattr(t.press, part)) for t in traces])


def covered(traces: list[Trace], parts: tuple[str, ...]) -> tuple[float, float]:
    """Give the shares of errors within one and within two of the sd given, zero's own with it."""
    inside = []
    for trace in traces:
        t = trace.press.motion.t
        zero = trace.sd[(t > 0.5) & (t < 1.0)].mean()
        for part in parts:
            chosen = getattr(trace.press, part)
            inside.append(
                np.abs(trace.errors(trace.live, chosen)) / np.hypot(trace.sd[chosen], zero)
            )
    ratios = np.concatenate(inside)
    return float((ratios < 1.0).mean()), float((ratios < 2.0).mean())


def rms(errors: list[Floats]) -> float:
    return float(np.sqrt(np.mean(np.concatenate(errors) ** 2)))


if __name__ == "__main__":
    raise SystemExit(main())
