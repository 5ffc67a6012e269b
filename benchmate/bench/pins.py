"""Buzzer, lamps and foot switch through gpiozero; every one optional.

The pin factory is the one that gpiozero picks or its environment names; it is never forced here.
Handlers run in gpiozero's own thread, which dies with the first exception: they only hand a
word on to a queue.
"""

import importlib.util
import logging
import os
import sys
import tempfile
import warnings
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from typing import Any

from benchmate.shop.parts import Signals
from benchmate.signal_patterns import Signal

LONG_PRESS_S = 0.8
BOUNCE_S = 0.03
DEVICES = Path("/dev")
"""Where the kernel shows its pin chips: gpiochip0 and so on."""

_log = logging.getLogger(__name__)


class Pins:
    """The pins of one bench; what was asked for and can't be had is left out, and told.

    ``missing`` names each with why. It grows when a pin fails later: from then on that is left out.
    """

    def __init__(self, signals: Signals, press: Callable[[str], None]) -> None:
        """Open the pins; ``press`` gets the foot switch's "press" or "hold", in another thread."""
        self.missing: tuple[str, ...] = ()
        self._buzzer: Any = None
        # A light that can't be had keeps its place, so that the others mean what they meant.
        self._lamps: list[Any] = []
        self._switch: Any = None
        self._names: dict[int, str] = {}
        self._shown: Signal | None = None
        self._held = False
        self._press = press
        if signals.buzzer is None and not signals.lights and signals.foot_switch is None:
            return
        with _aside():
            self._open_all(signals)

    @property
    def fault(self) -> str:
        """Say in one sentence what was asked for and can't be had; empty when all is there."""
        whose: dict[str, list[str]] = {}
        for told in self.missing:
            name, _, why = told.partition(": ")
            whose.setdefault(why, []).append(name)
        told_of = (f"no {', '.join(names)}: {why}" for why, names in whose.items())
        return "; ".join(told_of)

    @property
    def any(self) -> bool:
        """Say whether there is anything to sound or light."""
        return self._buzzer is not None or any(lamp is not None for lamp in self._lamps)

    def show(self, signal: Signal) -> None:
        """Sound and light this; nothing is touched that stays as it is."""
        shown, self._shown = self._shown, signal
        if self._buzzer is not None and (shown is None or signal.tone_hz != shown.tone_hz):
            self._buzzer = self._doing(self._buzzer, partial(_sound, tone_hz=signal.tone_hz))
        for place, lamp in enumerate(self._lamps):
            lit = place < len(signal.lamps) and signal.lamps[place]
            if lamp is not None and (shown is None or lit != shown.lamps[place]):
                self._lamps[place] = self._doing(lamp, partial(_light, lit=lit))

    def close(self) -> None:
        """Silence everything and give the pins back."""
        for device in (self._buzzer, *self._lamps, self._switch):
            if device is not None:
                self._doing(device, lambda each: each.close())
        self._buzzer, self._lamps, self._switch = None, [], None

    def _open_all(self, signals: Signals) -> None:
        try:
            from gpiozero import LED, Button, TonalBuzzer, tones
        except ImportError as error:
            self._miss("pins", f"gpiozero can't be loaded ({error})")
            return
        if signals.buzzer is not None:
            self._buzzer = self._open(
                "buzzer",
                signals.buzzer,
                lambda pin: TonalBuzzer(pin, mid_tone=tones.Tone("A5"), octaves=1),
            )
        self._lamps = [self._open("light", pin, LED) for pin in signals.lights]
        if signals.foot_switch is not None:
            self._switch = self._open(
                "foot switch",
                signals.foot_switch,
                lambda pin: Button(pin, bounce_time=BOUNCE_S, hold_time=LONG_PRESS_S),
            )
        if self._switch is not None:
            self._switch.when_held = self._on_held
            self._switch.when_released = self._on_released

    def _open(self, name: str, pin: int, make: Callable[[int], Any]) -> Any:
        whole = f"{name} on GPIO{pin}"
        try:
            # gpiozero warns of each pin factory it can't load; a screen must not be written over.
            with warnings.catch_warnings(record=True) as caught:
                warnings.simplefilter("always")
                device = make(pin)
        except _failures() as error:
            self._miss(whole, _why(error))
            return None
        for warning in caught:
            _log.info("%s", warning.message)
        self._names[id(device)] = whole
        return device

    def _doing(self, device: Any, do: Callable[[Any], None]) -> Any:
        """Do it with the device, and give that back; None when it failed and is left out."""
        try:
            do(device)
        except _failures() as error:
            self._miss(self._names[id(device)], _why(error))
            return None
        return device

    def _miss(self, name: str, why: str) -> None:
        self.missing += (f"{name}: {why}",)
        _log.warning("no %s: %s; the screen and the stream still work", name, why)

    def _on_held(self) -> None:
        self._held = True
        self._press("hold")

    def _on_released(self) -> None:
        held, self._held = self._held, False
        if not held:
            self._press("press")


def _sound(buzzer: Any, tone_hz: float | None) -> None:
    if tone_hz is None:
        buzzer.stop()
    else:
        buzzer.play(tone_hz)


def _light(lamp: Any, *, lit: bool) -> None:
    lamp.value = lit


@contextmanager
def _aside() -> Iterator[None]:
    """Be in a folder of one's own: lgpio leaves a pipe in the one that it is loaded in.

    It also moves the whole program to the folder that LG_WD names; we come back from there too.
    """
    here = os.open(".", os.O_PATH | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        with tempfile.TemporaryDirectory(prefix="benchmate-pins-") as folder:
            os.chdir(folder)
            try:
                yield
            finally:
                os.fchdir(here)
    finally:
        os.close(here)


def _failures() -> tuple[type[BaseException], ...]:
    """Give what pin libraries raise; lgpio's own error is of no kind that it shares with others."""
    from gpiozero import GPIOZeroError

    lgpio = sys.modules.get("lgpio")
    own = () if lgpio is None else (lgpio.error,)
    return (GPIOZeroError, ImportError, OSError, RuntimeError, ValueError, *own)


def _why(error: BaseException) -> str:
    from gpiozero import BadPinFactory

    said = (str(error) or type(error).__name__).strip("'").rstrip(".!")
    if "busy" in said.lower():
        return f"{said}: another program has it; end that, or name another pin in bench.yaml"
    named = os.environ.get("GPIOZERO_PIN_FACTORY")
    if "open gpiochip" in said or (isinstance(error, BadPinFactory) and not named):
        return _why_no_pins() or said
    return said


def _why_no_pins() -> str:
    chips = sorted(DEVICES.glob("gpiochip*"))
    if not chips:
        return f"this machine has no pins ({DEVICES}/gpiochip0 isn't there)"
    if not any(os.access(chip, os.R_OK | os.W_OK) for chip in chips):
        return f'you may not use {chips[0]}: sudo usermod -aG gpio "$USER", then log out and in'
    if importlib.util.find_spec("lgpio") is None:
        return "the library for the pins isn't here: sudo apt install -y python3-lgpio"
    return ""
