"""Buzzer, lamps and foot switch on gpiozero's own mock pins."""

import os
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from types import SimpleNamespace

import pytest
from gpiozero import BadPinFactory, Device
from gpiozero.pins.mock import MockFactory, MockPWMPin

from benchmate.bench import pins as pins_module
from benchmate.bench.pins import Pins
from benchmate.shop.parts import Signals
from benchmate.signal_patterns import LAMPS, Signal

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
    assert pressed == ["hold"]
    pins.close()


def test_a_bench_without_pins_opens_none() -> None:
    pins = Pins(Signals(), lambda _: None)
    assert not pins.any
    assert pins.missing == ()
    assert pins.fault == ""
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


class LgpioError(Exception):
    """As lgpio's own: of no kind that other libraries raise."""


def stolen(
    factory: MockFactory, numbers: tuple[int, ...], error: Exception
) -> Callable[..., object]:
    whole = factory.pin

    def pin(name: int | str) -> object:
        if name in numbers:
            raise error
        return whole(name)

    return pin


def test_a_pin_that_another_program_has_is_told_and_the_others_work(
    mock_pins: MockFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "lgpio", SimpleNamespace(error=LgpioError))
    busy = stolen(mock_pins, (18, 6), LgpioError("'GPIO busy'"))
    monkeypatch.setattr(mock_pins, "pin", busy)
    pins = Pins(ALL, lambda _: None)
    assert pins.fault == (
        "no buzzer on GPIO18, light on GPIO6: GPIO busy: another program has it; end that, or name"
        " another pin in bench.yaml"
    )
    pins.close()


def test_a_light_that_is_missing_moves_no_other_out_of_its_place(
    mock_pins: MockFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(mock_pins, "pin", stolen(mock_pins, (6,), OSError("gone")))
    pins = Pins(ALL, lambda _: None)
    monkeypatch.undo()
    pins.show(Signal(None, (False, True, True, False, False)))
    assert [mock_pins.pin(n).state for n in (5, 13, 19, 26)] == [0, 1, 0, 0]
    pins.close()


def test_a_pin_that_fails_later_is_told_and_the_others_go_on(
    mock_pins: MockFactory, monkeypatch: pytest.MonkeyPatch
) -> None:
    pins = Pins(ALL, lambda _: None)

    def broken(_value: object) -> None:
        raise OSError("the line is gone")

    monkeypatch.setattr(mock_pins.pin(5), "_set_state", broken)
    pins.show(Signal(None, (True, True, False, False, False)))
    assert pins.fault == "no light on GPIO5: the line is gone"
    pins.show(Signal(None, DARK))
    pins.show(Signal(None, (True, True, False, False, False)))
    assert mock_pins.pin(6).state == 1
    assert len(pins.missing) == 1
    monkeypatch.undo()
    pins.close()


@pytest.mark.parametrize(
    ("chips", "allowed_and_lgpio", "told"),
    [
        ((), (True, True), "this machine has no pins"),
        (("gpiochip0",), (False, True), 'sudo usermod -aG gpio "$USER", then log out and in'),
        (("gpiochip0",), (True, False), "sudo apt install -y python3-lgpio"),
        (("gpiochip0",), (True, True), "Unable to load any default pin factory"),
    ],
)
def test_why_there_are_no_pins_is_said_with_what_to_do(
    monkeypatch: pytest.MonkeyPatch,
    tmp_path: Path,
    chips: tuple[str, ...],
    allowed_and_lgpio: tuple[bool, bool],
    told: str,
) -> None:
    allowed, lgpio = allowed_and_lgpio
    for chip in chips:
        (tmp_path / chip).touch()

    def none_works() -> object:
        raise BadPinFactory("Unable to load any default pin factory!")

    monkeypatch.setattr(Device, "pin_factory", None)
    monkeypatch.delenv("GPIOZERO_PIN_FACTORY", raising=False)
    monkeypatch.setattr(Device, "_default_pin_factory", none_works)
    monkeypatch.setattr(pins_module, "DEVICES", tmp_path)
    monkeypatch.setattr("os.access", lambda _path, _mode: allowed)
    monkeypatch.setattr("importlib.util.find_spec", lambda _name: object() if lgpio else None)
    pins = Pins(Signals(buzzer=18, lights=(5,)), lambda _: None)
    assert pins.fault.startswith("no buzzer on GPIO18, light on GPIO5: ")
    assert told in pins.fault
    pins.close()


def test_nothing_is_left_in_the_folder_where_the_person_stands(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    # As lgpio does when it is loaded: a pipe in the current folder, then off to where LG_WD says.
    def load() -> MockFactory:
        os.mkfifo(".lgd-nfy0")
        os.chdir(tmp_path / "elsewhere")
        return MockFactory(pin_class=MockPWMPin)

    here = tmp_path / "here"
    here.mkdir()
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(here)
    monkeypatch.setattr(Device, "pin_factory", None)
    monkeypatch.setattr(Device, "_default_pin_factory", load)
    pins = Pins(ALL, lambda _: None)
    assert pins.missing == ()
    assert Path.cwd() == here
    assert list(tmp_path.rglob(".lgd*")) == []
    pins.close()
