import os
import shutil
import sqlite3
import tempfile
import uuid
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from benchmate.store import BendRecord, HitRecord, Store
from benchmate.store.database import for_writing
from benchmate.store.timestamps import StampClocks

MEMORY = "/dev/shm" if os.access("/dev/shm", os.W_OK) else None  # noqa: S108 - own folders in it
SETUP = {
    "bench": {"bench": "east-wall", "sensor": {"chip": "lsm6dso"}, "arm": {"radius_mm": 80.0}},
    "die": {
        "die": "four-inch",
        "for_od_mm": 25.0,
        "centreline_radius_mm": 100.0,
        "max_angle_deg": 180.0,
    },
    "tube": {
        "tube": "rail-25",
        "od_mm": 25.0,
        "wall_mm": 2.0,
        "grade": "E235",
        "yield_strength_mpa": 280.0,
        "tensile_strength_mpa": 400.0,
    },
}


class StandingClock:
    """A clock that goes on by a second each time it is asked."""

    def __init__(self) -> None:
        self.t = 0.0

    def now(self) -> float:
        self.t += 1.0
        return self.t

    def sleep(self, seconds: float) -> None:
        self.t += seconds


@pytest.fixture
def tmp_path(tmp_path) -> Iterator[Path]:
    """Give a folder in memory where there is one: what a disk does to it is no matter here."""
    if MEMORY is None:
        yield tmp_path
        return
    with tempfile.TemporaryDirectory(dir=MEMORY, prefix="benchmate-") as folder:
        yield Path(folder)


@pytest.fixture(scope="session")
def memory() -> str | None:
    """Say where folders in memory are to be had, None for nowhere."""
    return MEMORY


@pytest.fixture
def path(tmp_path) -> Path:
    return tmp_path / "shop data" / "bends.db"


@pytest.fixture
def times() -> StampClocks:
    return StampClocks(
        StandingClock(), wall=lambda: 1.7e9, synchronised=lambda: True, boot=lambda: "b1"
    )


@pytest.fixture
def store(path, times):
    with Store.open(path, times=times) as store:
        yield store


def plain_bend(**said: Any) -> BendRecord:
    """Make a bend: whatever isn't said is that of a plain good one."""
    hits = said.pop("hits", None) or (
        HitRecord(stop_angle=93.4, stop_sd=0.6, peak=93.5, rest=91.2),
    )
    plain = {
        "bend_id": str(uuid.uuid4()),
        "job": "gate",
        "bend": 1,
        "die": "four-inch",
        "tube": "rail-25",
        "lot": "A",
        "bend_angle": 90.0,
        "tolerance": 0.5,
        "verdict": "accept",
        "setup": SETUP,
        "sensor": {"chip": "lsm6dso", "rate_hz": 208.0},
        "trace": b"trace of this bend",
    }
    return BendRecord(hits=hits, **(plain | said))


@pytest.fixture
def a_bend() -> Callable[..., BendRecord]:
    """Give the maker of bends."""
    return plain_bend


@pytest.fixture(scope="session")
def a_bend_always() -> Callable[..., BendRecord]:
    """Give the maker of bends to tests that run many times over."""
    return plain_bend


class FailingConnection:
    """A connection that fails at planned statements, before or after they did their work."""

    def __init__(self, real: sqlite3.Connection, plan: list[tuple[str, bool]]) -> None:
        self._real = real
        self._plan = plan

    def execute(self, statement: str, *values: Any) -> sqlite3.Cursor:
        failing = bool(self._plan) and statement.startswith(self._plan[0][0])
        if not failing:
            return self._real.execute(statement, *values)
        _, done_anyway = self._plan.pop(0)
        if done_anyway:
            self._real.execute(statement, *values)
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorname = "SQLITE_IOERR_FSYNC"
        raise error

    def __getattr__(self, name: str) -> Any:
        return getattr(self._real, name)


@pytest.fixture
def failing():
    """Give a plan to fill in, and the way to connect that follows it."""
    plan: list[tuple[str, bool]] = []
    return plan, lambda path: FailingConnection(for_writing(path), plan)


@pytest.fixture(scope="session")
def made(tmp_path_factory) -> Path:
    """Give a closed store: two bends, the second amended, and two findings."""
    path = tmp_path_factory.mktemp("made") / "bends.db"
    times = StampClocks(
        StandingClock(), wall=lambda: 1.7e9, synchronised=lambda: True, boot=lambda: "b1"
    )
    with Store.open(path, times=times) as store:
        store.append(plain_bend())
        second = plain_bend(bend=2)
        store.append(second)
        measured = replace(second.hits[0], measured=89.8, how_measured="protractor")
        store.append(replace(second, hits=(measured,)))
        store.keep("mount", "east-wall", {"tilt": 1.0})
        store.keep("trial", "four-inch", {"radius_mm": 101.5}).result()
    return path


@pytest.fixture
def kept(made, path) -> Path:
    """Give a copy of the made store, one's own to spoil."""
    path.parent.mkdir()
    shutil.copy(made, path)
    return path


@pytest.fixture
def raw(path):
    """Give a connection as another program would open one, with no setting of ours."""
    opened = []

    def connect(where: Path = path) -> sqlite3.Connection:
        connection = sqlite3.connect(where, isolation_level=None)
        opened.append(connection)
        return connection

    yield connect
    for connection in opened:
        connection.close()
