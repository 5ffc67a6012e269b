"""Buzzer, lamps and foot switch on gpiozero's own mock pins."""

from collections.abc import Iterator

import pytest
from gpiozero import Device
from gpiozero.pins.mock import MockFactory, MockPWMPin

from benchmate.bench.pins import Pins
from benchmate.bench.sounding import LAMPS, Signal
from benchmate.shop.parts import Signals

ALL = Signals(buzzer=18, lights=(5, 6, 13, 19, 26), foot_switch=17)
DARK = (False,) * LAMPS


@pytest.fixture(autouse=True)
def mock_pins() -> Iterator[MockFactory]:
    kept, Device.pin_factory = Device.pin_factory, MockFactory(pin_class=MockPWMPin)
    yield Device.pin_factory
    Device.pin_factory.reset()
    Device.pin_factory = kept


def test_a_signal_is_sounded_and_lit(mock_pins: MockFactory) -> None:
    pins = Pins(ALL, lambda _: None)
    pins.show(Signal(880.0, (True, False, True, False, False)))
    assert [mock_pins.pin(n).state for n in (5, 6, 13, 19, 26)] == [1, 0, 1, 0, 0]
    assert mock_pins.pin(18).frequency == pytest.approx(880.0)
    pins.show(Signal(None, DARK))
    assert [mock_pins.pin(n).state for n in (5, 6, 13, 19, 26)] == [0, 0, 0, 0, 0]
    pins.close()


def test_every_tone_of_the_signals_can_be_played(mock_pins: MockFactory) -> None:
    pins = Pins(ALL, lambda _: None)
    for tone in (466.2, 523.3, 587.3, 740.0, 880.0, 987.8, 1046.5):
        pins.show(Signal(tone, DARK))
        assert mock_pins.pin(18).frequency == pytest.approx(tone, rel=0.01)
    pins.close()


def test_a_short_press_is_what_is_due(mock_pins: MockFactory) -> None:
    pressed: list[str] = []
    pins = Pins(ALL, pressed.append)
    mock_pins.pin(17).drive_low()
    assert pressed == []
    mock_pins.pin(17).drive_high()
    assert pressed == ["press"]
    pins.close()


def test_a_long_press_is_undo_and_nothing_more(mock_pins: MockFactory) -> None:
    pressed: list[str] = []
    pins = Pins(ALL, pressed.append)
    # gpiozero calls this from its own timer thread; called here so that no test has to wait.
    mock_pins.pin(17).drive_low()
    pins._on_held()
    mock_pins.pin(17).drive_high()
    assert pressed == ["undo"]
    pins.close()


def test_a_bench_without_pins_opens_none() -> None:
    pins = Pins(Signals(), lambda _: None)
    assert not pins.any
    assert pins.missing == []
    pins.show(Signal(880.0, DARK))
    pins.close()


def test_a_pin_that_cannot_be_opened_is_left_out_and_named(mock_pins: MockFactory) -> None:
    pins = Pins(Signals(buzzer=18, lights=(5, 99)), lambda _: None)
    assert len(pins.missing) == 1
    assert "light on GPIO99" in pins.missing[0]
    pins.show(Signal(880.0, (True,) * LAMPS))
    assert mock_pins.pin(5).state == 1
    pins.close()


def test_without_any_pin_factory_the_bench_still_works(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(Device, "pin_factory", None)
    monkeypatch.setenv("GPIOZERO_PIN_FACTORY", "nosuchfactory")
    pins = Pins(Signals(buzzer=18, lights=(5,), foot_switch=17), lambda _: None)
    assert len(pins.missing) == 3
    assert not pins.any
    pins.close()
