"""Ten of a part: after the last bend the next tube follows, in the same sitting."""

import uuid
from collections.abc import Callable
from dataclasses import replace
from typing import Any

from benchmate import stream
from benchmate.bench.inputs import Asked, Closed, Durable, Lost
from benchmate.bench.session import Run, Session, Task, begun
from benchmate.store.record import RunInput

from .conftest import DIE, TUBE, Arm, Bender, Known

FIRST = Task(
    run_id=str(uuid.UUID(int=1)),
    job="trellis",
    die=DIE,
    tube=TUBE,
    lot="A",
    tolerance_deg=0.5,
    bend_angles=(90.0,),
    tubes=3,
)
GOOD = ("zero", "press 93.7 91.0", "next")


def bench(another: Callable[[], Run | None]) -> Any:
    return Bender(Session(begun(FIRST, Known()), None, another), Arm())


def second(**more: Any) -> Run:
    task = replace(FIRST, run_id=str(uuid.UUID(int=2)), tube_number=2, **more)
    return begun(task, Known(slack=2.0))


def said_while_answered(at: Any, rows: list[Any], failure: str) -> list[type]:
    """Answer for each row, and for each that is sent again; name the events told until the end."""
    waiting = [row for row in rows if isinstance(row, RunInput)]
    said = []
    while waiting and not at.session.finished:
        waiting.pop(0)
        for each in at.session.step(Durable(at.arm.t, failure)):
            if isinstance(each, RunInput):
                waiting.append(each)
            else:
                said.append(type(each))
    assert at.session.finished
    return said


def test_after_the_last_bend_comes_the_next_tube_as_learned_and_not_the_end() -> None:
    at = bench(second)
    at.do(*GOOD)
    target = at.last(stream.Target)
    assert (target.tube, target.tubes, target.bend, target.hit) == (2, 3, 1, 1)
    assert target.stop_angle == 90.0 * 1.03 + 2.0
    assert not at.all(stream.Done)
    assert not at.session.finished
    assert at.events[-1].phase == "zeroing"


def test_the_next_tube_is_a_run_of_its_own_begun_with_its_first_entry() -> None:
    at = bench(second)
    at.do(*GOOD)
    assert [run.run_id for run in at.runs] == [FIRST.run_id]
    at.do("zero", "press 94.7 92.0")
    assert [run.run_id for run in at.runs] == [FIRST.run_id, str(uuid.UUID(int=2))]
    assert [entry.number for entry in at.journal if entry.run_id == at.runs[1].run_id] == [1, 2, 3]
    assert len({row.bend_id for row in at.rows}) == 2


def test_with_no_tube_left_it_is_done() -> None:
    at = bench(lambda: None)
    at.do(*GOOD)
    assert at.all(stream.Done)
    assert at.session.finished


def test_whoever_leaves_at_the_last_bend_begins_no_other_tube() -> None:
    at = bench(second)
    at.do("zero", "press 93.7 91.0")
    waiting = at.session.step(Asked(at.arm.t, stream.Command("next")))
    at.session.step(Closed(at.arm.t))
    assert said_while_answered(at, waiting, "") == [stream.Done]


def test_a_tube_that_the_store_could_not_keep_is_followed_by_no_other() -> None:
    at = bench(second)
    at.do("zero", "press 93.7 91.0")
    waiting = at.session.step(Asked(at.arm.t, stream.Command("next")))
    assert stream.Target not in said_while_answered(at, waiting, "disk full")
    assert at.session.finished


def test_what_is_marked_otherwise_than_on_the_last_tube_is_told_until_something_is_bent() -> None:
    change = "bend 1: mark 301 mm, was 300 mm: 1 mm further from the first end"
    at = bench(lambda: second(since_last_tube=(change,)))
    at.do(*GOOD)
    assert at.last(stream.Target).changed == (change,)
    at.do("zero", "press 92.0 89.5", "next")
    assert at.last(stream.Target).changed == ()


def test_a_tube_that_is_scrap_is_left_and_the_next_one_begun() -> None:
    at = bench(lambda: replace(second(scrapped=1), task=replace(second().task, scrapped=1)))
    at.do("zero", "press 92.0 89.5", "scrap")
    assert [entry.kind for entry in at.journal][-1] == "dropped"
    assert at.last(stream.Target).scrapped == 1
    assert at.last(stream.Target).hit == 1


def test_a_tube_with_nothing_bent_is_no_scrap() -> None:
    at = bench(second)
    at.do("zero", "scrap")
    assert at.last(stream.Fault).what == "command"
    assert "nothing is bent" in at.last(stream.Fault).detail
    assert len(at.all(stream.Target)) == 1


def test_no_tube_is_scrapped_under_load() -> None:
    at = bench(second)
    at.do("zero", "half 50", "scrap")
    assert "between hits" in at.last(stream.Fault).detail


def test_a_fault_that_stands_between_two_tubes_stands_on_the_next() -> None:
    at = bench(second)
    at.do("zero", "press 93.7 91.0")
    at.give(Lost(at.arm.t, "bus", "no answer"))
    at.say("next")
    assert at.last(stream.Target).tube == 2
    at.hold(0.2)
    assert at.last(stream.Reading).arm is None
    assert at.session.state.faults.blind
