"""What the tracker makes of an arm that sinks, is let off slowly, or shakes while it is pumped."""

from collections.abc import Iterable, Iterator
from itertools import chain, count
from random import Random

import pytest

from benchmate.bench.motion.tracker import Happening, Peaked, Rested, TakeZero, Track, follow, mark
from benchmate.sensing.sample import ArmEstimate

HZ = 200


def arm(
    *legs: tuple[float, float, float], start: float = 0.0, off: Iterable[float] = (), seed: int = 1
) -> Iterator[ArmEstimate]:
    """Go to each leg's angle in its time, with its noise; ``off`` is added to readings in order."""
    random, added, at, times = Random(seed), chain(off), start, count(1)
    for to, seconds, noise in legs:
        steps = round(seconds * HZ)
        for step in range(1, steps + 1):
            seen = at + (to - at) * step / steps + random.gauss(0.0, min(noise, 0.02))
            rate = (to - at) / seconds
            yield ArmEstimate(
                next(times) / HZ, seen + next(added, 0.0), rate, max(noise, 0.01), noise
            )
        at = to


def followed(readings: Iterable[ArmEstimate]) -> tuple[Track, list[Happening]]:
    """Take zero over the first readings and follow the rest."""
    track, happened = mark(Track(follows_tube=True), TakeZero()), []
    for reading in readings:
        track, happening = follow(track, reading)
        if happening is not None:
            happened.append(happening)
    return track, [each for each in happened if isinstance(each, Peaked | Rested)]


ZERO = (0.0, 0.7, 0.02)
UP = (35.0, 4.0, 0.02)
STILL = (35.0, 0.6, 0.02)
RELEASE = (28.0, 0.3, 1.0)


@pytest.mark.parametrize(("sinks", "seconds"), [(0.3, 3.0), (0.5, 3.0), (0.6, 6.0)])
def test_an_arm_that_sinks_slowly_under_load_is_not_released(sinks: float, seconds: float) -> None:
    low = 35.0 - sinks
    track, happened = followed(arm(ZERO, UP, STILL, (low, seconds, 0.02), (low, 2.0, 0.02)))
    assert happened == []
    assert track.phase == "holding"


def test_a_release_after_the_arm_sank_has_the_peak_of_before() -> None:
    sunk = (34.7, 3.0, 0.02)
    _, happened = followed(arm(ZERO, UP, STILL, sunk, (33.2, 0.3, 0.02), (33.2, 0.8, 0.02)))
    peaked, rested = happened
    assert isinstance(peaked, Peaked)
    assert isinstance(rested, Rested)
    assert peaked.arm == pytest.approx(35.0, abs=0.03)
    assert rested.rest == pytest.approx(33.2, abs=0.03)


@pytest.mark.parametrize(("falls", "seconds"), [(0.5, 0.3), (1.5, 0.3), (1.5, 3.0), (2.0, 6.0)])
def test_a_release_is_seen_by_its_speed_or_by_how_far_it_falls(
    falls: float, seconds: float
) -> None:
    low = 35.0 - falls
    _, happened = followed(arm(ZERO, UP, STILL, (low, seconds, 0.02), (low, 0.8, 0.02)))
    assert [type(each) for each in happened[:2]] == [Peaked, Rested]
    last = happened[-1]
    assert isinstance(last, Rested)
    assert last.peak == pytest.approx(35.0, abs=0.03)
    assert last.rest == pytest.approx(low, abs=0.03)


def bump(height: float, seconds: float) -> list[float]:
    """Give what shaking adds: up, and as far down again."""
    steps = round(seconds * HZ)
    return [height * (1.0 - abs(2.0 * step / steps - 1.0)) for step in range(steps)]


def test_a_still_arm_near_the_top_is_believed_before_a_shaken_maximum() -> None:
    stroke, settles, pause = (30.0, 0.4, 1.0), (30.0, 0.3, 1.0), (30.0, 0.8, 0.05)
    before = [0.0] * round((0.7 + 3.0) * HZ)
    off = [*before, *bump(0.0, 0.2), *bump(1.6, 0.4)]
    _, happened = followed(
        arm(ZERO, (27.0, 3.0, 0.05), stroke, settles, pause, RELEASE, (28.0, 1.0, 0.05), off=off)
    )
    assert [type(each) for each in happened] == [Peaked, Rested]
    assert happened[0][0] == pytest.approx(30.0, abs=0.05)


def test_an_arm_that_is_shaken_down_on_its_way_up_is_not_released() -> None:
    before = [0.0] * round((0.7 + 3.0) * HZ)
    off = [*before, *bump(1.5, 0.2), *bump(-1.5, 0.3)]
    _, happened = followed(
        arm(ZERO, (27.0, 3.0, 0.05), (28.0, 0.5, 0.8), (28.0, 0.4, 0.05), off=off)
    )
    assert happened == []


def test_a_peak_left_at_once_is_taken_from_its_surest_reading() -> None:
    _, happened = followed(
        arm(ZERO, (27.0, 3.0, 0.05), (30.0, 0.4, 0.3), (27.0, 0.3, 0.3), (27.0, 1.0, 0.05))
    )
    assert [type(each) for each in happened] == [Peaked, Rested]
    assert happened[0][0] == pytest.approx(30.0, abs=0.35)


def test_a_release_that_an_uneasy_sensor_hides_is_believed_once_it_lasts() -> None:
    up, still, fall = (30.0, 3.0, 0.05), (30.0, 0.6, 0.05), (28.8, 0.3, 0.4)
    _, happened = followed(arm(ZERO, up, still, fall, (28.8, 0.5, 0.4)))
    assert [type(each) for each in happened] == [Peaked, Rested]
    assert happened[0][0] == pytest.approx(30.0, abs=0.05)


def test_a_reading_is_still_off_for_a_while_after_the_arm_was_shaken() -> None:
    before = [0.0] * round((0.7 + 3.0) * HZ)
    off = [*before, *bump(1.0, 0.4), *bump(-1.3, 0.3)]
    stroke, quiet = (30.0, 0.4, 0.8), (30.0, 0.6, 0.25)
    _, happened = followed(arm(ZERO, (27.0, 3.0, 0.05), stroke, quiet, off=off))
    assert happened == []


def test_the_jolt_of_a_release_is_no_peak() -> None:
    still = [0.0] * round((0.7 + 4.0 + 0.6) * HZ)
    _, happened = followed(
        arm(ZERO, UP, STILL, (33.0, 0.4, 0.3), (33.0, 1.0, 0.02), off=[*still, *bump(2.5, 0.2)])
    )
    assert [type(each) for each in happened] == [Peaked, Rested]
    assert happened[0][0] == pytest.approx(35.0, abs=0.05)


def test_a_stroke_from_a_standstill_is_a_higher_peak() -> None:
    stroke = (36.0, 0.5, 0.02)
    _, happened = followed(arm(ZERO, UP, STILL, stroke, (34.5, 0.3, 0.02), (34.5, 1.0, 0.02)))
    assert [type(each) for each in happened] == [Peaked, Rested]
    assert happened[0][0] == pytest.approx(36.0, abs=0.06)


ENDS = [0.4 * (1.0 - step / 40.0) * (-1.0) ** (step // 5) for step in range(40)]
"""What the bump of a stroke's end leaves in the angle: it rings, and dies within a fifth second."""


@pytest.mark.parametrize("over", [0.3, 0.6])
def test_a_stroke_that_ends_with_a_bump_is_no_release_and_leaves_no_peak(over: float) -> None:
    before = [0.0] * round((0.7 + 3.0 + 0.35) * HZ)
    off = [*before, *bump(over, 0.1), *ENDS]
    legs = (ZERO, (27.0, 3.0, 0.02), (30.0, 0.4, 0.02), (30.0, 1.0, 0.02))
    track, happened = followed(arm(*legs, off=off))
    assert happened == []
    assert track.peak == pytest.approx(30.0, abs=0.05)
    _, happened = followed(arm(*legs, (28.0, 0.3, 0.02), (28.0, 0.8, 0.02), off=off))
    peaked, rested = happened
    assert peaked == Peaked(rested.peak)
    assert rested.peak == pytest.approx(30.0, abs=0.05)
    assert rested.rest == pytest.approx(28.0, abs=0.05)


@pytest.mark.parametrize(("falls", "seconds"), [(0.5, 0.6), (0.6, 0.5), (0.5, 0.8)])
def test_a_little_springback_straight_after_a_stroke_is_told_within_a_second_of_standing(
    falls: float, seconds: float
) -> None:
    legs = (ZERO, UP, (35.0 - falls, seconds, 0.01), (35.0 - falls, 1.0, 0.01))
    peaked, rested = followed(arm(*legs))[1]
    assert isinstance(peaked, Peaked)
    assert isinstance(rested, Rested)
    assert rested.peak == pytest.approx(35.0, abs=0.06)
    assert rested.rest == pytest.approx(35.0 - falls, abs=0.05)


def test_what_comes_down_and_stands_where_it_stood_was_no_release() -> None:
    jolt = [0.0] * round((0.7 + 4.0 + 0.6) * HZ) + [-0.5] * round(0.15 * HZ)
    track, happened = followed(arm(ZERO, UP, STILL, (35.0, 1.5, 0.02), off=jolt))
    assert [each for each in happened if isinstance(each, Rested)] == []
    assert track.phase == "holding"
    legs = (ZERO, UP, STILL, (35.0, 1.5, 0.02), (33.0, 0.3, 0.02), (33.0, 0.8, 0.02))
    rested = followed(arm(*legs, off=jolt))[1][-1]
    assert isinstance(rested, Rested)
    assert rested.peak == pytest.approx(35.0, abs=0.05)
    assert rested.rest == pytest.approx(33.0, abs=0.05)


def test_oil_that_leaks_for_a_minute_lets_nobody_off() -> None:
    low = 35.0 - 60.0 * 0.06
    track, happened = followed(arm(ZERO, UP, STILL, (low, 60.0, 0.02)))
    assert happened == []
    assert track.peak == pytest.approx(35.0, abs=0.05)


def test_an_arm_that_stands_where_it_peaked_has_no_rest() -> None:
    legs = (ZERO, UP, STILL, (34.7, 0.2, 0.02), (34.95, 0.1, 0.02), (34.95, 1.0, 0.02))
    _, happened = followed(arm(*legs))
    assert [each for each in happened if isinstance(each, Rested)] == []


def test_a_rest_that_falls_by_degrees_is_told_anew_with_the_same_peak() -> None:
    legs = (ZERO, UP, STILL, (34.0, 0.2, 0.02), (34.0, 0.8, 0.02), (32.5, 0.3, 0.02))
    _, happened = followed(arm(*legs, (32.5, 0.8, 0.02)))
    rests = [each for each in happened if isinstance(each, Rested)]
    assert [each.rest for each in rests] == [
        pytest.approx(34.0, abs=0.05),
        pytest.approx(32.5, abs=0.05),
    ]
    assert rests[0].peak == rests[1].peak
