"""The sampler against a chip on a simulated bus: good samples, faults told, cures taken."""

import itertools
import random
import statistics
from collections.abc import Callable, Iterator

import pytest

from benchmate.bench.inputs import Back, Lost
from benchmate.bench.sampler import Sampler, Told
from benchmate.sensing import open_chip
from benchmate.sensing.bus import Bus
from benchmate.sensing.health.monitor import HealthMonitor
from benchmate.sensing.sample import Sample
from benchmate.shop.parts import Arm, Bench, Sensor
from benchmate.sim.bench import SimBench
from benchmate.sim.clock import QuickClock


class Watched:
    """A sampler on a simulated bench, run for stretches of its clock."""

    def __init__(self, chip: str, clock: QuickClock | None = None) -> None:
        bench = Bench(
            bench="test-bench",
            sensor=Sensor(chip=chip, rate_hz=208.0),  # type: ignore[arg-type]  # from parametrize
            arm=Arm(radius_mm=80.0),
        )
        self.clock = QuickClock() if clock is None else clock
        self.world = SimBench(bench, self.clock, seed=3)
        driver = open_chip(bench.sensor, Bus(self.world.bus, 1), self.clock)
        self._turns: Iterator[Told | None] = Sampler(
            driver, HealthMonitor(driver.facts), self.clock
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


@pytest.mark.parametrize("chip", ["lsm6dso", "adxl345", "adxl355"])
def test_no_sample_taken_with_the_self_test_on_is_told(
    watched: Callable[[str], Watched], chip: str
) -> None:
    at = watched(chip)
    at.run(1.0)
    began = at.clock.now()
    at.world.faults.self_test_left_on()
    told = at.run(0.3)
    assert [each for each in told if isinstance(each, Sample) and each.t > began] == []
    (lost,) = [each for each in told if isinstance(each, Lost)]
    assert "self-test" in lost.detail
    assert lost.t - began < 0.02


def test_one_transfer_that_fails_is_no_fault(watched: Callable[[str], Watched]) -> None:
    at = watched("lsm6dso")
    at.run(1.0)
    at.world.faults.nack(1)
    assert all(isinstance(each, Sample) for each in at.run(1.0))


class BusyClock(QuickClock):
    """The clock of a busy computer: for a while at a time it wakes its sleepers late."""

    def __init__(self, seed: int) -> None:
        super().__init__()
        self._dice = random.Random(seed)
        self._busy_until = 0.0

    def sleep(self, seconds: float) -> None:
        super().sleep(seconds)
        if self._dice.random() < 0.001:
            self._busy_until = self.now() + 0.5
        if self.now() < self._busy_until and self._dice.random() < 0.1:
            super().sleep(self._dice.choice((0.002, 0.005, 0.01, 0.02, 0.05)))


GRAVITY_CHIPS = ["lsm6dso", "adxl345", "adxl355"]


@pytest.mark.parametrize("chip", GRAVITY_CHIPS)
@pytest.mark.parametrize("pace", [0.94, 1.0, 1.06])
def test_no_sample_is_lost_to_a_chip_whose_clock_is_off(chip: str, pace: float) -> None:
    at = Watched(chip)
    at.run(1.0)
    at.world.faults.rate_off(pace)
    at.run(2.0)
    times = [each.t for each in at.run(5.0) if isinstance(each, Sample)]
    apart = [b - a for a, b in itertools.pairwise(times)]
    assert max(apart) < 1.6 * statistics.mean(apart)


@pytest.mark.parametrize("chip", GRAVITY_CHIPS)
@pytest.mark.parametrize("pace", [0.75, 0.84, 1.17, 1.3])
def test_a_chip_too_slow_or_too_fast_is_told_in_three_seconds_and_once(
    chip: str, pace: float
) -> None:
    at = Watched(chip)
    at.run(2.0)
    began = at.clock.now()
    at.world.faults.rate_off(pace)
    (lost,) = [each for each in at.run(15.0) if isinstance(each, Lost | Back)]
    assert isinstance(lost, Lost)
    assert "samples a second where" in lost.detail
    assert ("its clock is off; replace the chip" in lost.detail) is (pace > 1.0)
    assert lost.t - began < 3.0
    at.world.faults.rate_off(1.0)
    assert [type(each) for each in at.run(4.0) if isinstance(each, Lost | Back)] == [Back]


@pytest.mark.parametrize("chip", CHIPS)
def test_a_computer_that_is_busy_in_bursts_is_no_fault_of_the_chip(chip: str) -> None:
    at = Watched(chip, BusyClock(seed=1))
    assert all(isinstance(each, Sample) for each in at.run(60.0))
