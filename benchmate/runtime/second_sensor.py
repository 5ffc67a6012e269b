"""A second chip beside the one that bench.yaml names: to be calibrated, or to try an encoder by."""

from dataclasses import dataclass
from pathlib import Path

from msgspec.structs import replace

from benchmate.bench.sampler import PairSampler, Sampler
from benchmate.clock import Clock
from benchmate.errors import Failure, Refusal
from benchmate.runtime.hardware import AlignedSensor, Hardware, sensor_key
from benchmate.runtime.options import ChipOption
from benchmate.sensing import chip_facts, open_chip
from benchmate.sensing.bus import Bus
from benchmate.sensing.calibration.error_model import Calibration
from benchmate.sensing.chips.driver import ChipDriver
from benchmate.sensing.health.monitor import HealthMonitor
from benchmate.sensing.reach import ANY_REACH, Reach
from benchmate.shop.parts import Bench, Sensor
from benchmate.store import Log


def bench_of(bench: Bench, named: ChipOption) -> Bench:
    """Give the bench as if ``named`` were its sensor, on the same bus, taken round upright."""
    return replace(
        bench,
        sensor=_sensor(bench, named),
        frame_sensor=None,
        arm=replace(bench.arm, plane="vertical"),
    )


def check_against(bench: Bench, named: ChipOption) -> None:
    """Refuse a pair of chips that can't be tried against each other."""
    if not chip_facts(bench.sensor).is_encoder:
        raise Refusal(
            f"--against is for an encoder; bench.yaml's {bench.sensor.chip} finds its own errors "
            "by 'align --turn' alone"
        )
    if chip_facts(_sensor(bench, named)).is_encoder:
        raise Refusal(
            f"--against takes an accelerometer; an {named.chip} can't tell which way is down"
        )


def stored_calibration(bench: Bench, named: ChipOption, store: Path) -> Calibration:
    """Give what a turn of the second chip's box has taught; Failure when there was none."""
    with Log.open(store) as log:
        found = log.finding("calibration", sensor_key(bench_of(bench, named)))
    if found is None:
        raise Failure(
            f"the {named} was never calibrated at this bench, so it can't check an encoder: turn "
            f"its box round once with 'benchmate align --turn --chip {named}'"
        )
    return Calibration.from_plain(found)


@dataclass(frozen=True, slots=True, kw_only=True)
class PairedHardware(Hardware):
    """An encoder and an accelerometer on the same arm."""

    beside: Sensor
    beside_chip: ChipDriver

    def sampler(
        self,
        learned: AlignedSensor | None = None,  # noqa: ARG002 - a chip is learned here
        reach: Reach = ANY_REACH,  # noqa: ARG002 - nothing is bent here
    ) -> PairSampler:
        """Give what reads both by turns."""
        return PairSampler(
            Sampler(self.chip, HealthMonitor(self.chip.facts), self.clock, chips=2),
            Sampler(self.beside_chip, HealthMonitor(self.beside_chip.facts), self.clock, chips=2),
            self.clock,
            "beside the encoder",
        )


def paired_hardware(
    bench: Bench, named: ChipOption, clock: Clock, seed: int | None = None
) -> PairedHardware:
    """Give the rig of both chips; with a seed on a simulated bender that was stood upright."""
    beside = _sensor(bench, named)
    if seed is None:
        world, bus = None, Bus(number=bench.sensor.bus)
    else:
        from benchmate.sim.upright import UprightBench

        world = UprightBench(bench, clock, seed, beside)
        bus = Bus(world.bus, bench.sensor.bus)
    return PairedHardware(
        bench=bench,
        clock=clock,
        chip=open_chip(bench.sensor, bus, clock),
        bus=bus,
        world=world,
        beside=beside,
        beside_chip=open_chip(beside, bus, clock),
    )


def _sensor(bench: Bench, named: ChipOption) -> Sensor:
    return Sensor(
        chip=named.chip,
        bus=bench.sensor.bus,
        address=named.address,
        rate_hz=bench.sensor.rate_hz,
    )
