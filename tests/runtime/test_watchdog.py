"""What the service manager hears of a bench, by its own socket."""

import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from benchmate.runtime.watchdog import Watchdog


@pytest.fixture
def manager(tmp_path: Path) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        listening.bind(str(tmp_path / "notify"))
        listening.settimeout(0)
        yield listening


def heard(manager: socket.socket) -> list[str]:
    messages = []
    while True:
        try:
            messages.append(manager.recv(100).decode())
        except BlockingIOError:
            return messages


class Sampler:
    """Counts the transfers that it has begun."""

    def __init__(self) -> None:
        self.begun = 0

    def pulse(self) -> int:
        return self.begun


def watched(manager: socket.socket, sampler: Sampler, **more: str) -> Watchdog:
    asked = {"NOTIFY_SOCKET": manager.getsockname(), "WATCHDOG_USEC": "8000000"}
    return Watchdog(sampler.pulse, asked | more)


def test_a_bench_is_ready_once_its_sampler_reads(manager: socket.socket) -> None:
    sampler = Sampler()
    watchdog = watched(manager, sampler)
    watchdog.feel(0.5)
    assert heard(manager) == []
    sampler.begun = 1
    watchdog.feel(0.5)
    assert heard(manager) == ["READY=1"]
    sampler.begun = 2
    watchdog.feel(0.5)
    assert heard(manager) == []


def test_the_dog_is_fed_well_within_its_time_while_the_sampler_reads(
    manager: socket.socket,
) -> None:
    sampler = Sampler()
    watchdog = watched(manager, sampler)
    fed = 0
    for _ in range(40):
        sampler.begun += 1
        watchdog.feel(0.5)
        fed += heard(manager).count("WATCHDOG=1")
    # 20 s, and the manager allows 8: a message every 2 s.
    assert fed == 10


def test_the_dog_goes_hungry_when_the_sampler_hangs_whatever_else_runs(
    manager: socket.socket,
) -> None:
    sampler = Sampler()
    watchdog = watched(manager, sampler)
    sampler.begun = 1
    watchdog.feel(3.0)
    heard(manager)
    for _ in range(40):
        watchdog.feel(0.5)
    assert heard(manager) == []


@pytest.mark.parametrize(
    "asked", [{"WATCHDOG_USEC": ""}, {"WATCHDOG_USEC": "soon"}, {"WATCHDOG_PID": "1"}]
)
def test_a_manager_that_asks_for_no_watchdog_gets_none(
    manager: socket.socket, asked: dict[str, str]
) -> None:
    sampler = Sampler()
    watchdog = watched(manager, sampler, **asked)
    for _ in range(40):
        sampler.begun += 1
        watchdog.feel(0.5)
    assert heard(manager) == ["READY=1"]


def test_the_end_is_said_by_the_thread_s_own_way(manager: socket.socket) -> None:
    with watched(manager, Sampler()):
        pass
    assert heard(manager) == ["STOPPING=1"]


def test_without_a_manager_nothing_is_sent_and_one_that_is_gone_ends_nothing(
    tmp_path: Path,
) -> None:
    sampler = Sampler()
    for environ in ({}, {"NOTIFY_SOCKET": str(tmp_path / "gone")}):
        with Watchdog(sampler.pulse, environ) as watchdog:
            sampler.begun += 1
            watchdog.feel(0.5)


def test_a_manager_s_abstract_name_is_understood() -> None:
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as listening:
        name = f"benchmate-test-{os.getpid()}"
        listening.bind("\0" + name)
        with Watchdog(Sampler().pulse, {"NOTIFY_SOCKET": "@" + name}):
            pass
        assert listening.recv(100) == b"STOPPING=1"
