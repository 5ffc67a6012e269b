"""What the person hears and sees beside the screen: tone and lamps for each cue. Pure.

Rhythm carries the meaning as much as pitch does, for ears behind muffs; lamps tell by how many and
which are lit, not by colour alone. Silence never means good: while pumping there is always a beat.
"""

import math
from typing import NamedTuple

from benchmate.stream import Cue

LAMPS = 5
LAMP_TEST_S = 0.6
FLASH_HZ = 4.0

_BEEP_HZ = 880.0
_STOP_HZ = 1046.5
_RELEASE_HZ = 587.3
_OVER_HZ = (523.3, 466.2)
_FAULT_HZ = (987.8, 740.0)


class Signal(NamedTuple):
    """The tone sounding now [Hz], None for silence, and which lamps are lit, first to last."""

    tone_hz: float | None
    lamps: tuple[bool, ...]


def signal(cue: Cue, *, fault: bool, to_go: float | None, age_s: float) -> Signal:
    """Give the signal of a cue that has stood for ``age_s`` seconds; ``to_go`` in degrees."""
    if fault:
        return Signal(_alternating(_FAULT_HZ, age_s, 0.12), _flashing((0, 2, 4), age_s))
    near = 1.0 if to_go is None else min(max(to_go / 3.0, 0.0), 1.0)
    signals: dict[Cue, Signal] = {
        "wait": Signal(None, _lit(0)),
        "pump": Signal(_beeping(_BEEP_HZ, age_s, 1.5), _lit(1)),
        "slow": Signal(_beeping(_BEEP_HZ, age_s, 0.15 + 0.45 * near), _lit(2 if near > 0.4 else 3)),
        "release": Signal(_beeping(_RELEASE_HZ, age_s, 0.8), _lit(4)),
        "stop": Signal(_STOP_HZ, _lit(LAMPS)),
        "over": Signal(_alternating(_OVER_HZ, age_s, 0.35), _flashing(range(LAMPS), age_s)),
    }
    return signals[cue]


def lamp_test(age_s: float) -> Signal | None:
    """Light every lamp at the start: a dead one would look like 'go on'. None once it is over."""
    return Signal(_BEEP_HZ, _lit(LAMPS)) if age_s < LAMP_TEST_S else None


def _beeping(tone_hz: float, age_s: float, period_s: float) -> float | None:
    return tone_hz if math.fmod(age_s, period_s) < min(0.1, period_s / 2.0) else None


def _alternating(tones_hz: tuple[float, float], age_s: float, each_s: float) -> float:
    return tones_hz[int(age_s / each_s) % 2]


def _lit(count: int) -> tuple[bool, ...]:
    return tuple(lamp < count for lamp in range(LAMPS))


def _flashing(which: tuple[int, ...] | range, age_s: float) -> tuple[bool, ...]:
    on = math.fmod(age_s * FLASH_HZ, 1.0) < 0.5
    return tuple(on and lamp in which for lamp in range(LAMPS))
