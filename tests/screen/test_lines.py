from benchmate.screen.lines import Teller, summary
from benchmate.stream import Aligned, Cleared, Done, Fault, Peak, Rest


def test_a_bend_is_told_line_by_line_and_readings_only_when_there_is_something_else_to_do(say):
    teller = Teller()
    events = [
        say.target(advice="New lot."),
        say.reading(0.0, t=1.0, phase="ready"),
        say.reading(10.0, t=2.0),
        say.reading(11.0, t=2.1),
        say.reading(91.0, t=3.0, cue="slow"),
        say.reading(93.4, t=4.0, cue="stop"),
        Peak(arm=93.5),
        Rest(arm=91.2, springback=2.3),
        say.verdict("again", stop_angle=94.1),
        say.logged(),
        Done(),
    ]
    assert [line for event in events if (line := teller.tell(event)) is not None] == [
        "bend 1 of 3, hit 1: 90.0 degrees, stop at 93.4 (sd 0.62)\n  New lot.",
        "  ready: arm 0.0, 93.4 to go: PUMP",
        "  bending: arm 91.0, 2.4 to go: SLOW",
        "  bending: arm 93.4, 0.0 to go: STOP",
        "  peak 93.5",
        "  rest 91.2, springback 2.3",
        "  press again to 94.1: bend angle 89.8 (sd 0.20)",
        "  bend 1 logged",
        "done",
    ]


def test_strokes_are_no_news(say):
    teller = Teller()
    assert teller.tell(say.reading(10.0, phase="bending")) is not None
    for at in range(40):
        phase = "holding" if at % 2 else "bending"
        assert teller.tell(say.reading(11.0 + at, phase=phase)) is None


def test_what_peak_rest_and_logged_have_told_is_not_told_again(say):
    teller = Teller()
    for phase in ("releasing", "resting", "logged"):
        assert teller.tell(say.reading(91.0, phase=phase, cue="wait")) is None
    assert teller.tell(say.reading(None, phase="resting")) == "  resting: no angle; wait"


def test_before_zero_the_text_says_what_to_do(say):
    told = Teller().tell(say.reading(17.0, phase="zeroing", cue="wait"))
    assert told == "  zeroing: Clamp the tube snug, no load, arm still; then take zero."


def test_a_new_bend_is_told_with_mark_turn_and_what_planning_anew_changed(say):
    target = say.target(mark=254.0, turn=90.0, changed=("bend 2: turn 89.0 becomes 90.0 deg",))
    assert Teller("frac").tell(target) == (
        "bend 1 of 3, hit 1: 90.0 degrees, stop at 93.4 (sd 0.62)\n"
        "  mark 10 in, turn 90.0 degrees\n"
        "  planned anew: bend 2: turn 89.0 becomes 90.0 deg"
    )
    again = say.target(hit=2, mark=254.0, turn=90.0)
    assert Teller().tell(again) == "bend 1 of 3, hit 2: 90.0 degrees, stop at 93.4 (sd 0.62)"


def test_faults_are_told_and_readings_without_an_angle_say_so(say):
    teller = Teller()
    assert teller.tell(Fault(what="bus", detail="no answer\x1b")) == (
        "  fault (bus): no answer\\x1b"
    )
    assert teller.tell(say.reading(None)) == "  bending: no angle; wait"
    assert teller.tell(Cleared(what="bus")) == "  bus fault over"


def test_an_alignment_is_told_with_residual_and_leverage():
    assert Teller().tell(Aligned(residual_deg=0.04, leverage=0.98)) == (
        "aligned: residual 0.04 degrees, leverage 0.98"
    )


def test_the_summary_counts_bends_hits_and_rows_and_gives_the_ids(fold, say):
    state = fold(
        say.target(sd=0.91),
        say.verdict(hits=2),
        say.logged(1),
        say.target(bend=2, sd=0.4, bend_angle=45.0),
        say.verdict(bend=2, bend_angle=45.9),
        say.target(bend=3, sd=0.3),
    )
    assert summary(state).splitlines() == [
        "bend   want   bent  hits  in tolerance  stop sd",
        "   1   90.0   89.8     2  yes              0.91",
        "   2   45.0   45.9     1  no               0.40",
        "   3   90.0   not bent",
        "1 of 2 bends in tolerance, 3 hits.",
        "The stop angle's standard deviation went from 0.91 to 0.40 degrees.",
        "1 bends logged. 1 not in the log.",
        "  bend 1: id-1",
    ]


def test_the_summary_of_nothing_says_so(fold):
    assert summary(fold()).splitlines()[-1] == "No bend was made."


def test_advice_that_stands_in_the_readings_is_told_once_and_again_when_it_comes_back(say):
    teller = Teller()
    seen = [say.reading(2.0, t=1.0, advice=said) for said in ("Mind it.", "Mind it.", "", "Mind it.")]
    told = [teller.tell(each) or "" for each in seen]
    assert ["Mind it." in line for line in told] == [True, False, False, True]
