"""The whole loop by ear: what is said, in which order, and never faster than it can be spoken."""

import pytest

from benchmate.screen.client import Started
from benchmate.screen.text.spoken import WORDS_A_SECOND, Speaker
from benchmate.stream import Fault


class Listener:
    """Hears a bench and writes down what is said and when."""

    def __init__(self):
        self.speaker = Speaker("gate-frame")
        self.now = 0.0
        self.said = []
        self.hear(Started(again=False))

    def hear(self, *happenings):
        for happening in happenings:
            self.speaker.hear(happening, self.now)

    def wait(self, seconds):
        end = self.now + seconds
        while self.now < end:
            sentence = self.speaker.take(self.now)
            if sentence is not None:
                self.said.append((self.now, sentence))
            self.now += 0.05

    @property
    def words(self):
        return [sentence for _, sentence in self.said]


@pytest.fixture
def listener():
    return Listener()


def test_a_bend_is_told_from_zero_to_its_verdict(listener, say):
    zeroing = {"phase": "zeroing", "cue": "wait"}
    listener.hear(say.target(mark=251.0, turn=90.0), say.reading(0.0, t=1.0, **zeroing))
    listener.wait(30.0)
    assert listener.words[0] == (
        "Bend 1 of 3, 90.0 degrees. Mark 251 millimetres, turn 90.0 degrees clockwise seen from "
        "the last end."
    )
    assert listener.words[1].startswith("Clamp the tube snug")
    assert listener.words[1].endswith("Enter: set zero.")
    listener.hear(say.reading(0.0, t=2.0, phase="ready", cue="wait"))
    listener.wait(10.0)
    assert listener.words[-1] == "Zero is set. Pump."
    listener.hear(say.reading(89.1, t=3.0, to_go=4.3, strokes=2.2))
    listener.wait(5.0)
    assert listener.words[-1] == "5, 3 strokes to go."
    listener.hear(say.reading(93.4, t=4.0, to_go=0.0, cue="stop"))
    listener.wait(0.1)
    assert listener.words[-1] == "Stop. Stop pumping and let the arm stand still."
    listener.hear(say.verdict(bend_angle=89.8), say.logged())
    listener.wait(20.0)
    assert "Good. Bent to 89.8 degrees, give or take 0.4. Enter: next bend." in listener.words
    assert "Bend 1 is in the log." in listener.words


def test_nothing_is_said_before_the_sentence_before_it_is_over(listener, say):
    listener.hear(say.target(), say.reading(0.0, t=1.0, phase="zeroing", cue="wait"))
    for at in range(200):
        angle = at * 0.5
        listener.hear(say.reading(angle, t=2.0 + at * 0.1, to_go=93.4 - angle))
        listener.wait(0.1)
    listener.wait(20.0)
    for (at, sentence), (then, _) in zip(listener.said, listener.said[1:], strict=False):
        assert then - at >= len(sentence.split()) / WORDS_A_SECOND - 0.06


def test_each_distance_is_called_once_and_only_the_newest(listener, say):
    listener.hear(say.target())
    for at in range(94):
        listener.hear(say.reading(float(at), t=float(at), to_go=93.4 - at))
    listener.wait(60.0)
    called = [each for each in listener.words if each.endswith("to go.")]
    assert called == ["1 to go."]


def test_a_fault_is_said_at_once_and_before_all_that_waits(listener, say):
    listener.hear(say.target(advice="A long sentence. " * 10))
    listener.hear(say.reading(0.0, t=1.0, phase="zeroing", cue="wait"))
    listener.wait(1.0)
    listener.hear(say.reading(40.0, t=2.0), Fault(what="bus", detail="no answer"))
    listener.wait(0.1)
    assert listener.words[-1].startswith("Fault. The angle is lost. Stop pumping.")


def test_a_reading_that_stays_away_is_said(listener, say):
    listener.hear(say.target(), say.reading(40.0, t=1.0))
    listener.wait(30.0)
    listener.speaker.tick(listener.now)
    listener.wait(1.0)
    assert listener.words[-1].startswith("No angle.")


def test_enter_means_what_is_due(listener, say):
    listener.hear(say.target(), say.reading(0.0, t=1.0, phase="zeroing", cue="wait"))
    assert listener.speaker.command() == "zero"
    listener.hear(say.reading(40.0, t=2.0))
    assert listener.speaker.command() == ""
