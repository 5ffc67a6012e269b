import pytest

from benchmate.screen.client import Ended
from benchmate.screen.snapshot import after, leaving
from benchmate.screen.words import (
    CAUTIONS,
    CUE_SHAPES,
    CUE_WORDS,
    CUES,
    RESTART,
    TYPE_ANGLE,
    due,
    told,
)
from benchmate.stream import Cleared, Done, Fault


def test_enter_takes_zero_when_zero_is_due(fold, say):
    state = fold(say.target(), say.reading(0.0, phase="zeroing", cue="wait"))
    assert due(state)[:2] == ("zero", "Enter: take zero")


@pytest.mark.parametrize(
    ("verdict", "bend", "words"),
    [
        ("accept", 1, "Enter: next bend"),
        ("accept", 3, "Enter: finish the job"),
        ("again", 1, "Enter: press again"),
        ("over", 1, "Enter: keep as over-bent, next bend"),
    ],
)
def test_enter_does_what_the_verdict_says_and_says_so(fold, say, verdict, bend, words):
    state = fold(say.target(bend=bend), say.verdict(verdict, bend=bend))
    assert due(state)[:2] == ("next", words)


@pytest.mark.parametrize("bend", [1, 3])
def test_of_a_bend_to_be_measured_enter_asks_for_the_number(fold, say, bend):
    state = fold(say.target(bend=bend), say.verdict("measure", bend=bend))
    assert due(state)[:2] == (TYPE_ANGLE, "Enter: type the measured angle")


@pytest.mark.parametrize("phase", ["ready", "bending", "releasing", "resting"])
def test_enter_does_nothing_while_the_arm_has_the_word(fold, say, phase):
    assert due(fold(say.target(), say.reading(40.0, phase=phase))).command == ""


def test_at_the_stop_enter_tells_that_the_pressure_is_off(fold, say):
    at_stop = say.reading(93.4, phase="holding", cue="stop")
    assert due(fold(say.target(), at_stop)).command == "next"
    short = say.reading(60.0, phase="holding", cue="pump")
    assert due(fold(say.target(), short)).command == ""


def test_enter_starts_a_bench_that_is_gone(fold, say):
    state = after(fold(say.target()), Ended(1, "no bus", again=False), 0.0)
    assert due(state).command == RESTART
    assert told(state) == ("The bench program ended (exit 1). Stop pumping. It said: no bus")


def test_nothing_is_due_after_the_last_bend_or_while_leaving(fold, say):
    assert due(fold(say.target(), Done())).command == ""
    assert due(leaving(fold(say.target()))).command == ""


def test_a_fault_is_told_before_a_verdict_with_the_one_thing_to_do(fold, say):
    state = fold(say.target(), say.verdict(), Fault(what="bus", detail="no answer at 0x6a"))
    assert told(state) == "Angle lost. Stop pumping. Check the cable. No answer at 0x6a."


def test_of_two_faults_the_one_that_hides_the_angle_is_told(fold):
    state = fold(Fault(what="store", detail="disk full"), Fault(what="sensor", detail="frozen"))
    assert told(state).startswith("Angle lost.")


def test_in_tolerance_is_said_only_of_a_bend_that_is(fold, say):
    assert (
        told(fold(say.target(), say.verdict(bend_angle=89.8)))
        == "In tolerance: 89.8°, give or take 0.4."
    )
    outside = fold(say.target(), say.verdict(bend_angle=89.2))
    assert told(outside) == "To be accepted: 89.2°, give or take 0.4."


def test_the_verdict_is_told_with_its_angle_and_what_measuring_would_bring(fold, say):
    state = fold(say.target(), say.verdict("again", stop_angle=94.1, sd=0.3, worth=0.2))
    assert told(state) == (
        "Under-bent: 89.8°, give or take 0.6. Press again to 94.1°. "
        "Measuring it (m) would make that 0.2."
    )


def test_advice_is_told_before_pumping(fold, say):
    state = fold(
        say.target(advice="A new lot: expect a second hit."),
        say.reading(0.0, phase="ready"),
    )
    assert told(state) == "Zero taken. Pump. A new lot: expect a second hit."


def test_before_a_later_hit_nothing_is_said_of_zero(fold, say):
    state = fold(say.target(hit=2), say.reading(89.0, phase="ready"))
    assert told(state) == "Pump again."


def test_leaving_in_mid_hit_says_that_the_hit_is_finished_first(fold, say):
    assert "Finish the hit" in told(leaving(fold(say.target(), say.reading(40.0))))
    assert "Finish the hit" not in told(leaving(fold(say.target())))


def test_text_from_outside_can_steer_no_terminal(fold):
    state = fold(Fault(what="sensor", detail="bad \x1b[2J\u202e name"))
    assert told(state).endswith("Bad \\x1b[2J\\u202e name.")


def test_every_cue_has_a_word_and_a_shape_of_its_own():
    assert len({CUE_WORDS[cue] for cue in CUES}) == len({CUE_SHAPES[cue] for cue in CUES}) == 6


def test_the_cautions_claim_nothing_that_advice_cannot_hold():
    text = " ".join(CAUTIONS).lower()
    assert "advises" in text
    assert not {"safe", "guard", "protected", "interlock", "emergency"} & set(text.split())


def bench_that_bites(fold, say, phase, cue, **more):
    return fold(say.target(), say.reading(40.0, phase=phase, cue=cue, **more), bites=True)


@pytest.mark.parametrize("phase", ["bending", "holding"])
def test_on_a_bender_that_bites_the_key_for_the_rams_end_is_told_while_pumping(fold, say, phase):
    assert told(bench_that_bites(fold, say, phase, "pump")) == "Ram at its end? Press b."
    assert "Press b" not in told(bench_that_bites(fold, say, phase, "stop"))
    other = fold(say.target(), say.reading(40.0, phase=phase))
    assert "Press b" not in told(other)


def test_between_two_bites_the_pin_and_what_comes_then_are_told(fold, say):
    latched = bench_that_bites(fold, say, "holding", "wait")
    assert told(latched) == (
        "Move the pin; the tube stays loaded. Press b when the arm bears again."
    )
    assert due(latched)[:2] == ("", "b when the arm bears again")
    lost = bench_that_bites(fold, say, "holding", "wait", t=13.0)
    assert not after(lost, say.reading(None, t=14.0, phase="holding"), 0.0).latched


def test_what_was_taken_down_is_said_before_the_verdict_that_it_brought(fold, say):
    taken = say.verdict(bend_angle=89.8, taken="mark taken as 12-3/4 in (was 12 in)")
    assert told(fold(say.target(), say.verdict(), taken)) == (
        "Mark taken as 12-3/4 in (was 12 in). In tolerance: 89.8°, give or take 0.4."
    )


def test_what_was_taken_back_is_said_until_the_next_press(fold, say):
    undone = say.target(undone="Taken back: zero; bend 1 is to be zeroed.")
    state = fold(say.target(), undone, say.reading(0.0, t=1.0, phase="zeroing"))
    state = after(state, say.reading(0.0, t=2.0, phase="ready"), 0.0)
    assert told(state).startswith("Taken back: zero; bend 1 is to be zeroed. Zero taken.")
    assert "Taken back" not in told(after(state, say.reading(3.0, t=3.0), 0.0))


def test_what_the_bench_refuses_is_said_with_the_screens_keys(fold, say):
    refused = Fault(what="command", detail="'next' does what a verdict says; say 'measured 120'")
    state = fold(say.target(), say.reading(0.0, phase="zeroing"), refused)
    assert told(state).startswith("Enter does what a verdict says; say m 120")


def test_an_arm_that_was_not_seen_in_a_hit_leaves_enter_to_say_that_it_is_released(fold, say):
    lost = Fault(what="bus", detail="gone")
    hit = [say.target(), say.reading(40.0, t=1.0), lost, say.reading(None, t=2.0)]
    assert due(fold(*hit)).command == ""
    back = [*hit, Cleared(what="bus"), say.target(), say.reading(41.0, t=3.0)]
    assert due(fold(*back))[:2] == ("next", "Enter: pressure is off")
    assert "press Enter; else pump on" in told(fold(*back))
    assert due(fold(*back[:-2], say.target(hit=2), say.reading(41.0, t=3.0))).command == ""


def test_what_wants_looking_after_is_told_beside_an_angle_that_holds(fold, say):
    state = fold(say.target(), say.reading(40.0, advice="The supply sags: check its cable."))
    assert told(state) == "The tube is under load. The supply sags: check its cable."
    assert state.live(100.0)
