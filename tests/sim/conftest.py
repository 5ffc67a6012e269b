from collections.abc import Callable

import pytest

from benchmate.shop.parts import Arm, Bench, ChipKind, Die, Sensor, Tube
from benchmate.sim.bench import SimBench
from benchmate.sim.chips.chip import Felt
from benchmate.sim.clock import QuickClock


class Acting:
    """What a chip under test feels; to be changed as a test goes on."""

    def __init__(self) -> None:
        self.felt = Felt((0.0, 0.0, 1.0), (0.0, 0.0, 0.0), 90.0, 25.0)
        self.asked: list[float] = []

    def __call__(self, t: float) -> Felt:
        self.asked.append(t)
        return self.felt


@pytest.fixture
def acting() -> Acting:
    return Acting()


@pytest.fixture
def clock() -> QuickClock:
    return QuickClock()


@pytest.fixture
def die() -> Die:
    return Die(die="heron-90", for_od_mm=25.4, centreline_radius_mm=90.0, max_angle_deg=180.0)


@pytest.fixture
def tube() -> Tube:
    return Tube(
        tube="rail-1in",
        od_mm=25.4,
        wall_mm=1.6,
        grade="drawn",
        yield_strength_mpa=320.0,
        tensile_strength_mpa=420.0,
    )


@pytest.fixture
def build(clock: QuickClock) -> Callable[..., SimBench]:
    def make(chip: ChipKind = "lsm6dso", seed: int = 1, **arm: object) -> SimBench:
        bench = Bench(
            bench="slipway",
            sensor=Sensor(chip=chip),
            arm=Arm(**{"radius_mm": 80.0, **arm}),
        )
        return SimBench(bench, clock, seed)

    return make
