import pytest

from benchmate.screen.client import Ended
from benchmate.screen.state.bench_state import after, asked_zero, leaving
from benchmate.screen.words.cues import CAUTIONS
from benchmate.screen.words.sentences import HIDDEN, LATCHED, MEASURE, RESTART, due, told
from benchmate.stream import Cleared, Done, Fault, Unfinished


def test_enter_sets_zero_when_zero_is_due(fold, say):
    state = fold(say.target(), say.reading(0.0, phase="zeroing", cue="wait"))
    assert due(state) == ("zero", "set zero")


@pytest.mark.parametrize(
    ("verdict", "bend", "words"),
    [
        ("accept", 1, "next bend"),
        ("accept", 3, "finish the job"),
        ("again", 1, "press again"),
        ("over", 1, "keep it over-bent, next bend"),
    ],
)
def test_enter_does_what_the_verdict_says_and_says_so(fold, say, verdict, bend, words):
    state = fold(say.target(bend=bend), say.verdict(verdict, bend=bend))
    assert due(state) == ("next", words)


@pytest.mark.parametrize("bend", [1, 3])
def test_of_a_bend_to_be_measured_enter_asks_for_the_number(fold, say, bend):
    state = fold(say.target(bend=bend), say.verdict("measure", bend=bend))
    assert due(state) == (MEASURE, "enter measured angle")


@pytest.mark.parametrize("phase", ["ready", "bending", "releasing", "resting"])
def test_where_enter_does_nothing_there_is_a_sentence_that_says_so(fold, say, phase):
    what = due(fold(say.target(), say.reading(40.0, phase=phase)))
    assert what.command == ""
    assert what.words.startswith("Nothing to press")


def test_while_bench_and_sensor_start_enter_says_that_it_is_too_early(fold, say):
    assert due(fold()) == ("", "Not yet: the bench is starting.")
    assert due(fold(say.target())) == ("", "Not yet: the sensor is starting.")


def test_at_the_stop_enter_tells_that_the_pressure_is_off(fold, say):
    at_stop = say.reading(93.4, phase="holding", cue="release")
    assert due(fold(say.target(), at_stop)).command == "next"
    between_holes = say.reading(60.0, phase="holding", cue="wait")
    assert due(fold(say.target(), between_holes)).command == ""


def test_enter_starts_a_bench_that_is_gone(fold, say):
    state = after(fold(say.target()), Ended(1, "no bus", again=False), 0.0)
    assert due(state).command == RESTART
    assert told(state) == "The bench program ended: stop pumping. It said: no bus"


def test_a_bench_that_never_came_up_says_why_in_full(fold):
    why = "the store is in use by another watch (process 4711): end that one first"
    state = after(fold(), Ended(1, why, again=False), 0.0)
    assert told(state) == f"The bench could not start. It said: {why}"


def test_nothing_is_due_after_the_last_bend_or_while_leaving(fold, say):
    assert due(fold(say.target(), Done())).command == ""
    assert due(leaving(fold(say.target()))).command == ""


def test_a_fault_is_told_before_a_verdict_with_the_one_thing_to_do(fold, say):
    state = fold(say.target(), say.verdict(), Fault(what="bus", detail="no answer at 0x6a"))
    assert told(state) == ("The angle is lost. Stop pumping. Check the cable. No answer at 0x6a.")


def test_of_two_faults_the_one_that_hides_the_angle_is_told(fold):
    state = fold(Fault(what="store", detail="disk full"), Fault(what="sensor", detail="frozen"))
    assert told(state).startswith("The angle is lost.")


def test_a_bend_to_be_pressed_again_says_by_how_much_it_is_short_and_how_to_keep_it(fold, say):
    state = fold(say.target(), say.verdict("again", stop_angle=94.1, sd=0.3, worth=0.2))
    assert told(state) == (
        "Bent to 89.8°, give or take 0.6. 0.2 short of 90.0. Press again to 94.1°, or keep it as "
        "it is (s). Measuring it (m) would make that 0.2."
    )


def test_no_verdict_says_of_itself_whether_the_bend_is_in_tolerance(fold, say):
    for verdict in ("accept", "again", "over", "measure"):
        said = told(fold(say.target(), say.verdict(verdict, bend_angle=89.8)))
        assert "tolerance" not in said
        assert "Under-bent" not in said


def test_advice_is_told_before_pumping(fold, say):
    state = fold(
        say.target(advice="A new lot: expect a second hit."),
        say.reading(0.0, phase="ready"),
    )
    assert told(state) == "Zero is set. Pump. A new lot: expect a second hit."


def test_before_a_later_hit_the_new_stop_is_said_and_nothing_of_zero(fold, say):
    state = fold(say.target(hit=2, stop_angle=94.2), say.reading(89.0, phase="ready"))
    assert told(state) == "Pump again, to 94.2°."


def test_pumping_without_zero_is_told_with_what_to_do(fold, say):
    readings = [say.reading(arm, t=float(arm), phase="zeroing", cue="wait") for arm in (0.0, 209.0)]
    said = told(fold(say.target(), *readings))
    assert said.startswith("The arm was pumped 209° and zero is not set: nothing is measured.")
    assert "Release" in said


def test_once_zero_is_asked_for_it_says_to_keep_still(fold, say):
    state = asked_zero(fold(say.target(), say.reading(0.0, t=1.0, phase="zeroing", cue="wait")))
    assert told(state) == "Zero is being set: keep the arm still."
    ready = after(state, say.reading(0.0, t=2.0, phase="ready"), 0.0)
    assert not ready.zero_asked


@pytest.mark.parametrize(
    ("cue", "words"),
    [
        ("stop", "Stop pumping and let the arm stand still."),
        ("release", "Let the pressure off slowly."),
        ("slow", "Short of the stop: one short stroke more."),
    ],
)
def test_at_the_stop_one_thing_is_asked_for(fold, say, cue, words):
    assert told(fold(say.target(), say.reading(93.0, phase="holding", cue=cue))) == words


def unfinished(**changes):
    return Unfinished(
        **{"run": "r", "bend": 2, "hits": 1, "arm": 86.0, "hours": 0.4, "job_changed": False}
        | changes
    )


def test_a_run_left_unfinished_is_one_question_with_one_enter(fold):
    state = fold(unfinished())
    assert due(state) == ("go_on", "go on")
    assert told(state) == (
        "Bend 2, hit 1 done, the tube stood at 86.0°. Go on with it (Enter), or begin a new part "
        "(n)?"
    )


def test_an_old_run_or_a_changed_job_is_said(fold):
    said = told(fold(unfinished(hours=50.0, job_changed=True, hits=0, arm=None)))
    assert said.startswith(
        "Bend 2 not begun. That was 2 days ago. The job's file has changed since."
    )


def test_leaving_in_mid_hit_says_that_the_hit_is_finished_first(fold, say):
    assert "Finish the hit" in told(leaving(fold(say.target(), say.reading(40.0), rehearsal=False)))
    assert "Finish the hit" not in told(leaving(fold(say.target())))


def test_text_from_outside_can_steer_no_terminal(fold):
    state = fold(Fault(what="sensor", detail="bad \x1b[2J\u202e name"))
    assert told(state).endswith("Bad \\x1b[2J\\u202e name.")


def test_the_cautions_claim_nothing_that_advice_cannot_hold():
    text = " ".join(CAUTIONS).lower()
    assert "advises" in text
    assert not {"safe", "guard", "protected", "interlock", "emergency"} & set(text.split())


def bench_that_bites(fold, say, phase, cue, **more):
    return fold(say.target(), say.reading(40.0, phase=phase, cue=cue, **more), bites=True)


@pytest.mark.parametrize("phase", ["bending", "holding"])
def test_on_a_bender_that_bites_the_key_for_the_rams_end_is_told_while_pumping(fold, say, phase):
    assert told(bench_that_bites(fold, say, phase, "pump")) == "If the ram is at its end press b."
    assert "press b" not in told(bench_that_bites(fold, say, phase, "stop"))
    other = fold(say.target(), say.reading(40.0, phase=phase))
    assert "press b" not in told(other)


def test_between_two_bites_the_pin_and_what_comes_then_are_told(fold, say):
    latched = bench_that_bites(fold, say, "holding", "wait")
    assert told(latched) == LATCHED
    assert due(latched).command == ""
    lost = bench_that_bites(fold, say, "holding", "wait", t=13.0)
    assert not after(lost, say.reading(None, t=14.0, phase="holding"), 0.0).latched


def test_what_was_entered_is_said_before_the_verdict_that_it_brought(fold, say):
    target, entered = say.target(mark=304.8), say.verdict(bend_angle=89.8, taken="marked 323.85")
    assert told(fold(target, say.verdict(), entered, unit="frac")) == (
        "Mark taken as 12-3/4 in (was 12 in). Bent to 89.8°, give or take 0.4."
    )


def test_what_was_taken_back_is_said_until_the_next_press(fold, say):
    undone = say.target(undone="Taken back: zero; bend 1 is to be zeroed.")
    state = fold(say.target(), undone, say.reading(0.0, t=1.0, phase="zeroing"))
    state = after(state, say.reading(0.0, t=2.0, phase="ready"), 0.0)
    assert told(state).startswith("Taken back: zero; bend 1 is to be zeroed. Zero is set.")
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
    assert due(fold(*back)) == ("next", "the pressure is off")
    assert told(fold(*back)) == HIDDEN
    assert due(fold(*back[:-2], say.target(hit=2), say.reading(41.0, t=3.0))).command == ""


def test_what_wants_looking_after_is_told_beside_an_angle_that_holds(fold, say):
    state = fold(say.target(), say.reading(40.0, advice="The supply sags: check its cable."))
    assert told(state) == "The supply sags: check its cable."
    assert state.live(100.0)


def test_a_buzzer_that_cannot_be_had_is_told_and_takes_no_angle_away(fold, say):
    state = fold(
        say.target(),
        Fault(what="signals", detail="no buzzer on GPIO18"),
        say.reading(0.0, phase="ready"),
    )
    assert told(state) == "Zero is set. Pump. No buzzer on GPIO18."
    assert state.live(100.0)
