import pytest

from benchmate.screen.client import Ended
from benchmate.screen.snapshot import after, leaving
from benchmate.screen.words import CAUTIONS, CUE_SHAPES, CUE_WORDS, CUES, RESTART, due, told
from benchmate.stream import Done, Fault


def test_enter_takes_zero_when_zero_is_due(fold, say):
    state = fold(say.target(), say.reading(0.0, phase="zeroing", cue="wait"))
    assert due(state) == ("zero", "Enter: take zero")


@pytest.mark.parametrize(
    ("verdict", "bend", "words"),
    [
        ("accept", 1, "Enter: next bend"),
        ("accept", 3, "Enter: finish the job"),
        ("again", 1, "Enter: press again"),
        ("over", 1, "Enter: keep as over-bent, next bend"),
        ("measure", 1, "Enter: next bend unmeasured"),
    ],
)
def test_enter_does_what_the_verdict_says_and_says_so(fold, say, verdict, bend, words):
    state = fold(say.target(bend=bend), say.verdict(verdict, bend=bend))
    assert due(state) == ("next", words)


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
    assert told(state) == "Angle lost. Stop pumping. Check the cable. no answer at 0x6a"


def test_of_two_faults_the_one_that_hides_the_angle_is_told(fold):
    state = fold(Fault(what="store", detail="disk full"), Fault(what="sensor", detail="frozen"))
    assert told(state).startswith("Angle lost.")


def test_in_tolerance_is_said_only_of_a_bend_that_is(fold, say):
    assert told(fold(say.target(), say.verdict(bend_angle=89.8))) == "In tolerance: 89.8° ±0.2."
    outside = fold(say.target(), say.verdict(bend_angle=89.2))
    assert told(outside) == "To be accepted: 89.2° ±0.2."


def test_the_verdict_is_told_with_its_angle_and_what_measuring_would_bring(fold, say):
    state = fold(say.target(), say.verdict("again", stop_angle=94.1, sd=0.3, worth=0.2))
    assert told(state) == (
        "Under-bent: 89.8° ±0.3. Press again to 94.1°. Measuring it (m) would narrow that to ±0.1."
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
    assert told(state).endswith("bad \\x1b[2J\\u202e name")


def test_every_cue_has_a_word_and_a_shape_of_its_own():
    assert len({CUE_WORDS[cue] for cue in CUES}) == len({CUE_SHAPES[cue] for cue in CUES}) == 6


def test_the_cautions_claim_nothing_that_advice_cannot_hold():
    text = " ".join(CAUTIONS).lower()
    assert "advises" in text
    assert not {"safe", "guard", "protected", "interlock", "emergency"} & set(text.split())
