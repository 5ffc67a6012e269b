"""What the person hears, and sees on the lamps, in each situation: tone and lamps by time. Pure.

Rhythm carries the meaning as much as pitch does, for ears behind muffs; lamps tell by how many and
which are lit, not by colour alone. Silence never means good: while pumping there is always a beat,
and each verdict has its own figure. Tones lie between 440 and 1760 Hz, what a small buzzer sounds
and what hearing damaged by noise still hears (ISO 7731 asks for 500 to 2500 Hz; from memory).
"""

import math
from typing import NamedTuple

from benchmate.stream import Cue, Say

LAMPS = 5
LAMP_TEST_S = 0.6
FLASH_HZ = 4.0
UNZEROED_DEG = 10.0
"""Further than this above its lowest since zero became due the arm was pumped, not brought to the
tube."""

_BEEP_HZ = 880.0
_STOP_HZ = 1046.5
_RELEASE_HZ = 587.3
_OVER_HZ = (523.3, 466.2)
_FAULT_HZ = (987.8, 740.0)
_LOW_HZ, _HIGH_HZ = 659.3, 987.8
_NOTE_S = 0.25
_VERDICT_EVERY_S = 4.0
_VERDICT_TIMES = 3


class Signal(NamedTuple):
    """The tone sounding now [Hz], None for silence, and which lamps are lit, first to last."""

    tone_hz: float | None
    lamps: tuple[bool, ...]


class Pattern(NamedTuple):
    """One row of the table: what it means, what is heard, what is lit, and how to play it."""

    name: str
    means: str
    heard: str
    lit: str
    cue: Cue = "wait"
    fault: bool = False
    to_go: float | None = None
    say: Say | None = None
    unzeroed: bool = False

    def at(self, age_s: float) -> Signal:
        """Give the signal once it has stood so long [s]."""
        return signal(
            self.cue,
            fault=self.fault,
            to_go=self.to_go,
            age_s=age_s,
            say=self.say,
            unzeroed=self.unzeroed,
        )


PATTERNS: tuple[Pattern, ...] = (
    Pattern("pump", "pump", "a beep every 1.5 s", "first lamp", cue="pump"),
    Pattern(
        "slow",
        "near: short strokes",
        "beeps that come faster the nearer the stop",
        "two lamps, then three",
        cue="slow",
        to_go=1.5,
    ),
    Pattern("stop", "stop pumping", "one tone without a break", "all five lamps", cue="stop"),
    Pattern(
        "release",
        "let the pressure off",
        "two low beeps, a pause, two low beeps",
        "first four lamps",
        cue="release",
    ),
    Pattern(
        "past",
        "past tolerance: stop",
        "two low tones, one after the other, without a break",
        "all five flash",
        cue="over",
    ),
    Pattern("good", "the bend is good", "a rising pair", "middle lamp", say="accept"),
    Pattern("again", "press again", "a falling pair", "outer lamps", say="again"),
    Pattern("over", "over-bent", "two low tones, three times", "all but the middle", say="over"),
    Pattern("measure", "measure the tube", "three even beeps", "second and fourth", say="measure"),
    Pattern(
        "no zero",
        "pumped with zero not set",
        "pairs of high and low",
        "outer lamps flash",
        unzeroed=True,
    ),
    Pattern(
        "fault",
        "the angle, or the log, is not to be trusted: stop",
        "high and low in quick turn",
        "first, third and fifth flash",
        fault=True,
    ),
)


def signal(
    cue: Cue,
    *,
    fault: bool,
    to_go: float | None,
    age_s: float,
    say: Say | None = None,
    unzeroed: bool = False,
) -> Signal:
    """Give the signal that has stood for ``age_s`` seconds.

    A fault is heard before all else, then a pumped arm without zero, then the verdict ``say`` while
    it stands, then the cue; ``to_go`` in degrees.
    """
    if fault:
        return Signal(_alternating(_FAULT_HZ, age_s, 0.12), _flashing((0, 2, 4), age_s))
    if unzeroed:
        return Signal(_pairs((_HIGH_HZ, _LOW_HZ), age_s, 1.2), _flashing((0, 4), age_s))
    if say is not None:
        return _of_verdict(say, age_s)
    near = 1.0 if to_go is None else min(max(to_go / 3.0, 0.0), 1.0)
    signals: dict[Cue, Signal] = {
        "wait": Signal(None, _first(0)),
        "pump": Signal(_beeping(_BEEP_HZ, age_s, 1.5), _first(1)),
        "slow": Signal(
            _beeping(_BEEP_HZ, age_s, 0.15 + 0.45 * near), _first(2 if near > 0.4 else 3)
        ),
        "release": Signal(_pairs((_RELEASE_HZ, None, _RELEASE_HZ), age_s, 1.2, 0.12), _first(4)),
        "stop": Signal(_STOP_HZ, _first(LAMPS)),
        "over": Signal(_alternating(_OVER_HZ, age_s, 0.35), _flashing(range(LAMPS), age_s)),
    }
    return signals[cue]


def lamp_test(age_s: float) -> Signal | None:
    """Light every lamp at the start: a dead one would look like 'go on'. None once it is over."""
    return Signal(_BEEP_HZ, _first(LAMPS)) if age_s < LAMP_TEST_S else None


def _of_verdict(say: Say, age_s: float) -> Signal:
    figures: dict[Say, tuple[tuple[float | None, ...], tuple[int, ...]]] = {
        "accept": ((_LOW_HZ, _HIGH_HZ), (2,)),
        "again": ((_HIGH_HZ, _LOW_HZ), (0, 4)),
        "over": ((*_OVER_HZ, *_OVER_HZ, *_OVER_HZ), (0, 1, 3, 4)),
        "measure": ((_BEEP_HZ, None, _BEEP_HZ, None, _BEEP_HZ), (1, 3)),
    }
    notes, lamps = figures[say]
    lit = tuple(lamp in lamps for lamp in range(LAMPS))
    sounding = age_s < _VERDICT_TIMES * _VERDICT_EVERY_S
    return Signal(_pairs(notes, age_s, _VERDICT_EVERY_S, _NOTE_S) if sounding else None, lit)


def _pairs(
    notes: tuple[float | None, ...], age_s: float, every_s: float, note_s: float = 0.18
) -> float | None:
    """Give the note of a figure that is played again and again."""
    at = int(math.fmod(age_s, every_s) / note_s)
    return notes[at] if at < len(notes) else None


def _beeping(tone_hz: float, age_s: float, period_s: float) -> float | None:
    return tone_hz if math.fmod(age_s, period_s) < min(0.1, period_s / 2.0) else None


def _alternating(tones_hz: tuple[float, float], age_s: float, each_s: float) -> float:
    return tones_hz[int(age_s / each_s) % 2]


def _first(count: int) -> tuple[bool, ...]:
    return tuple(lamp < count for lamp in range(LAMPS))


def _flashing(which: tuple[int, ...] | range, age_s: float) -> tuple[bool, ...]:
    on = math.fmod(age_s * FLASH_HZ, 1.0) < 0.5
    return tuple(on and lamp in which for lamp in range(LAMPS))
