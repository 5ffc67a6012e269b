"""How many cases each target gets: a quick corpus in the suite, as many as wanted on purpose.

sh hw/setup.sh test tests/fuzz --cases 8000 -o timeout=0         100,000 cases in all
sh hw/setup.sh test tests/fuzz --cases 500 --led -o timeout=0    led by what they reach
"""

import resource
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings, target
from hypothesis import strategies as st

import benchmate

QUICK = 40
LONGEST_S = 5.0
"""Of the processor's time, that a case may take: fifty times what the slowest takes."""
MOST_MB = 200.0
PACKAGE = str(Path(benchmate.__file__).parent)


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--cases", type=int, default=QUICK, help=f"of each fuzz target ({QUICK})")
    parser.addoption("--led", action="store_true", help="go on from what runs more lines; slow")


class Lines:
    """Counts the lines of the package that a case runs: more is worth going on from."""

    def __init__(self) -> None:
        self._seen: set[tuple[CodeType, int]] = set()

    def __enter__(self) -> "Lines":
        self._seen.clear()
        sys.settrace(self._call)
        return self

    def __exit__(self, *_: object) -> None:
        sys.settrace(None)

    @property
    def count(self) -> int:
        return len(self._seen)

    def _call(self, frame: FrameType, _event: str, _arg: Any) -> Any:
        return self._line if frame.f_code.co_filename.startswith(PACKAGE) else None

    def _line(self, frame: FrameType, event: str, _arg: Any) -> Any:
        if event == "line":
            self._seen.add((frame.f_code, frame.f_lineno))
        return self._line


Fuzz = Callable[[st.SearchStrategy[Any], Callable[[Any], None]], None]


@pytest.fixture
def fuzz(request: pytest.FixtureRequest) -> Fuzz:
    """Give what runs a target's cases."""
    cases = request.config.getoption("--cases", QUICK)
    led = request.config.getoption("--led", default=False)
    lines = Lines()

    def fuzz(given_from: st.SearchStrategy[Any], body: Callable[[Any], None]) -> None:
        @settings(
            max_examples=cases,
            deadline=None,
            database=None,
            derandomize=cases == QUICK,
            suppress_health_check=list(HealthCheck),
        )
        @given(case=given_from)
        def one(case: Any) -> None:
            began, peak_mb = time.process_time(), memory_mb()
            if led:
                with lines:
                    body(case)
                target(float(lines.count), label="lines of benchmate run")
            else:
                body(case)
            assert time.process_time() - began < LONGEST_S
            # Of this case alone: what hypothesis keeps of thousands is its own.
            assert memory_mb() - peak_mb < MOST_MB

        one()

    return fuzz


def memory_mb() -> float:
    """Give the most memory that this process ever had."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


@pytest.fixture(autouse=True)
def no_thread_is_left() -> Iterator[None]:
    before = threading.active_count()
    yield
    assert threading.active_count() <= before
