"""A session at the bender, told as what the person does and what the stream says."""

import dataclasses
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from benchmate import stream
from benchmate.bench.inputs import Asked, Back, Closed, Lost, Tick, Wrong
from benchmate.bench.replay import replay
from benchmate.errors import Refusal

from .conftest import Arm

Make = Callable[..., Any]


def test_the_first_target_is_said_before_anything_else(bender: Make) -> None:
    at = bender()
    (target,) = at.events
    assert (target.bend, target.hit, target.bends) == (1, 1, 2)
    assert target.stop_angle == pytest.approx(90.0 * 1.03 + 1.0)


def test_zero_is_taken_over_half_a_still_second_and_ready_confirms_it(bender: Make) -> None:
    at = bender()
    at.arm.at = 7.0
    at.hold(0.5)
    assert at.events[-1].phase == "zeroing"
    at.say("zero")
    at.hold(0.4)
    assert at.events[-1].phase == "zeroing"
    at.hold(0.3)
    assert at.events[-1].phase == "ready"
    assert at.events[-1].arm == pytest.approx(0.0, abs=0.2)


def test_an_arm_that_moves_gives_no_zero_until_it_stands(bender: Make) -> None:
    at = bender()
    at.say("zero")
    at.move(6.0, dps=3.0)
    assert {e.phase for e in at.all(stream.Reading)} == {"zeroing"}
    at.hold(0.7)
    assert at.events[-1].phase == "ready"
    assert at.events[-1].arm == pytest.approx(0.0, abs=0.2)


def test_a_good_bend_goes_peak_rest_verdict_logged_in_that_order(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    assert at.without_readings() == ["Target", "Peak", "Rest", "Verdict", "Logged"]
    assert at.last(stream.Peak).arm == pytest.approx(93.7, abs=0.05)
    assert at.last(stream.Rest).arm == pytest.approx(91.0, abs=0.05)
    assert at.last(stream.Rest).springback == pytest.approx(2.7, abs=0.07)
    assert at.last(stream.Verdict).say == "accept"
    assert at.events[-1].phase == "logged"


def test_readings_come_at_least_twenty_times_a_second(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    times = [e.t for e in at.all(stream.Reading)]
    assert max(b - a for a, b in pairwise(times)) <= 0.05


def test_cues_run_pump_slow_stop_release_and_none_comes_back(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    cues = [e.cue for e in at.all(stream.Reading)]
    changes = [cue for cue, before in zip(cues, [None, *cues], strict=False) if cue != before]
    assert changes == ["wait", "pump", "slow", "stop", "release", "wait"]


def test_the_stop_cue_stays_until_the_arm_has_stood_half_a_second_and_may_be_let_off(
    bender: Make,
) -> None:
    at = bender()
    at.zero()
    at.move(93.7)
    at.hold(0.4)
    assert at.last(stream.Reading).cue == "stop"
    at.hold(30.0)
    assert at.last(stream.Reading).cue == "release"
    assert at.last(stream.Reading).phase == "holding"
    assert not at.all(stream.Peak)


@pytest.mark.parametrize("dps", [1.0, 3.0, 5.0, 10.0])
def test_slow_and_stop_let_a_person_with_a_quarter_second_stop_within_three_tenths(
    bender: Make, dps: float
) -> None:
    """A person slows to 1.2 deg/s 0.25 s after the slow cue and stops 0.25 s after the stop cue."""
    at = bender()
    at.zero()
    pace, act_at, stop_at = dps, None, None
    while stop_at is None or at.arm.t < stop_at:
        at.give(*at.arm.move(at.arm.at + pace * 0.005, seconds=0.005))
        cue = at.last(stream.Reading).cue
        if cue == "slow" and act_at is None:
            act_at = at.arm.t + 0.25
        if act_at is not None and at.arm.t >= act_at:
            pace = min(dps, 1.2)
        if cue == "stop" and stop_at is None:
            stop_at = at.arm.t + 0.25
    assert at.arm.at == pytest.approx(93.7, abs=0.3)


def test_a_second_hit_is_aimed_from_the_first_ones_rest(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(92.0, 89.5)
    verdict = at.last(stream.Verdict)
    assert (verdict.say, verdict.stop_angle) == ("again", pytest.approx(93.7))
    at.say("next")
    target = at.events[-1]
    assert (target.bend, target.hit) == (1, 2)
    at.press(93.7, 91.0)
    assert at.last(stream.Verdict).say == "accept"
    assert [len(row.hits) for row in at.rows] == [1, 2]
    assert len({row.bend_id for row in at.rows}) == 1


def test_pumping_on_after_again_without_asking_still_gets_its_cues(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(92.0, 89.5)
    at.press(93.7, 91.0)
    assert [t.hit for t in at.all(stream.Target)] == [1, 2]
    assert at.last(stream.Verdict).say == "accept"


def test_next_after_accept_goes_on_and_the_bend_has_taught(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    at.say("next")
    target = at.events[-1]
    assert (target.bend, target.bend_angle, target.hit) == (2, 45.0, 1)
    at.hold(0.1)
    assert at.events[-1].phase == "zeroing"


def test_an_over_bent_piece_is_told_kept_and_gone_on_from(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(96.0, 93.2)
    assert "over" in [e.cue for e in at.all(stream.Reading)]
    assert at.last(stream.Verdict).say == "over"
    at.say("next")
    assert at.rows[-1].verdict == "over"
    assert at.events[-1].bend == 2


def test_the_last_bends_next_ends_the_session_with_done(bender: Make) -> None:
    at = bender(angles=(90.0,))
    at.zero()
    at.press(93.7, 91.0)
    at.say("next")
    assert isinstance(at.events[-1], stream.Done)
    assert at.session.finished


def test_measured_gives_a_new_verdict_and_is_logged_anew(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    at.say("measured 88.9")
    assert at.last(stream.Verdict).say == "again"
    assert at.rows[-1].hits[-1].measured == 88.9
    at.say("measured 89.9")
    assert at.last(stream.Verdict).say == "accept"
    assert len(at.all(stream.Logged)) == 3
    assert len({row.bend_id for row in at.rows}) == 1


def test_measured_without_a_verdict_is_refused_and_changes_nothing(bender: Make) -> None:
    at = bender()
    at.zero()
    at.say("measured 88.9")
    assert (at.events[-1].what, at.rows) == ("command", [])


@pytest.mark.parametrize("angle", [340.0, 97.0, 180.0])
def test_a_measured_angle_that_the_arm_never_reached_is_refused_and_changes_nothing(
    bender: Make, angle: float
) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    rows = len(at.rows)
    at.say(f"measured {angle}")
    assert at.events[-1].what == "command"
    assert "93.7" in at.events[-1].detail
    assert len(at.rows) == rows
    assert at.last(stream.Verdict).say == "accept"


def test_an_angle_between_the_legs_is_told_as_the_bend_angle_that_it_is(bender: Make) -> None:
    at = bender(angles=(34.0,))
    at.zero()
    at.press(36.0, 35.0)
    at.say("measured 146")
    assert "'measured 34'" in at.events[-1].detail


@pytest.mark.parametrize("line", ["turned 181", "turned -270", "measured -3"])
def test_a_turn_or_angle_past_half_a_circle_is_refused_when_it_is_read(line: str) -> None:
    with pytest.raises(Refusal):
        stream.read_command(line)


def test_again_asks_for_one_more_hit_whatever_the_verdict(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    at.say("again")
    assert (at.events[-1].bend, at.events[-1].hit) == (1, 2)


def test_a_bad_line_is_a_command_fault_and_changes_nothing(bender: Make) -> None:
    at = bender()
    at.give(Wrong(at.arm.t, "'bnd' is no command here"))
    assert at.events[-1] == stream.Fault(what="command", detail="'bnd' is no command here")


def test_skip_leaves_the_bend_unbent_and_goes_on(bender: Make) -> None:
    at = bender()
    at.say("skip")
    assert (at.events[-1].bend, at.rows) == (2, [])


def test_undo_takes_back_a_zero(bender: Make) -> None:
    at = bender()
    at.zero()
    at.say("undo")
    at.hold(0.1)
    assert at.events[-1].phase == "zeroing"


def test_undo_takes_back_a_verdict_by_a_new_row(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    at.say("undo")
    assert at.rows[-1].withdrawn
    assert (at.rows[-1].bend_id, len(at.rows[-1].hits)) == (at.rows[0].bend_id, 1)
    target = at.last(stream.Target)
    assert (target.bend, target.hit) == (1, 1)


def test_undo_of_a_measured_angle_brings_the_verdict_before_it_back(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    at.say("measured 88.0")
    at.say("undo")
    assert at.last(stream.Verdict).say == "accept"
    assert at.rows[-1].hits[-1].measured is None


def test_undo_after_next_goes_back_to_the_verdict_with_its_hits_by_a_new_row(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    at.say("measured 89.8")
    at.say("next")
    at.move(0.0, dps=60.0)
    at.say("undo")
    target, verdict = at.last(stream.Target), at.last(stream.Verdict)
    assert (target.bend, target.hit) == (1, 1)
    assert "next" in target.undone
    assert (verdict.say, verdict.bend, verdict.bend_angle) == ("accept", 1, 89.8)
    assert not at.rows[-1].withdrawn
    assert at.rows[-1].bend_id == at.rows[0].bend_id
    assert [hit.measured for hit in at.rows[-1].hits] == [89.8]
    assert at.rows[-1].trace == b""
    assert replay(dataclasses.replace(at.rows[-1], trace=at.rows[0].trace)).agrees


def test_after_undo_of_next_the_arm_going_off_the_tube_is_no_release(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    at.say("next")
    at.say("undo")
    rows = len(at.rows)
    at.move(0.0, dps=60.0)
    at.hold(1.0)
    assert len(at.rows) == rows
    at.say("next")
    assert at.last(stream.Target).bend == 2


def test_undo_after_again_goes_back_to_the_measured_verdict(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(92.0, 89.5)
    at.say("measured 88.4")
    at.say("next")
    assert at.last(stream.Target).hit == 2
    at.say("undo")
    verdict = at.last(stream.Verdict)
    assert (verdict.say, verdict.bend_angle) == ("again", 88.4)
    at.say("next")
    at.press(93.7, 91.0)
    assert [hit.measured for hit in at.rows[-1].hits] == [88.4, None]


def test_undo_takes_one_step_at_a_time_and_says_which(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(92.0, 89.5)
    at.say("measured 88.4")
    at.say("next")
    at.hold(0.5)
    at.press(93.7, 91.0)
    at.say("next")
    at.arm.at = 0.0
    at.zero()
    for undone in ("zero", "next", "hit 2", "next", "measured 88.4", "hit 1", "zero"):
        at.say("undo")
        at.hold(0.2)
        assert f": {undone};" in at.last(stream.Target).undone
    at.say("undo")
    assert at.events[-1].what == "command"
    assert at.rows[-1].withdrawn


def test_a_bend_made_anew_after_undo_is_another_one_in_the_log(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 91.0)
    for _ in ("hit", "zero"):
        at.say("undo")
    at.arm.at = 0.0
    at.zero()
    at.press(93.7, 91.0)
    assert at.rows[-1].bend_id != at.rows[0].bend_id


def test_undo_of_a_skip_goes_back_to_the_bend_left_out(bender: Make) -> None:
    at = bender()
    at.say("skip")
    at.say("undo")
    assert at.last(stream.Target).bend == 1
    at.zero()
    at.press(93.7, 91.0)
    assert at.rows[-1].bend == 1


def test_a_skip_of_a_pressed_bend_keeps_it_as_it_came_out(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(92.0, 89.5)
    at.say("next")
    at.say("skip")
    assert (at.last(stream.Target).bend, at.rows[-1].withdrawn) == (2, False)
    at.say("undo")
    verdict = at.last(stream.Verdict)
    assert (verdict.bend, verdict.say) == (1, "again")


def test_undo_with_nothing_done_is_refused(bender: Make) -> None:
    at = bender()
    at.say("undo")
    assert at.events[-1].what == "command"


def test_the_foot_switch_does_what_is_due(bender: Make) -> None:
    at = bender()
    at.give(_press(at))
    at.hold(0.8)
    assert at.events[-1].phase == "ready"
    at.press(93.7, 91.0)
    at.give(_press(at))
    assert at.last(stream.Target).bend == 2


def test_slack_alone_is_no_bend(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(1.5, 0.05)
    assert at.without_readings() == ["Target", "Peak", "Target"]
    assert "Nothing was bent" in at.last(stream.Target).advice
    at.press(93.7, 91.0)
    assert at.last(stream.Verdict).say == "accept"


def test_pressure_let_off_in_two_goes_is_one_hit(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(93.7, 92.2)
    at.move(91.0, dps=5.0)
    at.hold(0.8)
    assert at.last(stream.Rest).arm == pytest.approx(91.0, abs=0.05)
    assert len(at.rows[-1].hits) == 1


@pytest.mark.parametrize("hits", [1, 2])
def test_an_arm_taken_off_the_tube_before_next_leaves_the_verdict_as_it_was(
    bender: Make, hits: int
) -> None:
    at = bender()
    at.zero()
    if hits == 2:
        at.press(92.0, 89.5)
        at.say("next")
    at.press(93.7, 91.0)
    rows = len(at.rows)
    for to in (40.0, 0.0):
        at.move(to, dps=60.0)
        at.hold(1.0)
    assert len(at.rows) == rows
    assert at.last(stream.Verdict).say == "accept"
    assert at.last(stream.Reading).phase == "logged"
    at.say("next")
    assert at.last(stream.Target).bend == 2


def test_the_peak_is_not_pushed_up_by_noise(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(93.7)
    at.hold(10.0)
    at.move(91.0, dps=30.0)
    assert at.last(stream.Peak).arm == pytest.approx(93.7, abs=0.03)


def test_an_arm_that_retracts_gets_no_rest_and_waits_for_a_measured_angle(bender: Make) -> None:
    at = bender(follows_tube=False)
    at.zero()
    at.press(93.7, 0.0)
    assert at.without_readings() == ["Target", "Peak", "Verdict", "Logged"]
    assert at.last(stream.Verdict).say == "measure"
    at.say("measured 89.8")
    assert at.last(stream.Verdict).say == "accept"


def test_between_two_bites_the_arm_holds_and_goes_on_from_there(bender: Make) -> None:
    at = bender(bites=True)
    at.zero()
    at.move(50.0)
    at.hold(0.5)
    at.say("bite")
    at.move(10.0, dps=40.0)
    at.hold(0.5)
    held = at.last(stream.Reading)
    assert (held.cue, held.arm) == ("wait", pytest.approx(50.0, abs=0.1))
    at.say("bite")
    at.hold(0.1)
    assert at.last(stream.Reading).arm == pytest.approx(50.0, abs=0.15)
    at.press(10.0 + 43.7, 10.0 + 41.0)
    assert at.last(stream.Peak).arm == pytest.approx(93.7, abs=0.1)
    assert at.last(stream.Verdict).say == "accept"


def test_bite_is_refused_on_a_bender_without_bites(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(50.0)
    at.say("bite")
    assert at.events[-1].what == "command"


def test_a_lost_sensor_stops_cues_until_it_is_back(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(50.0)
    at.give(Lost(at.arm.t, "bus", "no answer: check the cable"))
    fault, blind = at.events[-2:]
    assert (fault.what, blind.arm, blind.cue) == ("bus", None, "wait")
    count = len(at.events)
    at.hold(0.3)
    assert len(at.events) == count
    at.give(Back(at.arm.t))
    assert at.events[-1] == stream.Cleared(what="bus")
    at.hold(0.1)
    assert at.events[-1].cue == "pump"


def test_a_bend_with_a_fault_in_it_is_marked_and_does_not_teach(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(50.0)
    at.give(Lost(at.arm.t, "bus", "no answer: check the cable"), Back(at.arm.t + 1.0))
    at.arm.t += 1.0
    at.press(93.7, 91.0)
    assert at.last(stream.Verdict).say == "accept"
    assert at.rows[-1].faults == ("bus: no answer: check the cable",)


def test_a_peak_that_a_fault_may_have_hidden_is_judged_by_protractor_alone(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(80.0)
    at.give(Lost(at.arm.t, "sensor", "frozen"))
    at.arm.at = 91.0
    at.give(Back(at.arm.t))
    at.hold(0.5)
    at.move(90.0, dps=30.0)
    at.hold(0.8)
    assert at.last(stream.Verdict).say == "measure"
    at.say("measured 89.0")
    assert at.last(stream.Verdict).say == "again"


def test_a_bend_judged_without_its_peak_lies_between_rest_and_rest_less_slack(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(80.0)
    at.give(Lost(at.arm.t, "sensor", "frozen"))
    at.arm.at = 91.0
    at.give(Back(at.arm.t))
    at.hold(0.5)
    at.move(88.0, dps=30.0)
    at.hold(0.8)
    verdict = at.last(stream.Verdict)
    assert 88.0 - 3.8 < verdict.bend_angle < 88.0
    assert abs(verdict.bend_angle - 87.0) < verdict.sd


def test_a_press_after_a_hidden_peak_never_stops_below_what_was_reached(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(80.0)
    at.give(Lost(at.arm.t, "sensor", "frozen"))
    at.arm.at = 96.0
    at.give(Back(at.arm.t))
    at.hold(0.5)
    at.move(90.0, dps=30.0)
    at.hold(0.8)
    at.say("measured 88.0")
    peak = at.last(stream.Peak).arm
    assert peak > 95.5
    assert (at.last(stream.Verdict).stop_angle or 0.0) >= peak
    at.say("next")
    assert at.last(stream.Target).stop_angle >= peak


def test_a_press_after_a_hidden_peak_starts_from_what_was_measured(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(80.0)
    at.give(Lost(at.arm.t, "sensor", "frozen"))
    at.arm.at = 89.4
    at.give(Back(at.arm.t))
    at.hold(0.5)
    at.move(87.5, dps=30.0)
    at.hold(0.8)
    at.say("measured 86.5")
    # It is 3.5 degrees short, so the arm has at least as far to go past where it was.
    assert at.last(stream.Verdict).stop_angle >= 89.4 + 3.4
    at.say("next")
    assert at.last(stream.Target).stop_angle == at.last(stream.Verdict).stop_angle


def test_what_a_hidden_hit_showed_says_nothing_of_the_hit_after_it(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(80.0)
    at.give(Lost(at.arm.t, "sensor", "frozen"))
    at.arm.at = 89.4
    at.give(Back(at.arm.t))
    at.hold(0.5)
    at.move(87.5, dps=30.0)
    at.hold(0.8)
    at.say("measured 86.5")
    at.say("next")
    at.press(93.7, 91.0)
    assert at.last(stream.Verdict).say == "accept"


def test_a_tube_released_while_nobody_saw_it_waits_for_next_and_its_peak_is_not_known(
    bender: Make,
) -> None:
    at = bender(angles=(30.0,))
    at.zero()
    at.move(20.0)
    at.give(Lost(at.arm.t, "bus", "gone"))
    at.arm.at = 38.0
    at.give(Back(at.arm.t))
    at.hold(0.2)
    assert "say next" in at.last(stream.Target).advice
    assert at.last(stream.Reading).cue == "over"
    at.hold(3.0)
    assert at.last(stream.Reading).cue == "release"
    at.say("next")
    at.hold(0.6)
    assert (at.last(stream.Peak).sure, at.last(stream.Rest).arm) == (
        False,
        pytest.approx(38.0, abs=0.05),
    )
    verdict = at.last(stream.Verdict)
    assert verdict.say == "measure"
    assert "peak is not known" in verdict.advice
    assert at.rows[-1].faults == ("bus: gone", "a peak is not known: a fault hid the arm")


def test_a_tube_that_stands_past_its_stop_after_a_fault_is_taken_for_released_in_the_end(
    bender: Make,
) -> None:
    at = bender(angles=(30.0,))
    at.zero()
    at.move(20.0)
    at.give(Lost(at.arm.t, "bus", "gone"))
    at.arm.at = 38.0
    at.give(Back(at.arm.t))
    at.hold(12.0)
    assert at.last(stream.Verdict).say == "measure"
    # It was still under load after all: the same hit is told better.
    at.move(36.5, dps=20.0)
    at.hold(0.8)
    assert at.last(stream.Rest).arm == pytest.approx(36.5, abs=0.05)
    assert len(at.rows[-1].hits) == 1


def test_a_small_release_wholly_inside_a_long_fault_is_seen(bender: Make) -> None:
    at = bender(arm=Arm(sd=0.02))
    at.zero()
    at.move(20.0)
    at.hold(0.6)
    at.give(Lost(at.arm.t, "bus", "gone"))
    at.arm.t += 6.0
    at.arm.at = 19.5
    at.give(Back(at.arm.t))
    at.hold(1.0)
    assert at.last(stream.Peak).arm == pytest.approx(20.0, abs=0.05)
    assert at.last(stream.Rest).arm == pytest.approx(19.5, abs=0.05)


def test_an_arm_that_rises_by_a_springback_after_it_was_hidden_shows_no_new_peak(
    bender: Make,
) -> None:
    at = bender(angles=(60.0,))
    at.zero()
    at.move(20.0)
    at.give(Lost(at.arm.t, "bus", "gone"))
    at.arm.at = 38.0
    at.give(Back(at.arm.t))
    at.hold(0.2)
    at.press(39.5, 38.0)
    assert not at.last(stream.Peak).sure
    at.say("again")
    at.press(62.8, 61.0)
    assert at.last(stream.Peak).sure


def test_two_faults_of_different_kinds_are_both_cleared(bender: Make) -> None:
    at = bender()
    at.give(Lost(at.arm.t, "bus", "gone"), Lost(at.arm.t, "sensor", "reset"), Back(at.arm.t))
    assert [e.what for e in at.all(stream.Cleared)] == ["bus", "sensor"]


def test_a_store_that_fails_is_said_once_and_what_it_refused_is_sent_again(bender: Make) -> None:
    at = bender()
    at.store_works = False
    at.zero()
    at.press(92.0, 89.5)
    at.hold(5.0)
    faults = [f for f in at.all(stream.Fault) if f.what == "store"]
    assert len(faults) == 1
    assert not at.all(stream.Logged)
    at.store_works = True
    at.hold(2.5)
    cleared, logged = at.all(stream.Cleared)[-1], at.all(stream.Logged)
    assert cleared.what == "store"
    assert [each.id for each in logged] == [at.rows[0].bend_id]
    assert at.last(stream.Reading).phase == "logged"


def test_while_the_store_fails_no_reading_has_an_arm_a_cue_or_says_logged(bender: Make) -> None:
    at = bender()
    at.store_works = False
    at.zero()
    at.press(92.0, 89.5)
    at.say("next")
    said = len(at.events)
    at.press(93.7, 91.0)
    readings = [event for event in at.events[said:] if isinstance(event, stream.Reading)]
    assert {(each.arm, each.sd, each.to_go, each.cue) for each in readings} == {
        (None, None, None, "wait")
    }
    assert "logged" not in {each.phase for each in readings}
    assert at.last(stream.Peak).arm == pytest.approx(93.7, abs=0.2)


def test_of_a_refused_bend_the_newest_version_is_kept_once(bender: Make) -> None:
    at = bender()
    at.store_works = False
    at.zero()
    at.press(93.7, 91.0)
    at.say("measured 90.2")
    at.store_works = True
    at.say("measured 90.0")
    at.hold(5.0)
    assert [row.hits[-1].measured for row in at.rows][-1] == 90.0
    assert len(at.all(stream.Logged)) == 1


def test_a_bend_that_the_store_never_took_is_no_good_end(bender: Make) -> None:
    at = bender()
    at.store_works = False
    at.zero()
    at.press(93.7, 91.0)
    at.say("quit")
    assert at.session.finished
    assert at.session.state.unkept == 1
    assert not at.all(stream.Done)


def test_a_bend_that_the_store_takes_at_the_last_moment_is_logged_before_done(bender: Make) -> None:
    at = bender()
    at.store_works = False
    at.zero()
    at.press(93.7, 91.0)
    at.store_works = True
    at.say("quit")
    assert at.without_readings()[-3:] == ["Cleared", "Logged", "Done"]


def test_a_bent_tube_still_on_the_bender_after_undo_is_no_hit_in_progress(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(92.0, 89.5)
    at.say("undo")
    at.hold(1.0)
    assert at.last(stream.Reading).phase == "ready"
    rows = len(at.rows)
    at.say("quit")
    assert isinstance(at.events[-1], stream.Done)
    assert len(at.rows) == rows


def test_after_undo_a_new_tube_is_bent_from_where_the_arm_then_stands(bender: Make) -> None:
    at = bender()
    at.zero()
    at.press(92.0, 89.5)
    at.say("undo")
    at.move(0.0, dps=60.0)
    at.hold(1.0)
    at.move(20.0)
    assert at.last(stream.Reading).phase == "bending"


def test_when_nobody_asks_any_more_an_idle_session_ends(bender: Make) -> None:
    at = bender()
    at.zero()
    at.give(Closed(at.arm.t))
    assert isinstance(at.events[-1], stream.Done)


def test_when_nobody_asks_any_more_the_hit_in_progress_is_finished_first(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(80.0)
    at.give(Closed(at.arm.t))
    assert not at.session.finished
    at.press(93.7, 91.0)
    assert at.without_readings()[-4:] == ["Rest", "Verdict", "Logged", "Done"]


def test_a_hit_that_nobody_ends_is_logged_as_marked(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(80.0)
    at.give(Closed(at.arm.t))
    at.hold(25.0)
    assert at.session.finished
    assert "ended in mid-hit" in at.rows[-1].faults[-1]
    assert at.rows[-1].hits[-1].peak == pytest.approx(80.0, abs=0.1)


def test_a_hit_whose_sensor_never_comes_back_is_marked_when_nobody_asks_any_more(
    bender: Make,
) -> None:
    at = bender()
    at.zero()
    at.move(80.0)
    at.give(Lost(at.arm.t, "bus", "gone"))
    at.give(Closed(at.arm.t))
    assert not at.session.finished
    at.give(*(Tick(at.arm.t + 0.25 * count) for count in range(1, 25)))
    assert at.session.finished
    assert isinstance(at.events[-1], stream.Done)
    (row,) = at.rows
    assert row.faults == (
        "bus: gone",
        "the program was ended in mid-hit",
        "a peak is not known: a fault hid the arm",
    )


def test_a_sensor_that_comes_back_in_time_lets_the_hit_be_finished(bender: Make) -> None:
    at = bender()
    at.zero()
    at.move(80.0)
    at.give(Lost(at.arm.t, "bus", "gone"))
    at.give(Closed(at.arm.t))
    at.give(Tick(at.arm.t + 3.0), Back(at.arm.t + 3.5))
    at.arm.t += 3.5
    at.press(93.7, 91.0)
    assert at.without_readings()[-2:] == ["Logged", "Done"]
    assert "ended" not in " ".join(at.rows[-1].faults)


def test_a_refused_row_is_sent_again_while_the_arm_is_not_known(bender: Make) -> None:
    at = bender()
    at.store_works = False
    at.zero()
    at.press(93.7, 91.0)
    at.give(Lost(at.arm.t, "bus", "gone"))
    at.store_works = True
    at.give(Tick(at.arm.t + 5.0))
    assert at.all(stream.Logged)


def test_a_session_that_never_saw_an_arm_ends_with_no_done_and_says_why(bender: Make) -> None:
    at = bender()
    at.give(Closed(at.arm.t))
    assert not at.session.finished
    at.give(Lost(at.arm.t, "bus", "no answer: check the cable"))
    assert at.session.finished
    assert not at.all(stream.Done)
    assert at.session.state.failure == "no arm angle ever came: no answer: check the cable"


def test_a_session_that_lost_its_arm_in_the_end_has_worked(bender: Make) -> None:
    at = bender()
    at.zero()
    at.give(Lost(at.arm.t, "bus", "no answer: check the cable"))
    at.say("quit")
    assert isinstance(at.events[-1], stream.Done)
    assert at.session.state.failure == ""


@pytest.mark.parametrize("hits", [1, 2])
def test_a_trace_replays_to_the_same_peaks_and_rests(bender: Make, hits: int) -> None:
    at = bender()
    at.hold(3.0)
    at.zero()
    at.hold(40.0)
    if hits == 2:
        at.press(92.0, 89.5)
        at.hold(30.0)
        at.say("next")
    at.press(93.7, 91.0)
    again = replay(at.rows[-1])
    assert again.agrees
    assert len(again.peaks) == hits
    assert again.peaks[-1] == at.rows[-1].hits[-1].peak


def test_idle_time_is_not_kept_in_the_trace(bender: Make) -> None:
    at, busy = bender(), bender()
    for each, wait in ((at, 300.0), (busy, 0.0)):
        each.zero()
        each.hold(wait)
        each.press(93.7, 91.0)
    assert len(at.rows[-1].trace) < len(busy.rows[-1].trace) + 12_000


def _press(at: Any) -> Any:
    return Asked(at.arm.t, stream.Command("press"))


def test_presses_of_the_foot_go_to_who_asked_for_them_and_do_nothing_else(bender: Make) -> None:
    at = bender()
    at.do("zero", "press 93.7 91.0", "take_foot")
    at.foot()
    at.foot(long=True)
    assert at.all(stream.Foot) == [stream.Foot(press="short"), stream.Foot(press="long")]
    assert len(at.all(stream.Target)) == 1
    at.say("give_foot")
    at.foot()
    assert at.last(stream.Target).bend == 2


def test_without_being_asked_for_a_long_press_takes_back(bender: Make) -> None:
    at = bender()
    at.do("zero", "press 93.7 91.0")
    at.foot(long=True)
    assert at.last(stream.Target).undone
