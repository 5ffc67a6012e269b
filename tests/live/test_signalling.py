"""When what is heard and seen changes, as the stream goes on."""

import math
from itertools import pairwise

import pytest

from benchmate import stream
from benchmate.bench.pins import Pins
from benchmate.bench.signalling import Signalling
from benchmate.shop.parts import Signals
from benchmate.signal_patterns import LAMP_TEST_S, PATTERNS, Signal
from benchmate.sim.clock import QuickClock

TICK_S = 1.0 / 64.0
"""A step of the clock that a float holds exactly, as it does all its sums."""
MEANT = {pattern.name: pattern for pattern in PATTERNS}


class Heard:
    """Signals of a bench without pins, on a clock that the test moves."""

    def __init__(self) -> None:
        self.clock = QuickClock(0.0)
        pins = Pins(Signals(), lambda _: None)
        self._signalling = Signalling(pins, self.clock, pytest.fail)
        self.clock.sleep(math.ceil(LAMP_TEST_S))

    def hear(self, event: stream.Event) -> None:
        self._signalling.hear(event)

    def reading(
        self,
        cue: stream.Cue,
        *,
        phase: stream.Phase = "bending",
        arm: float | None = 40.0,
        to_go: float = 1.5,
    ) -> None:
        self.hear(
            stream.Reading(
                t=self.clock.now(), arm=arm, rate=0.0, sd=0.1, to_go=to_go, phase=phase, cue=cue
            )
        )

    def say(self, say: stream.Say) -> None:
        self.hear(stream.Verdict(say=say, bend_angle=45.0, sd=0.1, bend=1, hits=1))

    def over(self, seconds: float) -> list[Signal]:
        """Give what is heard and seen from now on, at each tick."""
        told = []
        for _ in range(round(seconds / TICK_S)):
            told.append(self._signalling.due())
            self.clock.sleep(TICK_S)
        return told


@pytest.fixture
def heard() -> Heard:
    return Heard()


def played(name: str, seconds: float) -> list[Signal]:
    """Give what the table of signals has for that meaning, from its first moment on."""
    return [MEANT[name].at(TICK_S * at) for at in range(round(seconds / TICK_S))]


def test_all_lamps_are_tried_at_the_start() -> None:
    clock = QuickClock(0.0)
    fresh = Signalling(Pins(Signals(), lambda _: None), clock, pytest.fail)
    assert all(fresh.due().lamps)
    clock.sleep(LAMP_TEST_S)
    assert not any(fresh.due().lamps)


def test_a_new_cue_begins_its_own_beat_from_the_first_beep(heard: Heard) -> None:
    for cue in ("pump", "slow", "stop", "release"):
        heard.clock.sleep(47 * TICK_S)
        heard.reading(cue)
        assert heard.over(2.0) == played(cue, 2.0)


def test_a_cue_that_is_told_again_does_not_break_its_beat(heard: Heard) -> None:
    heard.reading("pump")
    first = heard.over(0.5)
    heard.reading("pump")
    assert first + heard.over(2.5) == played("pump", 3.0)


def test_the_beeps_come_faster_the_nearer_the_stop_is(heard: Heard) -> None:
    beats = []
    for to_go in (3.0, 0.2):
        heard.reading("slow", to_go=to_go)
        tones = [each.tone_hz is not None for each in heard.over(6.0)]
        beats.append(sum(b and not a for a, b in pairwise(tones)))
    assert beats[1] > 2 * beats[0]


def test_each_verdict_is_played_from_its_first_note_and_no_reading_breaks_it(heard: Heard) -> None:
    for say, name in (("again", "again"), ("measure", "measure"), ("accept", "good")):
        heard.reading("release")
        heard.clock.sleep(20 * TICK_S)
        heard.say(say)
        told = heard.over(1.0)
        heard.reading("wait", phase="logged")
        assert told + heard.over(1.0) == played(name, 2.0)


def test_the_next_target_ends_the_verdict(heard: Heard) -> None:
    heard.reading("pump")
    heard.say("again")
    heard.clock.sleep(0.5)
    heard.hear(
        stream.Target(
            bend=1,
            hit=2,
            bend_angle=45.0,
            stop_angle=49.0,
            sd=0.3,
            tolerance=0.5,
            bends=1,
            over_angle=50.0,
        )
    )
    assert heard.over(3.0) == played("pump", 3.0)


def test_a_fault_that_blinds_is_heard_before_all_else_until_it_has_cleared(heard: Heard) -> None:
    heard.reading("stop")
    heard.clock.sleep(11 * TICK_S)
    heard.hear(stream.Fault(what="bus", detail="no answer"))
    assert heard.over(1.0) == played("fault", 1.0)
    heard.hear(stream.Fault(what="sensor", detail="frozen"))
    heard.hear(stream.Cleared(what="bus"))
    assert heard.over(1.0) == played("fault", 1.0)
    heard.hear(stream.Cleared(what="sensor"))
    assert {each.tone_hz for each in heard.over(1.0)} == {MEANT["stop"].at(0.0).tone_hz}


def test_a_command_refused_sounds_no_alarm(heard: Heard) -> None:
    heard.reading("stop")
    heard.hear(stream.Fault(what="command", detail="'next' does what a verdict says"))
    assert heard.over(1.0) == played("stop", 1.0)


def test_an_arm_pumped_before_zero_is_heard_from_its_lowest_on_and_a_zero_ends_it(
    heard: Heard,
) -> None:
    heard.reading("wait", phase="zeroing", arm=5.0)
    heard.reading("wait", phase="zeroing", arm=1.0)
    for arm in (4.0, 8.0, 10.9):
        heard.reading("wait", phase="zeroing", arm=arm)
        assert {(each.tone_hz, any(each.lamps)) for each in heard.over(1.0)} == {(None, False)}
    heard.clock.sleep(29 * TICK_S)
    heard.reading("wait", phase="zeroing", arm=11.1)
    assert heard.over(1.0) == played("no zero", 1.0)
    heard.reading("pump", phase="ready", arm=0.0)
    assert heard.over(1.0) == played("pump", 1.0)
    heard.reading("slow", phase="bending", arm=60.0)
    assert heard.over(1.0) == played("slow", 1.0)
