"""The kernel's own I2C and GPIO, where a machine has its test drivers: docs/kernel-tests.md."""

import os
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from gpiozero import Device
from smbus2 import SMBus

HOW = "docs/kernel-tests.md says how to have one"


@pytest.fixture(scope="session", autouse=True)
def alone() -> None:
    """Let no two processes play with the one bus and the one chip of pins."""
    if "PYTEST_XDIST_WORKER" in os.environ:
        pytest.skip(f"the kernel's bus and pins are one for all processes: run with -n 0; {HOW}")


@pytest.fixture(scope="session")
def stub_bus() -> int:
    """Give the number of a bus whose chips are plain memory, as the kernel's i2c-stub makes one."""
    for name in Path("/sys/bus/i2c/devices").glob("i2c-*/name"):
        if name.read_text().strip() == "SMBus stub driver":
            number = int(name.parent.name.removeprefix("i2c-"))
            if os.access(f"/dev/i2c-{number}", os.R_OK | os.W_OK):
                return number
    pytest.skip(f"no bus of i2c-stub that may be used here; {HOW}")


@pytest.fixture
def play(stub_bus: int) -> Iterator[Callable[[Callable[[SMBus], None]], None]]:
    """Let a chip be played on the stub: a function is called, with a bus of its own, for ever."""
    stopping = threading.Event()
    threads = []

    def play(turn: Callable[[SMBus], None]) -> None:
        with SMBus(stub_bus) as bus:
            turn(bus)

        def run() -> None:
            with SMBus(stub_bus) as bus:
                while not stopping.is_set():
                    turn(bus)
                    time.sleep(0.001)

        threads.append(threading.Thread(target=run))
        threads[-1].start()

    yield play
    stopping.set()
    for thread in threads:
        thread.join()


class SimulatedPins:
    """The lines of a chip that the kernel's gpio-sim makes, seen from outside."""

    def __init__(self, chip: Path) -> None:
        self._chip = chip

    def value(self, line: int) -> int:
        """Give what the line is driven to."""
        return int((self._chip / f"sim_gpio{line}" / "value").read_text())

    def pull(self, line: int, *, up: bool) -> None:
        """Pull the line from outside, as a contact does."""
        (self._chip / f"sim_gpio{line}" / "pull").write_text("pull-up" if up else "pull-down")


class Trace:
    """The kernel's own record of what is done to its lines."""

    def __init__(self, tracing: Path) -> None:
        self._tracing = tracing

    def edges_a_second(self, seconds: float) -> float:
        """Count how often any line is set in so many seconds, as the kernel sees it."""
        switch = self._tracing / "events/gpio/gpio_value/enable"
        (self._tracing / "trace").write_text("")
        began = time.monotonic()
        switch.write_text("1")
        time.sleep(seconds)
        switch.write_text("0")
        passed = time.monotonic() - began
        lines = (self._tracing / "trace").read_text().splitlines()
        return sum("gpio_value" in line and " set " in line for line in lines) / passed


@pytest.fixture(scope="session")
def trace() -> Trace:
    """Give the kernel's record of its lines."""
    tracing = Path("/sys/kernel/tracing")
    if not os.access(tracing / "events/gpio/gpio_value/enable", os.W_OK):
        pytest.skip(f"no trace of the kernel's lines that may be used here; {HOW}")
    return Trace(tracing)


@pytest.fixture(scope="session")
def lines() -> Iterator[SimulatedPins]:
    """Give the lines that gpiozero will take: those of the first chip, which gpio-sim must be."""
    pytest.importorskip("lgpio", reason=f"lgpio isn't here; {HOW}")
    chips = sorted(Path("/sys/devices/platform").glob("gpio-sim.*/gpiochip0"))
    if not chips or not os.access("/dev/gpiochip0", os.R_OK | os.W_OK):
        pytest.skip(f"no pins of gpio-sim that may be used here; {HOW}")
    try:
        from gpiozero.pins.local import get_pi_revision

        get_pi_revision()
    except OSError as error:
        pytest.skip(f"gpiozero takes this machine for no Pi ({error}); {HOW}")
    yield SimulatedPins(chips[0])
    # Closed once: lgpio's callbacks don't outlive the chip that they were first asked of.
    if Device.pin_factory is not None:
        Device.pin_factory.close()
        Device.pin_factory = None
