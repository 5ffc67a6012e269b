"""A bench's caution stands with the first target of each bend and not with the next hit's."""

from collections.abc import Callable
from typing import Any

from benchmate import stream


def test_every_bend_begins_with_the_benchs_caution(bender: Callable[..., Any]) -> None:
    at = bender(caution="No gyro.")
    at.zero()
    at.press(60.0, 57.0)
    at.say("next")
    at.press(93.8, 91.0)
    at.say("next")
    told = [(t.bend, t.hit, t.advice) for t in at.all(stream.Target)]
    assert told == [(1, 1, "No gyro."), (1, 2, ""), (2, 1, "No gyro.")]


def test_a_bend_taken_back_begins_with_it_again(bender: Callable[..., Any]) -> None:
    at = bender(caution="No gyro.")
    at.zero()
    at.press(93.7, 91.0)
    at.say("undo")
    assert at.last(stream.Target).advice == "No gyro."
