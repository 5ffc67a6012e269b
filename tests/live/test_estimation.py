"""What a session is given of what the sampler told, and how it starts afresh after a fault."""

import statistics

import pytest

from benchmate.bench.estimation import estimated
from benchmate.bench.inputs import Back, Lost
from benchmate.bench.sampler import Told
from benchmate.places import starter_shop
from benchmate.runtime.hardware import simulated_hardware
from benchmate.runtime.simulation import learned_sensor
from benchmate.sensing.sample import ArmEstimate
from benchmate.shop import Shop
from benchmate.shop.parts import Arm, Bench, Sensor
from benchmate.sim.clock import QuickClock


class Counted:
    """An estimator that only keeps count."""

    def __init__(self) -> None:
        self.steps: list[object] = []

    def step(self, sample: object) -> object:
        self.steps.append(sample)
        return "reading"

    def reset(self) -> None:
        self.steps.append("reset")


def test_a_fault_forgets_what_was_believed_and_its_end_starts_from_the_good_samples() -> None:
    estimator = Counted()
    lost, back = Lost(1.0, "bus", "gone"), Back(2.0, ("a", "b"))  # type: ignore[arg-type]  # passed on
    assert estimated(estimator, lost) == lost
    assert estimated(estimator, back) == back
    assert estimator.steps == ["reset", "reset", "a", "b"]


@pytest.mark.parametrize("seed", range(4))
def test_the_first_reading_after_a_fault_rests_on_half_a_second_of_samples(seed: int) -> None:
    shop = Shop.for_job(starter_shop(), "trellis-knee")
    bench = Bench(
        bench="test-bench",
        sensor=Sensor(chip="adxl345", address=0x53, rate_hz=400.0),
        arm=Arm(radius_mm=80.0),
    )
    rig = simulated_hardware(bench, clock := QuickClock(), seed)
    learned = learned_sensor(bench, seed)
    assert rig.world is not None
    job = shop.job("trellis-knee")
    rig.world.load(shop.die(job.die), shop.tube(job.tube))
    estimator, turns = rig.estimator(learned), rig.sampler(learned).turns()

    def run(seconds: float) -> list[ArmEstimate | Told]:
        until = clock.now() + seconds
        given: list[ArmEstimate | Told] = []
        for told in turns:
            if told is not None:
                given.append(estimated(estimator, told))
            if clock.now() >= until:
                return given
        return given

    before = [each for each in run(2.0) if isinstance(each, ArmEstimate)]
    stood = statistics.fmean(reading.arm_deg for reading in before[-400:])
    rig.world.faults.unplug()
    run(0.8)
    rig.world.faults.plug_in()
    after = run(2.0)
    back = next(place for place, each in enumerate(after) if isinstance(each, Back))
    first = after[back + 1]
    assert isinstance(first, ArmEstimate)
    assert first.arm_deg == pytest.approx(stood, abs=4.0 * first.noise_deg)
    assert first.noise_deg < 0.16
