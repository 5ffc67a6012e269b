"""What the screen's tests share: a clock that stands, a bench that says what it is told to."""

import asyncio
import inspect
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any

import pytest

from benchmate.screen.client import Happening, Started
from benchmate.screen.snapshot import BenchState, after
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
