"""What the screen's tests share: a clock that stands, a bench that says what it is told to."""

import asyncio
import inspect
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import pytest

from benchmate.layout.centreline import Centreline
from benchmate.layout.parameters import BendParameters, UncertainValue
from benchmate.layout.plan import Plan, PlannedBend
from benchmate.layout.tube_layout import TubeLayout
from benchmate.screen.client import Happening, Started
from benchmate.screen.pages.plan_lines import Laid
from benchmate.screen.state.bench_state import BenchState, after
from benchmate.stream import Logged, Reading, Target, Verdict


class StandingClock:
    """Stands still until it is told to go on."""

    def __init__(self) -> None:
        self.t = 100.0

    def now(self) -> float:
        return self.t

    def sleep(self, seconds: float) -> None:
        self.t += max(seconds, 0.0)


@dataclass
class TestBench:
    """Stands for the bench process: keeps what it was sent, says what a test says."""

    __test__ = False
    argv: Callable[[], Sequence[str]] | None = None
    say: Callable[[Happening], None] = lambda _happening: None
    sent: list[str] = field(default_factory=list)
    starts: list[list[str]] = field(default_factory=list)
    hung_up: bool = False
    box: Reading | None = None

    def open(
        self, argv: Callable[[], Sequence[str]], say: Callable[[Happening], None]
    ) -> "TestBench":
        self.argv, self.say = argv, say
        return self

    def start(self) -> None:
        if self.argv is not None:
            self.starts.append(list(self.argv()))
        self.say(Started(again=len(self.starts) > 1))

    def latest(self) -> Reading | None:
        return self.box

    def send(self, command: str) -> None:
        self.sent.append(command)

    def hang_up(self) -> None:
        self.hung_up = True

    def wait(self, seconds: float) -> bool:
        return True


class Say:
    """Makes events with everything given that a test doesn't care about."""

    def target(self, **changes: Any) -> Target:
        return Target(
            **{
                "bend": 1,
                "hit": 1,
                "bend_angle": 90.0,
                "stop_angle": 93.41,
                "sd": 0.62,
                "tolerance": 0.5,
                "bends": 3,
                "over_angle": 94.2,
                **changes,
            }
        )

    def reading(self, arm: float | None, **changes: Any) -> Reading:
        gone = arm is None
        return Reading(
            **{
                "t": 12.0,
                "arm": arm,
                "rate": None if gone else 5.0,
                "sd": None if gone else 0.07,
                "to_go": None if arm is None else 93.41 - arm,
                "phase": "bending",
                "cue": "wait" if gone else "pump",
                **changes,
            }
        )

    def verdict(self, say: str = "accept", **changes: Any) -> Verdict:
        return Verdict(
            **{"say": say, "bend_angle": 89.8, "sd": 0.2, "bend": 1, "hits": 1, **changes}
        )

    def logged(self, bend: int = 1) -> Logged:
        return Logged(id=f"id-{bend}", bend=bend)


@pytest.fixture
def clock() -> StandingClock:
    return StandingClock()


@pytest.fixture
def bench() -> TestBench:
    return TestBench()


@pytest.fixture
def say() -> Say:
    return Say()


def plan_of(job: str, chain: Centreline) -> Plan:
    """Lay a chain out as a plan would, with a stop 3.4 degrees past each bend angle."""
    marked = TubeLayout.of(chain)
    figures = BendParameters(
        start_offset_mm=UncertainValue(12.0, 1.0),
        start_offset_from="drawing",
        free_radius_mm=UncertainValue(chain.radius_mm, 1.0),
        free_radius_from="drawing",
        stretch=UncertainValue(0.0, 0.005),
        stretch_from=None,
    )
    bends = tuple(
        PlannedBend(
            bend=at + 1,
            mark_mm=float(marked.starts_mm[at]) - 12.0,
            turn_deg=chain.turns_deg[at],
            bend_angle_deg=angle,
            stop_angle_deg=angle + 3.4,
            sd_deg=0.6,
            expected_angle_deg=angle,
            expected_sd_deg=0.6,
            free_radius_mm=chain.radius_mm,
            straight_mm=chain.straights_mm[at],
            start_mm=float(marked.starts_mm[at]),
            arc_mm=chain.arcs_mm[at],
        )
        for at, angle in enumerate(chain.angles_deg)
    )
    return Plan(
        job=job,
        die="round-22-r60",
        tube="e235-22x1.5",
        lot="B",
        tolerance_deg=0.5,
        bends=bends,
        tail_mm=chain.straights_mm[-1],
        cut_length_mm=float(marked.cut_length_mm),
        centreline=chain,
        parameters=figures,
        rests_on=("drawing",),
        warnings=("bend 3 leaves 40 mm of straight where the die grips 45 mm",),
    )


@pytest.fixture
def laid() -> Laid:
    """A job of three bends in space, laid out."""
    chain = Centreline((250.0, 220.0, 180.0, 300.0), (0.0, 90.0, 0.0), (90.0, 45.0, 120.0), 61.5)
    foretold = ("the last end should lie within 12.0 mm of its place, 19 times in 20",)
    return Laid(plan_of("gate-frame", chain), foretold)


@pytest.fixture
def flat() -> Laid:
    """A U of two square bends in one plane."""
    return Laid(plan_of("hoop", Centreline((400.0, 300.0, 400.0), (0.0, 0.0), (90.0, 90.0), 60.0)))


@pytest.fixture
def fold() -> Callable[..., BenchState]:
    def folded(*happenings: Happening, now: float = 100.0, **start: Any) -> BenchState:
        state = BenchState(**{"job": "gate-frame", "rehearsal": True, **start})
        for happening in (Started(again=False), *happenings):
            state = after(state, happening, now)
        return state

    return folded


@pytest.hookimpl(tryfirst=True)
def pytest_pyfunc_call(pyfuncitem: pytest.Function) -> bool | None:
    """Run a test that is a coroutine to its end; the screens live in one."""
    if not inspect.iscoroutinefunction(pyfuncitem.obj):
        return None
    names = inspect.signature(pyfuncitem.obj).parameters
    asyncio.run(pyfuncitem.obj(**{name: pyfuncitem.funcargs[name] for name in names}))
    return True
