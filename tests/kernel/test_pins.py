"""Buzzer, lights and foot switch through the kernel's own pins, by gpiozero's own choice."""

import queue
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from benchmate.bench.pins import Pins
from benchmate.shop.parts import Signals
from benchmate.signal_patterns import LAMPS, Signal

DARK = (False,) * LAMPS
LIGHTS = (5, 6, 13, 19, 26)
TONES_HZ = (466.2, 523.3, 587.3, 740.0, 880.0, 987.8, 1046.5)
HALF_TONE = 2 ** (1 / 12) - 1
"""Two tones of the signals are never nearer to each other than two of these."""

Opened = Callable[[Signals], Pins]


@pytest.fixture
def pressed() -> "queue.SimpleQueue[str]":
    return queue.SimpleQueue()


@pytest.fixture
def opened(lines: Any, pressed: "queue.SimpleQueue[str]") -> Iterator[Opened]:
    kept = []

    def opened(signals: Signals) -> Pins:
        kept.append(Pins(signals, pressed.put))
        return kept[-1]

    yield opened
    for pins in kept:
        pins.close()


def test_each_light_drives_its_own_line(lines: Any, opened: Opened) -> None:
    pins = opened(Signals(lights=LIGHTS))
    assert pins.fault == ""
    pins.show(Signal(None, (True, False, True, False, True)))
    assert [lines.value(line) for line in LIGHTS] == [1, 0, 1, 0, 1]
    pins.show(Signal(None, DARK))
    assert [lines.value(line) for line in LIGHTS] == [0] * LAMPS


def test_a_short_press_of_the_switch_is_heard(
    lines: Any, opened: Opened, pressed: "queue.SimpleQueue[str]"
) -> None:
    lines.pull(17, up=True)
    opened(Signals(foot_switch=17))
    lines.pull(17, up=False)
    with pytest.raises(queue.Empty):
        pressed.get(timeout=0.3)
    lines.pull(17, up=True)
    assert pressed.get(timeout=5.0) == "press"


def test_a_long_press_of_the_switch_is_undo(
    lines: Any, opened: Opened, pressed: "queue.SimpleQueue[str]"
) -> None:
    lines.pull(17, up=True)
    opened(Signals(foot_switch=17))
    lines.pull(17, up=False)
    assert pressed.get(timeout=5.0) == "undo"
    lines.pull(17, up=True)
    with pytest.raises(queue.Empty):
        pressed.get(timeout=0.5)


def test_a_line_that_another_program_has_is_told(lines: Any, opened: Opened) -> None:
    holds = """
import lgpio
chip = lgpio.gpiochip_open(0)
lgpio.gpio_claim_output(chip, 21)
print("held", flush=True)
input()
"""
    other = subprocess.Popen(
        [sys.executable, "-c", holds], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert other.stdout is not None
    try:
        assert other.stdout.readline() == "held\n"
        # Lines of their own: closing gives none back before the program ends.
        pins = opened(Signals(lights=(20, 21, 22)))
        assert "light on GPIO21" in pins.fault
        assert "another program has it" in pins.fault
        pins.show(Signal(None, (True,) * LAMPS))
        assert [lines.value(line) for line in (20, 22)] == [1, 1]
    finally:
        other.communicate("\n", timeout=30)


def test_nothing_is_left_where_the_person_stands(
    opened: Opened, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    words = """
from benchmate.bench.pins import Pins
from benchmate.shop.parts import Signals
pins = Pins(Signals(lights=(24,)), print)
assert pins.fault == "", pins.fault
pins.close()
"""
    subprocess.run([sys.executable, "-c", words], check=True, timeout=300)
    assert list(tmp_path.iterdir()) == []


def wakes_a_second(apart_s: float) -> float:
    """Count how often a second a thread can wake that wants to so many seconds apart."""
    began, count = time.monotonic(), 0
    while time.monotonic() - began < 0.5:
        time.sleep(apart_s)
        count += 1
    return count / (time.monotonic() - began)


@pytest.mark.parametrize("tone_hz", TONES_HZ)
def test_the_buzzer_holds_its_pitch(
    opened: Opened,
    trace: Any,
    tone_hz: float,
    record_testsuite_property: Callable[[str, object], None],
) -> None:
    woken = wakes_a_second(0.5 / tone_hz)
    if woken < tone_hz:
        pytest.skip(
            f"a thread here wakes {woken:.0f} times a second; {tone_hz} Hz takes twice that"
        )
    pins = opened(Signals(buzzer=18))
    assert pins.fault == ""
    pins.show(Signal(tone_hz, DARK))
    sounded_hz = trace.edges_a_second(1.0) / 2
    record_testsuite_property(f"Hz on the line for {tone_hz} Hz", sounded_hz)
    pins.show(Signal(None, DARK))
    assert sounded_hz == pytest.approx(tone_hz, rel=HALF_TONE)
    assert trace.edges_a_second(0.2) < 20
