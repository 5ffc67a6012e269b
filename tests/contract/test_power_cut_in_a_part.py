"""The plug pulled in the middle of a part: known by the command line and the streams alone."""

import json
import shutil
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

Event = dict[str, Any]


RUNNING: "list[Watching]" = []


class Watching:
    """A simulated bench in a process of its own, that a test speaks with."""

    def __init__(self, store: Path, *extra: str) -> None:
        self._process = subprocess.Popen(
            [
                *(sys.executable, "-m", "benchmate", "--shop", "configs", "--store", str(store)),
                *("watch", "trellis-knee", "--plain", "--simulate", *extra),
            ],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            bufsize=1,
        )
        assert self._process.stdout is not None
        RUNNING.append(self)
        self._lines: Iterator[str] = iter(self._process.stdout)
        self.heard: list[Event] = []

    def say(self, command: str) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write(command + "\n")
        self._process.stdin.flush()

    def until(self, wanted: Callable[[Event], bool]) -> Event:
        for line in self._lines:
            event = json.loads(line)
            if event["event"] != "reading":
                self.heard.append(event)
            if wanted(event):
                return event
        raise AssertionError(f"it ended with {self._process.wait()} after {self.heard}")

    def kill(self) -> None:
        RUNNING.remove(self)
        self._process.send_signal(signal.SIGKILL)
        self._process.wait()
        for pipe in (self._process.stdin, self._process.stdout):
            assert pipe is not None
            pipe.close()


def named(kind: str) -> Callable[[Event], bool]:
    return lambda event: event["event"] == kind


def in_phase(*phases: str) -> Callable[[Event], bool]:
    return lambda event: event["event"] == "reading" and event["phase"] in phases


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Path]:
    yield tmp_path / "bends.db"
    while RUNNING:
        RUNNING[-1].kill()


def pressed(store: Path) -> tuple[Event, Event, Event]:
    """Press the first bend once, short of its stop, and pull the plug once it is logged."""
    at = Watching(store)
    target = at.until(named("target"))
    at.until(in_phase("zeroing"))
    at.say("zero")
    at.until(in_phase("ready"))
    at.say("pump")
    at.until(lambda event: event["event"] == "reading" and (event["arm"] or 0.0) > 40.0)
    at.say("pump")
    at.until(in_phase("holding"))
    at.say("release")
    rest, verdict = at.until(named("rest")), at.until(named("verdict"))
    at.until(named("logged"))
    if verdict["say"] == "measure":
        at.say(f"measured {rest['arm'] - 2.0:.1f}")
        verdict = at.until(named("verdict"))
        at.until(named("logged"))
    at.kill()
    return target, rest, verdict


def runs(store: Path) -> list[Event]:
    listed = subprocess.run(
        [sys.executable, "-m", "benchmate", "--store", str(store), "log", "runs", "--json"],
        capture_output=True,
        text=True,
        check=True,
    )
    return [json.loads(line) for line in listed.stdout.splitlines()]


def test_after_the_plug_was_pulled_the_part_is_asked_about_and_gone_on_with_or_begun_anew(
    store: Path,
) -> None:
    target, rest, verdict = pressed(store)
    as_pulled = store.with_name("as-pulled.db")
    shutil.copy(store, as_pulled)
    if (left := store.with_name(store.name + "-wal")).exists():
        shutil.copy(left, as_pulled.with_name(as_pulled.name + "-wal"))

    at = Watching(store)
    first = at.until(lambda event: event["event"] != "reading")
    assert first["event"] == "unfinished"
    assert (first["bend"], first["hits"], first["job_changed"]) == (1, 1, False)
    assert first["arm"] == pytest.approx(rest["arm"])
    assert first["hours"] < 1.0
    at.say("go_on")
    again, stands = at.until(named("target")), at.until(named("verdict"))
    assert again["zero_at"] == pytest.approx(rest["arm"])
    for key in ("bend", "mark", "turn", "bend_angle", "stop_angle", "sd"):
        assert again[key] == target[key]
    assert {**stands, "taken": ""} == {**verdict, "taken": ""}
    at.say("zero")
    ready = at.until(in_phase("logged", "resting"))
    assert ready["arm"] == pytest.approx(rest["arm"], abs=0.3)
    at.say("next")
    assert at.until(named("target"))["stop_angle"] == verdict["stop_angle"]
    at.kill()

    at = Watching(as_pulled, "--new")
    fresh = at.until(named("target"))
    assert (fresh["bend"], fresh["hit"], fresh["zero_at"]) == (target["bend"], 1, None)
    assert [event["event"] for event in at.heard] == ["unfinished", "target"]
    at.kill()
    assert [run["finished"] for run in runs(as_pulled)] == [False]
