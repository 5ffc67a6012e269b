"""``check --sounds``: every tone and lamp pattern, one after the other, with what it means."""

from collections.abc import Callable

from benchmate.bench.pins import Pins
from benchmate.clock import Clock
from benchmate.shop.parts import Signals
from benchmate.signal_patterns import PATTERNS, Pattern, Signal

EACH_S = 3.0
STEP_S = 0.02
PAUSE_S = 0.7
DARK = Signal(None, (False,) * 5)


def play_all(signals: Signals, clock: Clock, tell: Callable[[str], None]) -> int:
    """Play each pattern of the table on buzzer and lamps, telling it; 1: there is neither.

    What can't be opened is told first with why.
    """
    pins = Pins(signals, lambda _press: None)
    try:
        for missing in pins.missing:
            tell(f"no {missing}")
        if not pins.any:
            tell(
                "bench.yaml names no buzzer and no lights that can be had: this is the table alone"
            )
        for pattern in PATTERNS:
            tell(row(pattern))
            if pins.any:
                _play(pins, pattern, clock)
        return 0 if pins.any else 1
    finally:
        pins.close()


def row(pattern: Pattern) -> str:
    """Give a pattern as a line of the table."""
    return f"{pattern.name:<9} {pattern.means}: {pattern.heard}; {pattern.lit}"


def _play(pins: Pins, pattern: Pattern, clock: Clock) -> None:
    began = clock.now()
    while (age := clock.now() - began) < EACH_S:
        pins.show(pattern.at(age))
        clock.sleep(STEP_S)
    pins.show(DARK)
    clock.sleep(PAUSE_S)
