import pytest

from benchmate.screen.text.stream_lines import Teller, caution_rows, summary
from benchmate.stream import Aligned, Cleared, Done, Fault, Peak, Rest


def without_cautions(told):
    rows = caution_rows()
    lines = told.splitlines()
    assert lines[: len(rows)] == rows
    return "\n".join(lines[len(rows) :])


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
    told = [line for event in events if (line := teller.tell(event)) is not None]
    assert without_cautions(told[0]) == (
        "bend 1 of 3, hit 1: 90.0 degrees, stop at 93.4, give or take 1.2\n  New lot."
    )
    assert told[1:] == [
        "  ready: arm 0.0, 93.4 to go: PUMP",
        "  bending: arm 91.0, 2.4 to go: SLOW",
        "  bending: arm 93.4, 0.0 to go: STOP",
        "  peak 93.5",
        "  rest 91.2, springback 2.3",
        "  press again to 94.1: bend angle 89.8, give or take 0.4",
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
    assert (
        told
        == "  zeroing: Clamp the tube snug, without load, and keep the arm still; then set zero."
    )


def test_a_new_bend_is_told_with_mark_turn_and_what_planning_anew_changed(say):
    target = say.target(mark=254.0, turn=90.0, changed=("bend 2: turn 89.0 becomes 90.0 deg",))
    teller = Teller("frac")
    assert without_cautions(teller.tell(target)) == (
        "bend 1 of 3, hit 1: 90.0 degrees, stop at 93.4, give or take 1.2\n"
        "  mark 10 in, turn 90.0° clockwise seen from the last end\n"
        "  worked out again: bend 2: turn 89.0 becomes 90.0 deg"
    )
    again = say.target(hit=2, mark=254.0, turn=90.0)
    assert teller.tell(again) == (
        "bend 1 of 3, hit 2: 90.0 degrees, stop at 93.4, give or take 1.2"
    )


def test_the_cautions_come_once_before_the_first_bend(say):
    teller = Teller()
    assert teller.tell(say.reading(17.0, phase="zeroing")).startswith("  zeroing")
    first = teller.tell(say.target())
    assert first.startswith("benchmate advises. It does not stop, hold or release the press")
    assert max(map(len, first.splitlines())) < 80
    assert teller.tell(say.target(bend=2)).startswith("bend 2 of 3")


def test_no_number_is_minus_nought(say):
    teller = Teller()
    ready = teller.tell(say.reading(-0.02, to_go=-0.04, phase="ready", cue="stop"))
    assert ready == "  ready: arm 0.0, 0.0 to go: STOP"
    assert teller.tell(Rest(arm=-0.01, springback=-0.04)) == "  rest 0.0, springback 0.0"
    assert "no turn" in Teller().tell(say.target(mark=254.0, turn=-0.04))


def test_a_bend_angle_that_planning_anew_moved_is_told_beside_the_drawings(say):
    moved = Teller().tell(say.target(bend_angle=81.4, drawn_angle=81.2))
    assert "hit 1: 81.4 degrees (drawn 81.2), stop at" in moved
    assert "drawn" not in Teller().tell(say.target(bend_angle=81.2, drawn_angle=81.2))


def test_what_was_measured_or_taken_back_has_a_line_of_its_own(say):
    teller = Teller()
    measured = teller.tell(say.verdict(bend_angle=89.5, taken="measured: 89.5 degrees"))
    assert measured.splitlines()[0] == "  measured: 89.5 degrees"
    undone = without_cautions(teller.tell(say.target(undone="Taken back: hit 1.")))
    assert undone.splitlines()[0] == "  Taken back: hit 1."


def test_a_peak_that_a_fault_may_have_hidden_is_told_as_that():
    assert Teller().tell(Peak(arm=60.0, sure=False)) == "  peak 60.0 or more: a fault hid the arm"


def test_faults_are_told_and_readings_without_an_angle_say_so(say):
    teller = Teller()
    assert teller.tell(Fault(what="bus", detail="no answer\x1b")) == (
        "  fault (bus): no answer\\x1b"
    )
    assert teller.tell(say.reading(None)) == "  bending: no angle; wait"
    assert teller.tell(Cleared(what="bus")) == "  bus fault over"


def test_an_alignment_is_told_with_residual_and_leverage():
    assert Teller().tell(Aligned(residual_deg=0.04, leverage=0.98)) == (
        "aligned: the swing fits to 0.04 degrees, 98 % of gravity turns with the arm"
    )


def test_an_alignment_is_told_with_what_it_is_good_for_and_what_to_do():
    aligned = Aligned(
        residual_deg=0.04, leverage=0.98, sd=0.1, arc_deg=120.0, warnings=("Turn it \x1b[31m.",)
    )
    told = Teller().tell(aligned)
    assert told is not None
    first, second = told.splitlines()
    assert first == (
        "aligned: good to 0.20 degrees over 120 degrees of bending, the swing fits to 0.04 "
        "degrees, 98 % of gravity turns with the arm"
    )
    assert second.startswith("  Turn it ")
    assert "\x1b" not in second


def test_the_summary_counts_bends_hits_and_rows(fold, say):
    state = fold(
        say.target(sd=0.91),
        say.verdict(hits=2),
        say.logged(1),
        say.target(bend=2, sd=0.4, bend_angle=45.0),
        say.verdict("over", bend=2, bend_angle=45.9),
        say.target(bend=3, sd=0.3),
    )
    assert summary(state).splitlines() == [
        "bend   want   bent  hits  came out      first stop ±",
        "   1   90.0   89.8     2  good                   1.8",
        "   2   45.0   45.9     1  over-bent              0.8",
        "   3   90.0   not bent",
        "1 of 2 bends in tolerance, 3 hits.",
        "The first stop was good to ±1.8 degrees at the start, ±0.8 at the end (19 times in 20).",
        "1 bend logged. 1 bend not in the log.",
    ]


def test_the_summary_names_what_was_not_measured_and_what_a_fault_has_touched(fold, say):
    state = fold(
        say.target(),
        say.reading(40.0),
        Fault(what="bus", detail="gone"),
        say.verdict("measure", bend_angle=90.1),
    )
    rows = summary(state).splitlines()
    assert rows[1] == "   1   90.0   90.1     1  not measured           1.2   bus fault"
    assert rows[2] == "0 of 1 bend in tolerance, 1 hit."
    assert rows[3].startswith("A fault hid the arm in bend 1")


@pytest.mark.parametrize("phase", ["zeroing", "ready", "resting"])
def test_a_fault_between_hits_spoils_no_bend(fold, say, phase):
    lost = Fault(what="bus", detail="gone")
    state = fold(say.target(), say.reading(0.0, phase=phase), lost, say.verdict())
    assert "fault" not in summary(state)


def test_the_summary_of_nothing_says_so(fold):
    assert summary(fold()).splitlines()[-1] == "No bend was made."


def test_advice_that_stands_in_the_readings_is_told_once_and_again_when_it_comes_back(say):
    teller = Teller()
    seen = [
        say.reading(2.0, t=1.0, advice=said) for said in ("Mind it.", "Mind it.", "", "Mind it.")
    ]
    told = [teller.tell(each) or "" for each in seen]
    assert ["Mind it." in line for line in told] == [True, False, False, True]
