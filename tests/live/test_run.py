"""A run that was stopped goes on as if it had not been: the same fold over the same journal."""

import math
from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmate import stream
from benchmate.bench.session import Run, folded, journal
from benchmate.errors import Refusal
from benchmate.reports.run_states import bend_states

from .conftest import Arm, Known, make_bender

Make = Callable[..., Any]
ANGLES = (90.0, 45.0, 60.0)
PART = (
    "zero",
    "press 92.0 89.5",
    "measured 88.4",
    "next",
    "press 93.9 91.4",
    "measured 90.6",
    "undo",
    "turned 1.5",
    "marked 301.5",
    "next",
    "zero",
    "press 40.0 38.0",
    "undo",
    "press 47.2 45.9",
    "taped 1 3 590",
    "next",
    "zero",
    "press 60.0 58.2",
    "again",
    "press 62.8 61.0",
    "next",
)


def steady(bender: Make, **asked: Any) -> Any:
    return bender(angles=ANGLES, part=True, within=0.25, arm=Arm(sd=0.0), **asked)


def said(at: Any, since: int = 0) -> list[tuple[Any, ...]]:
    """Give what a person goes by: marks, turns, angles and verdicts, in order."""
    told: list[tuple[Any, ...]] = []
    for event in at.events[since:]:
        match event:
            case stream.Target():
                place = (event.mark, event.turn, event.bend_angle, event.stop_angle, event.sd)
                told.append(("target", event.bend, event.hit, *place))
            case stream.Verdict():
                told.append(("verdict", event.bend, event.say, event.bend_angle, event.sd))
            case _:
                pass
    return told


def alike(some: list[tuple[Any, ...]], others: list[tuple[Any, ...]]) -> bool:
    return len(some) == len(others) and all(
        len(one) == len(other)
        and all(
            a == b if isinstance(a, str) else a == pytest.approx(b, abs=1e-6)
            for a, b in zip(one, other, strict=True)
        )
        for one, other in zip(some, others, strict=True)
    )


def gone_on(bender: Make, stopped: Any) -> Any:
    """Start again after a stop, with the sensor's own scale elsewhere, and take up as told."""
    at = steady(bender, after=stopped, run=1)
    assert [type(event) for event in at.events] == [stream.Unfinished]
    at.snug = 123.0
    last = stopped.session.state.run.bend.hits
    at.arm.at = 123.0 + (last[-1].rest if last else 0.0)
    at.say("go_on")
    if stopped.session.state.run.zeroed:
        at.zero()
    return at


@pytest.mark.parametrize("done", range(2, len(PART)))
def test_stopped_after_any_step_the_rest_is_as_if_it_had_not_been(bender: Make, done: int) -> None:
    unbroken = steady(bender)
    unbroken.do(*PART[:done])
    before = len(unbroken.events)
    unbroken.do(*PART[done:])
    stopped = steady(bender)
    stopped.do(*PART[:done])
    at = gone_on(bender, stopped)
    begun, rows = len(at.events), len(at.rows)
    at.do(*PART[done:])
    assert alike(said(at, begun), said(unbroken, before))
    newest = {row.bend_id: row for row in (*stopped.rows, *at.rows[rows:])}
    kept = {row.bend_id: row for row in unbroken.rows}
    assert newest.keys() == kept.keys()
    for bend_id, row in newest.items():
        assert (row.verdict, row.withdrawn) == (kept[bend_id].verdict, kept[bend_id].withdrawn)
        assert [hit.stop_angle for hit in row.hits] == pytest.approx(
            [hit.stop_angle for hit in kept[bend_id].hits], abs=1e-6
        )
    assert stream.Done() in at.events


def test_the_first_thing_said_is_which_bend_was_at_hand_and_where_its_tube_stood(
    bender: Make,
) -> None:
    stopped = bender()
    stopped.do("zero", "press 92.0 89.5")
    at = bender(after=stopped)
    (event,) = at.events
    assert (event.bend, event.hits, event.in_hit) == (1, 1, False)
    assert event.arm == pytest.approx(89.5, abs=0.05)


def test_nothing_else_is_said_until_the_question_is_answered(bender: Make) -> None:
    stopped = bender()
    stopped.do("zero", "press 92.0 89.5")
    at = bender(after=stopped)
    at.hold(1.0)
    at.say("zero")
    assert at.without_readings() == ["Unfinished", "Fault"]
    assert {(e.phase, e.cue, e.to_go) for e in at.all(stream.Reading)} == {
        ("zeroing", "wait", None)
    }


def test_a_bent_tube_is_zeroed_on_its_rest(bender: Make) -> None:
    stopped = bender(arm=Arm(sd=0.0))
    stopped.do("zero", "press 92.0 89.5")
    at = bender(after=stopped, arm=Arm(sd=0.0))
    at.arm.at = -40.0
    at.say("go_on")
    assert at.last(stream.Target).zero_at == pytest.approx(89.5)
    assert at.last(stream.Verdict).say == "again"
    assert at.last(stream.Logged).id == stopped.rows[-1].bend_id
    at.foot()
    at.hold(0.8)
    assert at.last(stream.Reading).arm == pytest.approx(89.5)
    assert at.last(stream.Reading).phase == "logged"
    at.say("next")
    assert (at.last(stream.Target).hit, at.last(stream.Target).zero_at) == (2, None)
    at.press(93.7 - 129.5, 91.0 - 129.5)
    assert at.last(stream.Verdict).say == "accept"
    assert [len(row.hits) for row in at.rows] == [2]


def test_no_press_again_before_the_bent_tube_is_zeroed(bender: Make) -> None:
    stopped = bender()
    stopped.do("zero", "press 92.0 89.5")
    at = bender(after=stopped)
    at.say("go_on")
    at.say("next")
    assert at.events[-1].what == "command"
    assert at.last(stream.Target).hit == 1


def test_an_accepted_bend_is_gone_on_from_without_a_zero_of_its_own(bender: Make) -> None:
    stopped = bender()
    stopped.do("zero", "press 93.7 91.0")
    at = bender(after=stopped)
    at.say("go_on")
    at.foot()
    assert at.last(stream.Target).bend == 2


def test_of_a_hit_that_nobody_saw_the_end_of_the_tube_is_to_be_measured(bender: Make) -> None:
    stopped = bender()
    stopped.do("zero", "half 60.0")
    at = bender(after=stopped)
    assert (at.events[0].in_hit, at.events[0].arm) == (True, None)
    at.say("go_on")
    verdict = at.last(stream.Verdict)
    assert verdict.say == "measure"
    assert "measure" in verdict.advice
    at.say("zero")
    assert at.events[-1].what == "command"
    at.say("measured 50.0")
    assert at.last(stream.Verdict).say == "again"
    assert at.last(stream.Target).zero_at == pytest.approx(51.0)
    at.arm.at = 7.0
    at.zero()
    at.say("next")
    target = at.last(stream.Target)
    assert (target.hit, target.stop_angle) == (2, pytest.approx(93.7, abs=2.0))
    assert at.rows[-1].faults


def test_a_retracting_arm_is_snug_where_the_bend_and_the_slack_end(bender: Make) -> None:
    stopped = bender(follows_tube=False)
    stopped.do("zero", "press 92.0 0.0", "measured 88.0")
    at = bender(after=stopped, follows_tube=False)
    at.say("go_on")
    assert at.last(stream.Target).zero_at == pytest.approx(89.0)


def test_another_part_can_be_begun_in_its_place_and_the_old_one_is_not_asked_for_again(
    bender: Make,
) -> None:
    stopped = bender()
    stopped.do("zero", "press 92.0 89.5")
    at = bender(after=stopped)
    at.say("new")
    assert (at.last(stream.Target).bend, at.last(stream.Target).hit) == (1, 1)
    assert at.entries == [journal.Dropped()]
    assert at.journal[0].run_id == stopped.runs[0].run_id
    assert at.journal[0].number == len(stopped.journal) + 1
    at.do("zero")
    assert at.runs[-1].run_id != stopped.runs[0].run_id


def test_a_bend_whose_row_was_not_kept_before_the_stop_is_logged_when_it_is_gone_on_with(
    bender: Make,
) -> None:
    stopped = bender()
    stopped.do("zero", "press 93.7 91.0")
    lost = stopped.rows.pop()
    at = bender(after=stopped)
    at.say("go_on")
    assert [(row.bend_id, row.hits) for row in at.rows] == [(lost.bend_id, lost.hits)]


def test_undo_goes_back_past_the_stop(bender: Make) -> None:
    stopped = bender()
    stopped.do("zero", "press 92.0 89.5", "next")
    at = bender(after=stopped)
    at.do("go_on", "undo")
    assert (at.last(stream.Target).hit, at.last(stream.Verdict).say) == (1, "again")
    at.do("undo")
    assert at.rows[-1].withdrawn
    assert at.last(stream.Target).zero_at is None
    at.do("zero")
    assert at.last(stream.Reading).phase == "ready"


def test_a_finished_run_ends_its_journal(bender: Make) -> None:
    at = bender(angles=(90.0,))
    at.do("zero", "press 93.7 91.0", "next")
    assert at.entries[-1] == journal.Finished()


def test_an_entry_that_the_store_refused_waits_for_its_turn(bender: Make) -> None:
    at = bender()
    at.zero()
    at.store_works = False
    at.press(92.0, 89.5)
    at.say("measured 88.4")
    at.store_works = True
    at.hold(5.0)
    assert [entry.number for entry in at.journal] == list(range(1, len(at.journal) + 1))
    assert [type(entry) for entry in at.entries][-2:] == [journal.HitMade, journal.AngleMeasured]
    assert len(at.all(stream.Logged)) == 1


def test_what_a_later_program_wrote_is_refused_in_words() -> None:
    with pytest.raises(Refusal, match="kind 'glued'"):
        journal.read("glued", {})


DEEDS = st.sampled_from(
    (
        *("zero", "press 92.0 89.5", "press 93.7 91.0", "press 47.3 46.0", "half 20.0"),
        *("measured 89.0", "measured 45.2", "next", "again", "skip", "undo", "undo"),
        *("turned 2", "marked 300", "taped 1 3 590"),
    )
)


def outline(run: Run) -> list[Any]:
    """Give all of a run that a journal can bring back, the steps before it too."""
    told: list[Any] = []
    what = ""
    while True:
        told.append((what, run.bend, run.done, run.plan, run.model, run.in_hit, run.over))
        if run.step is None:
            return told
        what, run, _ = run.step


@settings(max_examples=60, deadline=None)
@given(deeds=st.lists(DEEDS, max_size=14))
def test_whatever_is_done_and_taken_back_the_journal_tells_the_run(deeds: list[str]) -> None:
    at = make_bender(angles=ANGLES, part=True, within=math.inf, arm=Arm(sd=0.0))
    for deed in deeds:
        if at.session.finished:
            break
        at.do(deed)
    run = at.session.state.run
    assert outline(folded(run.task, Known(), at.entries)) == outline(run)
    assert bend_states(1, len(ANGLES), [each.kind for each in at.journal]) == states(run)


def states(run: Run) -> tuple[str, ...]:
    """Give how far each bend of a run came."""
    told = ["done" if bend.hits else "skipped" for _, bend in run.done]
    if not run.over:
        told.append("open" if run.bend.hits or run.in_hit else "to do")
    return (*told, *["to do"] * (len(ANGLES) - len(told)))


@pytest.mark.parametrize("done", range(len(PART) + 1))
def test_the_log_tells_how_far_each_bend_came_after_any_step(bender: Make, done: int) -> None:
    at = steady(bender)
    at.do(*PART[:done])
    kinds = [each.kind for each in at.journal]
    assert bend_states(1, len(ANGLES), kinds) == states(at.session.state.run)
