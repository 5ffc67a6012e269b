"""``check --sounds`` on gpiozero's own mock pins: every pattern is told, and played."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from gpiozero import Device
from gpiozero.pins.mock import MockFactory, MockPWMPin

from benchmate.checks.sounds import EACH_S, PAUSE_S, play_all, row
from benchmate.shop.parts import Signals
from benchmate.signal_patterns import PATTERNS

DOCS = Path(__file__).parents[2] / "docs" / "screen.md"


@pytest.fixture(autouse=True)
def mock_pins() -> Iterator[MockFactory]:
    kept, Device.pin_factory = Device.pin_factory, MockFactory(pin_class=MockPWMPin)
    yield Device.pin_factory
    Device.pin_factory.reset()
    Device.pin_factory = kept


class QuickClock:
    """Passes as fast as it is slept."""

    def __init__(self) -> None:
        self.t = 0.0

    def now(self) -> float:
        return self.t

    def sleep(self, seconds: float) -> None:
        self.t += seconds


def test_every_pattern_is_told_and_played_in_its_turn() -> None:
    told: list[str] = []
    clock = QuickClock()
    assert play_all(Signals(buzzer=18, lights=(5, 6, 13, 19, 26)), clock, told.append) == 0
    assert told == [row(pattern) for pattern in PATTERNS]
    assert clock.t == pytest.approx(len(PATTERNS) * (EACH_S + PAUSE_S), rel=0.02)


def test_without_buzzer_and_lights_the_table_is_told_and_that_nothing_is_heard() -> None:
    told: list[str] = []
    clock = QuickClock()
    assert play_all(Signals(), clock, told.append) == 1
    assert "names no buzzer and no lights" in told[0]
    assert len(told) == 1 + len(PATTERNS)
    assert clock.t == 0.0


def test_the_page_on_the_screens_has_the_same_table() -> None:
    page = DOCS.read_text(encoding="utf-8")
    for pattern in PATTERNS:
        assert f"| {pattern.means} | {pattern.heard} | {pattern.lit} |" in page, pattern.name
