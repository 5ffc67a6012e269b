"""One verdict everywhere: what the bench says of a bend is what stream, row and log say."""

from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmate import stream
from benchmate.bench.session import bend as bends
from benchmate.bench.session import events
from benchmate.bench.session.bend import OpenBend
from benchmate.bench.session.journal import HitMade
from benchmate.bench.session.task import Task
from benchmate.springback.limits import limits, verdict_of

from .conftest import DIE, TUBE, Known

TASK = Task(
    run_id="00000000-0000-0000-0000-000000000001",
    job="trellis",
    die=DIE,
    tube=TUBE,
    lot="",
    tolerance_deg=0.75,
    bend_angles=(40.0,),
)


def measured(drawn: float, wanted: float, tolerance: float, angle: float) -> OpenBend:
    """Give a bend whose peak a fault hid, so that its measured angle alone decides."""
    model = Known()
    begun = OpenBend(
        index=0,
        bend_id="b",
        angle=wanted,
        drawn=drawn,
        tolerance=tolerance,
        target=model.aim(wanted, tolerance),
    )
    hit = bends.hit(begun, HitMade(peak=wanted + 3.0, rest=wanted + 1.0, sure=False), model)
    return bends.measured(hit, angle, model)


def said_everywhere(bend: OpenBend) -> set[str]:
    event = events.verdict(bend)
    row = bends.row(bend, TASK)
    read = stream.read_event(stream.write_event(event))
    assert isinstance(read, stream.Verdict)
    return {event.say, read.say, row.verdict}


def test_a_bend_moved_by_re_planning_is_judged_by_the_drawing_s_angle_in_all_of_them() -> None:
    bend = measured(40.0, 40.375, 0.75, 40.9)
    assert said_everywhere(bend) == {"over"}
    row = bends.row(bend, TASK)
    assert (row.drawn_angle, row.bend_angle, row.tolerance) == (40.0, 40.375, 0.75)
    assert row.came_to == pytest.approx(40.9)


@settings(max_examples=200, deadline=None)
@given(
    drawn=st.floats(10.0, 150.0),
    moved=st.floats(-1.0, 1.0),
    tolerance=st.floats(0.2, 2.0),
    at=st.sampled_from((-1.0, 1.0)),
    beside=st.sampled_from((-0.05, -1e-4, 1e-4, 0.05)),
)
def test_at_each_side_of_each_limit_bench_stream_and_log_agree(
    drawn: float, moved: float, tolerance: float, at: float, beside: float
) -> None:
    wanted = drawn + moved
    within = limits(drawn, wanted, tolerance)
    edge = within.highest if at > 0 else within.lowest
    angle = edge + at * beside
    right: Any = "accept" if beside < 0 else ("over" if at > 0 else "again")
    assert verdict_of(angle, within) == right
    assert said_everywhere(measured(drawn, wanted, tolerance, angle)) == {right}
