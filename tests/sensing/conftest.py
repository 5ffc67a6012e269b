"""A bus that holds a conversation to its script, a clock that only tests wind on, a shaken arm."""

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from benchmate.sensing.bus import Bus


class HandClock:
    """Time that passes only while someone sleeps."""

    def __init__(self) -> None:
        self.t = 0.0

    def now(self) -> float:
        return self.t

    def sleep(self, seconds: float) -> None:
        self.t += max(seconds, 0.0)


class Script:
    """Answers as an smbus2 object would, one line of the script at a time, and in no other order.

    A line is ("r", address, register, bytes) or ("w", address, register, value); an OSError in
    the last place is raised instead.
    """

    def __init__(self, *lines: tuple[str, int, int, object]) -> None:
        self.lines = list(lines)
        self.opened: list[int] = []
        self.closed = 0

    def open(self, number: int) -> "Script":
        self.opened.append(number)
        return self

    def bus(self) -> Bus:
        return Bus(self.open, 1)

    def done(self) -> bool:
        return not self.lines

    def read_byte_data(self, address: int, register: int) -> int:
        return self._answer("r", address, register, 1)[0]

    def read_i2c_block_data(self, address: int, register: int, n: int) -> list[int]:
        return list(self._answer("r", address, register, n))

    def write_byte_data(self, address: int, register: int, value: int) -> None:
        kind, *rest = self.lines.pop(0)
        assert (kind, *rest[:2]) == ("w", address, register), f"0x{register:02x} <- {value:#x}"
        if isinstance(rest[2], OSError):
            raise rest[2]
        assert rest[2] == value, f"0x{register:02x} <- {value:#x}"

    def close(self) -> None:
        self.closed += 1

    def _answer(self, kind: str, address: int, register: int, n: int) -> bytes:
        assert self.lines, f"nobody expected a read of 0x{register:02x}"
        expected, *where, answer = self.lines.pop(0)
        assert (expected, *where) == (kind, address, register), f"0x{register:02x}"
        if isinstance(answer, OSError):
            raise answer
        assert isinstance(answer, bytes)
        assert len(answer) == n
        return answer


@pytest.fixture
def script() -> type[Script]:
    return Script


@pytest.fixture
def clock() -> HandClock:
    return HandClock()


@pytest.fixture(scope="session")
def arms() -> ModuleType:
    """Give the arm made of kinematics alone, which the benchmarks use as well."""
    return beside("shaken_arm")


@pytest.fixture(scope="session")
def looped() -> ModuleType:
    """Give the whole way of a sample over a bus that replays, which the benchmarks use as well."""
    return beside("looped")


def beside(name: str) -> ModuleType:
    spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # Dataclasses look their module up by name.
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module
