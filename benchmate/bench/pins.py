"""Buzzer, lamps and foot switch through gpiozero; every one optional.

The pin factory is the one that gpiozero picks or its environment names; it is never forced here.
Handlers run in gpiozero's own thread, which dies with the first exception: they only hand a
word on to a queue.
"""

import logging
import warnings
from collections.abc import Callable
from typing import Any

from benchmate.bench.sounding import Signal
from benchmate.shop.parts import Signals

LONG_PRESS_S = 0.8
BOUNCE_S = 0.03

_log = logging.getLogger(__name__)


class Pins:
    """The pins of one bench; what can't be opened is left out and said in ``missing``."""

    def __init__(self, signals: Signals, press: Callable[[str], None]) -> None:
        """Open the pins; ``press`` gets the foot switch's "press" or "undo", in another thread."""
        self.missing: list[str] = []
        self._buzzer: Any = None
        self._lamps: list[Any] = []
        self._switch: Any = None
        self._shown: Signal | None = None
        self._held = False
        self._press = press
        if signals.buzzer is None and not signals.lights and signals.foot_switch is None:
            return
        gpio = self._gpiozero()
        if gpio is None:
            return
        if signals.buzzer is not None:
            self._buzzer = self._open(
                "buzzer",
                signals.buzzer,
                lambda pin: gpio.TonalBuzzer(pin, mid_tone=gpio.tones.Tone("A5"), octaves=1),
            )
        for pin in signals.lights:
            lamp = self._open("light", pin, gpio.LED)
            if lamp is not None:
                self._lamps.append(lamp)
        if signals.foot_switch is not None:
            self._switch = self._open(
                "foot switch",
                signals.foot_switch,
                lambda pin: gpio.Button(pin, bounce_time=BOUNCE_S, hold_time=LONG_PRESS_S),
            )
        if self._switch is not None:
            self._switch.when_held = self._on_held
            self._switch.when_released = self._on_released

    def show(self, signal: Signal) -> None:
        """Sound and light this; nothing is touched that stays as it is."""
        shown, self._shown = self._shown, signal
        if self._buzzer is not None and (shown is None or signal.tone_hz != shown.tone_hz):
            if signal.tone_hz is None:
                self._buzzer.stop()
            else:
                self._buzzer.play(signal.tone_hz)
        for place, lamp in enumerate(self._lamps):
            lit = place < len(signal.lamps) and signal.lamps[place]
            if shown is None or lit != shown.lamps[place]:
                lamp.value = lit

    @property
    def any(self) -> bool:
        """Say whether there is anything to sound or light."""
        return self._buzzer is not None or bool(self._lamps)

    def close(self) -> None:
        """Silence everything and give the pins back."""
        for device in (self._buzzer, *self._lamps, self._switch):
            if device is not None:
                device.close()
        self._buzzer, self._lamps, self._switch = None, [], None

    def _on_held(self) -> None:
        self._held = True
        self._press("undo")

    def _on_released(self) -> None:
        held, self._held = self._held, False
        if not held:
            self._press("press")

    def _gpiozero(self) -> Any:
        try:
            import gpiozero.tones
        except ImportError as error:
            self._miss("pins", f"gpiozero can't be loaded ({error})")
            return None
        return gpiozero

    def _open(self, name: str, pin: int, make: Callable[[int], Any]) -> Any:
        from gpiozero import GPIOZeroError

        try:
            # gpiozero warns of each pin factory it can't load; a screen must not be written over.
            with warnings.catch_warnings(record=True) as caught:
                warnings.simplefilter("always")
                device = make(pin)
            for warning in caught:
                _log.info("%s", warning.message)
        except (GPIOZeroError, ImportError, OSError, ValueError) as error:
            self._miss(f"{name} on GPIO{pin}", str(error) or type(error).__name__)
            return None
        return device

    def _miss(self, name: str, why: str) -> None:
        self.missing.append(f"{name}: {why}")
        _log.warning("no %s: %s; the screen and the stream still work", name, why)
