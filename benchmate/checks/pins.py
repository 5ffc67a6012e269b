"""The pins that bench.yaml names, opened as the live bend opens them."""

import logging
from collections.abc import Iterator

from benchmate.bench.pins import Pins
from benchmate.checks.finding import Finding
from benchmate.shop.parts import Signals


def look_at_pins(signals: Signals) -> Iterator[Finding]:
    """Open each pin that is named and close it again; the pin factory is gpiozero's own choice."""
    named = [f"light GPIO{pin}" for pin in signals.lights]
    if signals.buzzer is not None:
        named.insert(0, f"buzzer GPIO{signals.buzzer}")
    if signals.foot_switch is not None:
        named.append(f"foot switch GPIO{signals.foot_switch}")
    if not named:
        return
    missing, factory = _opened(signals)
    for why, names in missing.items():
        yield Finding("missing", "pins", f"{', '.join(names)}: {why}")
    if not missing:
        yield Finding("works", "pins", f"{', '.join(named)} through gpiozero's {factory}")


def _opened(signals: Signals) -> tuple[dict[str, list[str]], str]:
    """Open the pins and close them again.

    Gives the names of those missing by what is said of them, and the pin factory's name, empty
    when there is none.
    """
    log = logging.getLogger(Pins.__module__)
    # What it would log is what is told here, in better order.
    log.disabled = True
    try:
        pins = Pins(signals, press=lambda _: None)
        factory = _factory()
        pins.close()
    finally:
        log.disabled = False
    missing: dict[str, list[str]] = {}
    for told in pins.missing:
        name, _, why = told.partition(": ")
        missing.setdefault(why, []).append(name)
    return missing, factory


def _factory() -> str:
    try:
        from gpiozero import Device
    except ImportError:
        return ""
    return type(Device.pin_factory).__name__ if Device.pin_factory else ""
