"""The sampler against a chip on a simulated bus: good samples, faults told, cures taken."""

from collections.abc import Callable, Iterator

import pytest

from benchmate.bench.inputs import Back, Lost
from benchmate.bench.sampler import Sampler, Told
from benchmate.sensing import open_chip
from benchmate.sensing.bus import Bus
from benchmate.sensing.health import Health
from benchmate.sensing.sample import Sample
from benchmate.shop.parts import Arm, Bench, Sensor
from benchmate.sim.bench import SimBench
from benchmate.sim.clock import QuickClock


class Watched:
    """A sampler on a simulated bench, run for stretches of its clock."""

    def __init__(self, chip: str) -> None:
        bench = Bench(
            bench="test-bench",
            sensor=Sensor(chip=chip, rate_hz=208.0),  # type: ignore[arg-type]  # from parametrize
            arm=Arm(radius_mm=80.0),
        )
        self.clock = QuickClock()
        self.world = SimBench(bench, self.clock, seed=3)
        driver = open_chip(bench.sensor, Bus(self.world.bus, 1), self.clock)
        self._turns: Iterator[Told | None] = Sampler(
            driver, Health(driver.facts), self.clock
        ).turns()
        self.told: list[Told] = []

    def run(self, seconds: float) -> list[Told]:
        """Give what is told in so many seconds."""
        until = self.clock.now() + seconds
        told: list[Told] = []
        for each in self._turns:
            if each is not None:
                told.append(each)
            if self.clock.now() >= until:
                break
        return told


@pytest.fixture
def watched() -> Callable[[str], Watched]:
    return Watched


CHIPS = ["lsm6dso", "adxl345", "adxl355", "as5600"]


@pytest.mark.parametrize("chip", CHIPS)
def test_every_chip_gives_at_least_a_hundred_good_samples_a_second(
    watched: Callable[[str], Watched], chip: str
) -> None:
    at = watched(chip)
    at.run(1.0)
    told = at.run(2.0)
    assert all(isinstance(each, Sample) for each in told)
    assert len(told) >= 200


@pytest.mark.parametrize("chip", CHIPS)
def test_no_sample_is_told_twice(watched: Callable[[str], Watched], chip: str) -> None:
    times = [each.t for each in watched(chip).run(2.0) if isinstance(each, Sample)]
    assert len(set(times)) == len(times)
    assert times == sorted(times)


@pytest.mark.parametrize("chip", CHIPS)
def test_a_pulled_chip_is_a_bus_fault_within_half_a_second_and_heals_when_back(
    watched: Callable[[str], Watched], chip: str
) -> None:
    at = watched(chip)
    at.run(1.0)
    pulled = at.clock.now()
    at.world.faults.unplug()
    told = at.run(1.0)
    (lost,) = [each for each in told if isinstance(each, Lost)]
    assert lost.what == "bus"
    assert lost.t - pulled < 0.5
    assert not any(isinstance(each, Sample) and each.t > pulled + 0.05 for each in told)
    at.world.faults.plug_in()
    told = at.run(2.5)
    assert any(isinstance(each, Back) for each in told)
    assert isinstance(told[-1], Sample)


@pytest.mark.parametrize("chip", ["lsm6dso", "adxl345", "adxl355"])
def test_a_chip_that_browned_out_is_told_set_up_again_and_believed_again(
    watched: Callable[[str], Watched], chip: str
) -> None:
    at = watched(chip)
    at.run(1.0)
    began = at.clock.now()
    at.world.faults.brown_out()
    told = at.run(2.5)
    lost = next(each for each in told if isinstance(each, Lost))
    assert lost.what == "sensor"
    assert lost.t - began < 0.5
    assert isinstance(told[-1], Sample)
    assert sum(isinstance(each, Back) for each in told) == 1


@pytest.mark.parametrize("chip", ["lsm6dso", "adxl345", "adxl355"])
def test_frozen_data_is_told_within_half_a_second(
    watched: Callable[[str], Watched], chip: str
) -> None:
    at = watched(chip)
    at.run(1.0)
    began = at.clock.now()
    at.world.faults.freeze()
    lost = next(each for each in at.run(1.0) if isinstance(each, Lost))
    assert lost.what == "sensor"
    assert lost.t - began < 0.5


def test_one_transfer_that_fails_is_no_fault(watched: Callable[[str], Watched]) -> None:
    at = watched("lsm6dso")
    at.run(1.0)
    at.world.faults.nack(1)
    assert all(isinstance(each, Sample) for each in at.run(1.0))
