import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmate.screen.client import Ended, Started
from benchmate.screen.state.bench_state import (
    COARSE_STEP_DEG,
    CURVE_POINTS,
    FINE_STEP_DEG,
    ArmCurve,
    BenchState,
    Shown,
    after,
    curve_after,
    entered_angle,
    leaving,
    shown_after,
)
from benchmate.stream import Cleared, Done, Fault, Peak, Rest, Unfinished


def test_before_anything_is_said_there_is_no_angle_and_the_cue_is_wait():
    state = BenchState()
    assert not state.live(0.0)
    assert state.cue(0.0) == "wait"
    assert state.to_go() is None


def test_the_three_numbers_add_up_as_shown(fold, say):
    for arm in (0.0, 12.34, 88.88, 91.96, 93.39, 94.05):
        state = fold(say.target(stop_angle=93.4), say.reading(arm))
        assert state.shown is not None
        assert round(state.shown.arm + (state.to_go() or 0.0), 1) == 93.4


def test_a_reading_is_live_for_three_tenths_of_a_second_and_no_longer(fold, say):
    state = fold(say.target(), say.reading(40.0), now=100.0)
    assert state.live(100.29)
    assert state.cue(100.29) == "pump"
    assert not state.live(100.31)
    assert state.cue(100.31) == "wait"


def test_repeating_a_reading_does_not_make_it_younger(fold, say):
    state = fold(say.target(), say.reading(40.0, t=5.0), now=100.0)
    state = after(state, say.reading(40.0, t=5.0), 100.25)
    assert not state.live(100.4)
    assert after(state, say.reading(40.0, t=5.1), 100.4).live(100.4)


def test_a_reading_without_an_arm_is_a_loss_at_once(fold, say):
    state = fold(say.target(), say.reading(40.0, t=1.0), say.reading(None, t=1.1))
    assert not state.live(100.0)
    assert state.cue(100.0) == "wait"


def test_a_fault_takes_the_angle_away_until_readings_come_again(fold, say):
    lost = Fault(what="bus", detail="no answer at 0x6a")
    state = fold(say.target(), say.reading(40.0, t=1.0), lost)
    assert not state.live(100.0)
    assert state.faults == (lost,)
    state = after(state, Cleared(what="bus"), 100.0)
    assert state.faults == ()
    assert after(state, say.reading(41.0, t=2.0), 100.1).live(100.1)


def test_faults_of_two_kinds_stand_side_by_side_and_clear_by_kind(fold):
    state = fold(Fault(what="bus", detail="a"), Fault(what="store", detail="b"))
    assert [fault.what for fault in state.faults] == ["bus", "store"]
    assert [fault.what for fault in after(state, Cleared(what="bus"), 0.0).faults] == ["store"]


def test_a_refused_command_is_a_notice_and_no_fault(fold, say):
    state = fold(say.target(), say.reading(40.0), Fault(what="command", detail="not now"))
    assert state.notice == "not now"
    assert state.faults == ()
    assert state.live(100.0)


def test_a_notice_goes_with_the_phase_that_it_was_given_in(fold, say):
    state = fold(say.target(), say.reading(40.0, t=1.0), Fault(what="command", detail="not now"))
    assert after(state, say.reading(41.0, t=2.0), 100.0).notice == "not now"
    assert after(state, say.reading(41.0, t=2.0, phase="holding"), 100.0).notice == ""


def test_hits_gather_until_the_next_bend(fold, say):
    state = fold(
        say.target(),
        Peak(arm=92.0),
        Rest(arm=89.0, springback=3.0),
        say.verdict("again", stop_angle=93.0),
        say.target(hit=2, stop_angle=93.0),
        Peak(arm=93.1),
    )
    assert [(hit.peak, hit.rest) for hit in state.hits] == [(92.0, 89.0), (93.1, None)]
    assert state.verdict is None
    assert after(state, say.target(bend=2), 0.0).hits == ()


def test_a_release_that_turned_out_to_be_none_makes_no_second_hit(fold, say):
    state = fold(
        say.target(), Peak(arm=60.0), Peak(arm=92.0), Rest(arm=89.0, springback=3.0), say.verdict()
    )
    assert [(hit.peak, hit.rest) for hit in state.hits] == [(92.0, 89.0)]


def test_a_hit_that_was_taken_back_is_gone(fold, say):
    state = fold(say.target(), Peak(arm=92.0), say.target(hit=2), Peak(arm=93.0), say.target(hit=2))
    assert [hit.peak for hit in state.hits] == [92.0]


def test_a_bend_is_remembered_with_its_verdict_and_its_id(fold, say):
    state = fold(say.target(sd=0.9), say.verdict(bend_angle=90.2), say.logged(), say.target(bend=2))
    first, second = state.bends
    assert first.good
    assert (first.id, first.stop_sd) == ("id-1", 0.9)
    assert second.verdict is None


def test_the_first_stop_angle_of_a_bend_gives_its_sd(fold, say):
    state = fold(say.target(sd=0.9), say.verdict("again"), say.target(hit=2, sd=0.2))
    assert state.bends[0].stop_sd == 0.9


@pytest.mark.parametrize(
    ("verdict", "angle", "good"),
    [("accept", 89.2, True), ("again", 89.9, False), ("over", 90.1, False), ("measure", 90, False)],
)
def test_what_is_good_is_what_the_verdict_says_whatever_the_angle(fold, say, verdict, angle, good):
    state = fold(say.target(), say.verdict(verdict, bend_angle=angle))
    assert state.bends[0].good is good


def test_an_arm_pumped_before_zero_is_seen_and_one_brought_back_is_not(fold, say):
    def zeroing(*angles):
        readings = [
            say.reading(arm, t=float(at), phase="zeroing", cue="wait")
            for at, arm in enumerate(angles)
        ]
        return fold(say.target(), *readings).unzeroed_deg

    assert zeroing(95.0, 60.0, 2.0, 4.0) == 0.0
    assert zeroing(95.0, 2.0, 51.5) == pytest.approx(49.5)
    assert fold(say.target(), say.reading(80.0, t=1.0, phase="bending")).unzeroed_deg == 0.0


def test_a_measured_angle_that_the_bench_doubts_is_kept_until_it_is_settled(fold, say):
    refused = Fault(what="command", detail="the tube can't be bent to 8.6 degrees")
    asked = entered_angle(fold(say.target(), say.verdict("measure")), 8.6)
    state = after(asked, refused, 0.0)
    assert state.doubtful == 8.6
    other = Fault(what="command", detail="'bite' is for benders that take bites")
    assert after(asked, other, 0.0).doubtful is None
    assert after(state, say.verdict("accept"), 0.0).doubtful is None


def test_a_run_left_unfinished_stands_until_there_is_a_target(fold, say):
    left = Unfinished(run="r", bend=2, hits=1, arm=86.0, hours=0.4, job_changed=False)
    assert fold(left).unfinished == left
    assert fold(left, say.target(bend=2, hit=2)).unfinished is None


def test_undoing_a_logged_bend_puts_it_back_to_unbent(fold, say):
    state = fold(say.target(), say.verdict(), say.logged(), say.target(bend=2), say.target(bend=1))
    assert state.seen(1).verdict is None
    assert state.target.bend == 1


def test_a_measurement_gives_a_new_verdict_on_the_same_bend(fold, say):
    state = fold(say.target(), say.verdict(bend_angle=89.8), say.verdict(bend_angle=90.4))
    assert state.seen(1).verdict.bend_angle == 90.4


def test_a_bench_that_ended_shows_no_angle_and_one_that_came_back_starts_blank(fold, say):
    state = fold(say.target(), say.verdict(), say.logged(), say.target(bend=2), say.reading(40.0))
    ended = after(state, Ended(status=1, complaint="no bus", again=True), 100.0)
    assert not ended.live(100.0)
    assert ended.link == "again"
    back = after(ended, Started(again=True), 101.0)
    assert (back.link, back.target, back.reading) == ("up", None, None)
    assert back.seen(1).id == "id-1"
    assert "started again" in after(back, say.target(bend=2), 101.0).news


def test_a_bench_that_has_to_start_again_goes_on_at_the_bend_in_work(fold, say):
    state = fold(say.target(bend=2), say.verdict("again", bend=2), say.logged(2))
    assert state.resume_at == 2
    ended = after(state, Ended(status=1, complaint="", again=True), 0.0)
    assert after(after(ended, Started(again=True), 0.0), ended.ended, 0.0).resume_at == 2


def test_a_bend_that_is_finished_and_logged_is_not_begun_again(fold, say):
    done = [say.target(bend=2), say.verdict("accept", bend=2), say.logged(2)]
    assert fold(*done).resume_at == 3
    assert fold(*done, say.target(bend=2)).resume_at == 2
    assert fold(say.target(bend=3), say.verdict(bend=3), say.logged(3)).resume_at == 3


def test_leaving_stays_leaving_whatever_the_bench_does(fold, say):
    state = leaving(fold(say.target(), say.reading(40.0)))
    assert state.live(100.0)
    assert after(state, Ended(status=0, complaint="", again=False), 0.0).link == "leaving"


def test_done_is_remembered(fold):
    assert fold(Done()).done


def test_far_off_the_digits_move_in_half_degrees_and_near_in_tenths():
    assert shown_after(None, 43.21, 50.2) == Shown(43.0, COARSE_STEP_DEG)
    assert shown_after(None, 91.23, 2.1) == Shown(91.2, FINE_STEP_DEG)
    assert shown_after(None, 94.04, -0.6) == Shown(94.0, FINE_STEP_DEG)


def test_an_angle_that_trembles_between_two_numbers_shows_one_of_them():
    shown = shown_after(None, 91.25, 2.0)
    for arm in (91.24, 91.26, 91.19, 91.2, 91.25):
        assert shown_after(shown, arm, 2.0) == shown


def test_fine_steps_once_begun_outlast_a_small_step_back():
    fine = shown_after(None, 90.4, 2.9)
    assert shown_after(fine, 90.1, 3.3).step == FINE_STEP_DEG
    assert shown_after(fine, 88.0, 5.3).step == COARSE_STEP_DEG


@given(st.lists(st.floats(-5, 190), min_size=1, max_size=40), st.floats(0, 190))
def test_the_shown_angle_is_never_further_off_than_the_steps_allow(arms, stop):
    shown = None
    for arm in arms:
        shown = shown_after(shown, arm, stop - arm)
        assert abs(shown.arm - arm) <= 0.65 * shown.step + 1e-9


@settings(deadline=None)
@given(st.integers(1, 3000))
def test_the_curve_stays_bounded_and_in_order_and_keeps_its_end(count):
    curve = ArmCurve()
    for at in range(count):
        curve = curve_after(curve, at * 0.05, float(at))
    times = [t for t, _ in curve.points]
    assert len(times) <= CURVE_POINTS
    assert times == sorted(times)
    assert curve.at_s - times[-1] <= curve.step_s + 0.05


def test_the_curve_is_of_the_bend_and_not_of_the_waiting(fold, say):
    waiting = [say.reading(0.0, t=at * 0.1, phase="ready") for at in range(5)]
    bending = [say.reading(at * 1.0, t=1 + at * 0.1) for at in range(5)]
    after_it = [say.verdict(), say.reading(4.0, t=9.0, phase="resting")]
    state = fold(say.target(), *waiting, *bending, *after_it)
    assert [arm for _, arm in state.curve.points] == [0.0, 1.0, 2.0, 3.0, 4.0]


def test_a_second_hit_goes_on_with_the_trace(fold, say):
    state = fold(
        say.target(), say.reading(90.0, t=1.0), say.target(hit=2), say.reading(92.0, t=200.0)
    )
    assert [arm for _, arm in state.curve.points] == [90.0, 92.0]
    assert state.curve.points[-1][0] < 1.0
