"""Bus, chip, clock and, in a rehearsal, the simulated world behind them, put together."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from benchmate.bench.sampler import Sampler
from benchmate.clock import Clock, MonotonicClock
from benchmate.sensing import chip_facts, open_chip
from benchmate.sensing.bus import Bus
from benchmate.sensing.calibration import Calibration
from benchmate.sensing.chip import Chip
from benchmate.sensing.estimator import Estimator
from benchmate.sensing.health import Health
from benchmate.sensing.mount import Mount
from benchmate.shop.parts import Bench

if TYPE_CHECKING:
    from benchmate.sim.bench import SimBench


@dataclass(frozen=True, slots=True)
class Rig:
    """One bench's sensor, ready to be sampled."""

    bench: Bench
    clock: Clock
    chip: Chip
    bus: Bus
    world: "SimBench | None" = None
    """What a rehearsal has in the place of steel and copper."""

    def sampler(self, mount: Mount | None = None) -> Sampler:
        """Give a sampler that judges samples, by the mount as well when there is one."""
        return Sampler(self.chip, Health(self.chip.facts, mount), self.clock)

    def estimator(self, mount: Mount, calibration: Calibration | None) -> Estimator:
        """Give what makes an arm angle of this rig's samples; None: the chip is as it was made."""
        return Estimator(mount, self.chip.facts, self.bench.arm, calibration)


def real_rig(bench: Bench) -> Rig:
    """Give the rig of the bench as it stands there."""
    return _rig(bench, MonotonicClock(), None)


def rehearsal_rig(bench: Bench, clock: Clock, seed: int) -> Rig:
    """Give a rig whose bus leads to a simulated bench: same driver, same calls."""
    from benchmate.sim.bench import SimBench

    world = SimBench(bench, clock, seed)
    return _rig(bench, clock, world)


def sensor_key(bench: Bench) -> str:
    """Name the sensor that a kept mount or calibration belongs to."""
    facts = chip_facts(bench.sensor)
    return f"{bench.bench}/{facts.kind}/{bench.sensor.bus}/0x{facts.address:02x}"


def _rig(bench: Bench, clock: Clock, world: "SimBench | None") -> Rig:
    open_bus: Callable[[int], Any] | None = world.bus if world is not None else None
    bus = Bus(number=bench.sensor.bus) if open_bus is None else Bus(open_bus, bench.sensor.bus)
    return Rig(bench, clock, open_chip(bench.sensor, bus, clock), bus, world)
