"""Bus, chip, clock and, in a rehearsal, the simulated world behind them, put together."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from benchmate.bench.sampler import PairSampler, Sampler
from benchmate.clock import Clock, MonotonicClock
from benchmate.sensing import chip_facts, open_chip
from benchmate.sensing.bus import Bus
from benchmate.sensing.calibration.error_model import Calibration
from benchmate.sensing.chips.driver import ChipDriver
from benchmate.sensing.estimator import ArmAngleEstimator
from benchmate.sensing.frame import FrameReferencedEstimator, FrameReferencedSwing, Mounts
from benchmate.sensing.health.monitor import HealthMonitor
from benchmate.sensing.mount.alignment import Swing
from benchmate.sensing.reach import ANY_REACH, Reach
from benchmate.shop.parts import Arm, Bench

if TYPE_CHECKING:
    from benchmate.sim.bench import SimBench


ROCKS_DEG = 0.3
"""So far a rehearsal's strokes rock a bench that has a sensor on its frame."""
NEAR_PIVOT_MM = 100.0
"""Nearer than this, pump strokes shake an accelerometer's angle by a degree at most."""
_AT_THE_PIVOT = Arm(radius_mm=0.0)


@dataclass(frozen=True, slots=True)
class AlignedSensor:
    """What is known of a bench's sensors when it is to be watched."""

    calibration: Calibration | None
    """None: the chip is as it was made."""
    mounts: Mounts


@dataclass(frozen=True, slots=True)
class Hardware:
    """One bench's sensor, or both of them, ready to be sampled."""

    bench: Bench
    clock: Clock
    chip: ChipDriver
    bus: Bus
    world: "SimBench | None" = None
    """What a rehearsal has in the place of steel and copper."""

    frame: ChipDriver | None = None
    """The chip on the frame."""

    def sampler(
        self, learned: AlignedSensor | None = None, reach: Reach = ANY_REACH
    ) -> Sampler | PairSampler:
        """Give a sampler that judges samples, by what was learned as well when there is any."""
        facts = self.chip.facts
        if learned is None:
            arm, frame = HealthMonitor(facts), None
        else:
            arm = HealthMonitor(facts, learned.mounts.arm, learned.calibration, reach)
            frame = learned.mounts.frame
        of_arm = Sampler(self.chip, arm, self.clock, chips=1 if self.frame is None else 2)
        if self.frame is None:
            return of_arm
        of_frame = Sampler(self.frame, HealthMonitor(self.frame.facts, frame), self.clock, chips=2)
        return PairSampler(of_arm, of_frame, self.clock)

    def transfers(self) -> int:
        """Give how many transfers have begun on the bus: while they do, somebody is at work."""
        return self.bus.transfers

    def swing(self, calibration: Calibration | None) -> FrameReferencedSwing:
        """Give what gathers one swing of this rig's arm."""
        swing = Swing(self.bench.sensor, self.chip.identity, calibration)
        return FrameReferencedSwing(swing, self.bench.frame_sensor)

    def estimator(
        self, learned: AlignedSensor, reach: Reach = ANY_REACH
    ) -> ArmAngleEstimator | FrameReferencedEstimator:
        """Give what makes an arm angle of this rig's samples."""
        mounts = learned.mounts
        of_arm = ArmAngleEstimator(
            mounts.arm, self.chip.facts, self.bench.arm, learned.calibration, reach
        )
        if self.frame is None or mounts.frame is None:
            return of_arm
        return FrameReferencedEstimator(
            of_arm, ArmAngleEstimator(mounts.frame, self.frame.facts, _AT_THE_PIVOT)
        )


def real_hardware(bench: Bench) -> Hardware:
    """Give the rig of the bench as it stands there."""
    return _rig(bench, MonotonicClock(), None)


def simulated_hardware(
    bench: Bench, clock: Clock, seed: int, rocks_deg: float | None = None
) -> Hardware:
    """Give a rig whose bus leads to a simulated bench: same driver, same calls.

    ``rocks_deg`` None: it rocks when there is a sensor on its frame to see it.
    """
    from benchmate.sim.bench import SimBench

    if rocks_deg is None:
        rocks_deg = ROCKS_DEG if bench.frame_sensor is not None else 0.0
    world = SimBench(bench, clock, seed, rocks_deg=rocks_deg)
    return _rig(bench, clock, world)


def caution(bench: Bench) -> str:
    """Say what to know of this bench's sensor before a bend; nothing where all is well.

    Without a gyro the box's own acceleration out on the arm looks like a turn of the arm.
    """
    facts, radius = chip_facts(bench.sensor), bench.arm.radius_mm
    if facts.is_encoder or facts.has_gyro or radius <= NEAR_PIVOT_MM:
        return ""
    return (
        f"No gyro, and {radius:.0f} mm from the pivot: the angle is in doubt while the arm moves "
        "and is judged when it stands still; stop early, wait, creep up."
    )


def sensor_key(bench: Bench) -> str:
    """Name the sensor that a kept mount or calibration belongs to."""
    facts = chip_facts(bench.sensor)
    return f"{bench.bench}/{facts.kind}/{bench.sensor.bus}/0x{facts.address:02x}"


def _rig(bench: Bench, clock: Clock, world: "SimBench | None") -> Hardware:
    open_bus: Callable[[int], Any] | None = world.bus if world is not None else None
    bus = Bus(number=bench.sensor.bus) if open_bus is None else Bus(open_bus, bench.sensor.bus)
    frame = None if bench.frame_sensor is None else open_chip(bench.frame_sensor, bus, clock)
    return Hardware(bench, clock, open_chip(bench.sensor, bus, clock), bus, world, frame)
