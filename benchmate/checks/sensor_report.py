"""``check --sensor``: watch the arm stand still, then say what its sensor is good for."""

import json
import shutil
import sys
import textwrap
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchmate.checks.standstill_noise import (
    FAR_DEG,
    NOISE_OVER_S,
    SampleAngle,
    StandstillNoise,
    StandstillRecord,
    verdict,
    weigh,
)
from benchmate.checks.standstill_watch import watch_standing
from benchmate.checks.store import writer_of
from benchmate.errors import Failure
from benchmate.runtime.hardware import AlignedSensor, Hardware, real_hardware, simulated_hardware
from benchmate.runtime.stored_alignment import stored_sensor
from benchmate.sensing.sample import Sample
from benchmate.shop.parts import Bench

_WIDE, _HIGH = 80, 24


@dataclass(frozen=True, slots=True, kw_only=True)
class SensorCheckRequest:
    """What is to be looked at and how it is to be told."""

    bench: Bench
    store: Path
    seconds: float
    tolerance_deg: float
    job: str = ""
    output: Path | None = None
    as_json: bool = False
    rehearse: int | None = None
    """A seed: rehearse on a simulated bench, without waiting."""


def report(asked: SensorCheckRequest) -> int:
    """Watch, weigh and tell; 0 when the sensor holds the tolerance, else 1."""
    rig, learned = _opened(asked)
    taken = learned.calibration.taken if learned.calibration is not None else ""
    progress = _Progress(asked.seconds)
    try:
        record = watch_standing(
            rig,
            learned,
            angle_of(rig, learned),
            asked.seconds,
            progress,
        )
    finally:
        progress.end()
        rig.bus.close()
    standing = weigh(record, learned.mounts.arm, rig.chip.facts, learned.calibration)
    says = verdict(standing, asked.tolerance_deg)
    title = f"{rig.chip.kind} at 0x{rig.chip.address:02x} on I2C bus {asked.bench.sensor.bus}"
    if asked.output is not None:
        from benchmate.checks.noise_page import page
        from benchmate.reports.svg import write_svg

        write_svg(asked.output, [page(title, says, record, standing)])
    if asked.as_json:
        print(json.dumps(_plain(asked, rig, record, standing, says), allow_nan=False))
    else:
        from benchmate.checks.noise_plot import plot

        size = shutil.get_terminal_size((_WIDE, _HIGH))
        print("\n".join([title, *_lines(record, standing, taken), ""]))
        print("\n".join([*plot(record, standing, size.columns, size.lines), ""]))
        for_job = f" (job {asked.job})" if asked.job else ""
        print(textwrap.fill(says + for_job, min(size.columns, 120)))
    return 0 if standing.holds(asked.tolerance_deg) else 1


class _Progress:
    """How much of the time is over, on one line of a terminal that is overwritten."""

    def __init__(self, seconds: float) -> None:
        self._seconds = seconds
        self._shown = -1
        self._on_terminal = sys.stderr.isatty()

    def show(self, gone_s: float) -> None:
        """Show whole seconds as they go by."""
        if self._on_terminal and int(gone_s) != self._shown:
            self._shown = int(gone_s)
            sys.stderr.write(f"\rleave the arm alone: {gone_s:.0f} of {self._seconds:g} s ")
            sys.stderr.flush()

    def tell(self, what: str) -> None:
        """Say what happened, on a line of its own."""
        self.end()
        sys.stderr.write(what + "\n")
        sys.stderr.flush()

    def end(self) -> None:
        """Leave the line empty."""
        if self._shown >= 0:
            sys.stderr.write("\r" + " " * 60 + "\r")
            sys.stderr.flush()
            self._shown = -1


def angle_of(rig: Hardware, learned: AlignedSensor) -> Callable[[Sample], float]:
    """Give what makes one sample's own arm angle, against the frame where that has a sensor."""
    mounts = learned.mounts
    on_arm = SampleAngle(mounts.arm, rig.chip.facts, learned.calibration)
    if rig.frame is None or mounts.frame is None:
        return on_arm
    on_frame = SampleAngle(mounts.frame, rig.frame.facts, None)
    return lambda sample: on_arm(sample) - (on_frame(sample.frame) if sample.frame else 0.0)


def _opened(asked: SensorCheckRequest) -> tuple[Hardware, AlignedSensor]:
    """Give the rig with what is known of its sensors."""
    bench = asked.bench
    if asked.rehearse is not None:
        from benchmate.runtime.simulation import learned_sensor
        from benchmate.sim.clock import QuickClock

        learned = learned_sensor(bench, asked.rehearse)
        return simulated_hardware(bench, QuickClock(), asked.rehearse), learned
    if writer := writer_of(asked.store):
        raise Failure(f"benchmate (process {writer}) uses the sensor; end it first")
    learned = stored_sensor(bench, asked.store)
    return real_hardware(bench), learned


def _lines(record: StandstillRecord, standing: StandstillNoise, taken: str) -> list[str]:
    noise = ", ".join(
        f"{deviation:.4f} over {over:g} s"
        for over, deviation in zip(NOISE_OVER_S, standing.noise_deg, strict=True)
        if deviation is not None
    )
    calibrated = f"yes{f', {taken}' if taken else ''}" if standing.calibrated else "no"
    rows = {
        "watched": f"{standing.samples} samples in {standing.seconds:.0f} s"
        f"{_more(record.moves, 'move')}{_more(len(record.faults), 'fault')}",
        "rate": f"{standing.rate_hz:.1f} a second, {1e3 / standing.rate_hz:.2f} ms apart"
        f" +- {standing.jitter_ms:.2f} ms, {standing.longest_ms:.1f} ms at most",
        "bus": f"{record.transfers} transfers, {record.retries} asked twice,"
        f" {record.failures} failed",
        "noise": f"{noise} [deg]",
        "drift": f"{standing.drift_deg_per_min:+.4f} deg a minute",
        "gravity": f"{100.0 * standing.leverage:.0f} % of it turns with the arm",
        "calibrated": f"{calibrated}; good to {standing.doubt_deg:.2g} deg at"
        f" {FAR_DEG:.0f} deg, 2 times in 3",
    }
    return [f"  {name:<11}{told}" for name, told in rows.items()]


def _more(count: int, what: str) -> str:
    return f", {count} {what}{'' if count == 1 else 's'} on the way" if count else ""


def _plain(
    asked: SensorCheckRequest,
    rig: Hardware,
    record: StandstillRecord,
    standing: StandstillNoise,
    says: str,
) -> dict[str, Any]:
    return {
        "chip": rig.chip.kind,
        "address": rig.chip.address,
        "bus": asked.bench.sensor.bus,
        "seconds": standing.seconds,
        "samples": standing.samples,
        "rate_hz": standing.rate_hz,
        "jitter_ms": standing.jitter_ms,
        "longest_ms": standing.longest_ms,
        "transfers": record.transfers,
        "retries": record.retries,
        "failures": record.failures,
        "moves": record.moves,
        "faults": list(record.faults),
        "noise_deg": {
            f"{over:g}": deviation
            for over, deviation in zip(NOISE_OVER_S, standing.noise_deg, strict=True)
        },
        "allan": [list(each) for each in standing.allan],
        "drift_deg_per_min": standing.drift_deg_per_min,
        "leverage": standing.leverage,
        "calibrated": standing.calibrated,
        "doubt_deg": standing.doubt_deg,
        "bend_sd_deg": standing.bend_sd_deg,
        "tolerance_deg": asked.tolerance_deg,
        "holds": standing.holds(asked.tolerance_deg),
        "says": says,
    }
