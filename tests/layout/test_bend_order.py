"""Other ends and other orders: what clears along the tube clears step by step, and the words."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmate.layout.bend_order import (
    MOST_BENDS,
    BendOrder,
    order_that_clears,
    other_orders,
    step_clears,
)
from benchmate.layout.centreline import Centreline
from benchmate.layout.clash import clashes, turned_round
from benchmate.layout.clash_warnings import clash_warnings
from benchmate.layout.tube_layout import TubeLayout
from benchmate.shop.keep_out import Box, KeepOut, Plane

OD, R = 30.0, 100.0
FLOOR = Plane(name="floor", through_mm=(0, 0, -400), facing=(0, 0, 1))


def part(straights: tuple, turns: tuple, angles: tuple) -> TubeLayout:
    return TubeLayout.of(Centreline(straights, turns, angles, R))


def wall(y_mm: float) -> KeepOut:
    return KeepOut(planes=(Plane(name="wall", through_mm=(0, y_mm, 0), facing=(0, -1, 0)),))


some_bends = st.lists(
    st.tuples(st.floats(50, 250), st.floats(-180, 180), st.floats(20, 110)), min_size=2, max_size=4
)
corners = st.tuples(*[st.floats(-500, 500)] * 3)


@settings(max_examples=60)
@given(some_bends, corners, st.booleans(), st.booleans())
def test_along_the_tube_the_steps_say_what_the_sweep_says(
    bends: list[tuple[float, float, float]],
    corner: tuple[float, float, float],
    first: bool,
    floor: bool,
) -> None:
    straights, turns, angles = zip(*bends, strict=True)
    layout = part((*straights, 200), turns, angles)
    keep_out = KeepOut(
        boxes=(Box(name="post", low_mm=corner, high_mm=tuple(c + 150 for c in corner)),),
        planes=(FLOOR,) if floor else (),
        swings="first end" if first else "last end",
    )
    met = {clash.bend for clash in clashes(layout, OD, keep_out) if clash.what != "the tube itself"}
    for bend in range(len(angles)):
        clear = step_clears(layout, frozenset(range(bend)), bend, (OD, keep_out))
        if clear:
            assert bend + 1 not in met
        elif bend + 1 not in met:
            # Then it is the tube itself, of which the steps take a little more.
            assert not step_clears(layout, frozenset(range(bend)), bend, (OD, KeepOut()))


def test_a_hook_that_comes_round_onto_the_tube_does_not_clear() -> None:
    hook = part((400, 30, 30, 900), (0, 0, 0), (90, 90, 120))
    assert not step_clears(hook, frozenset({0, 1}), 2, (OD, KeepOut()))
    assert step_clears(hook, frozenset(), 2, (OD, KeepOut()))


def test_bends_made_beyond_count_where_they_stand() -> None:
    """A far leg that is bent up stands 300 above; a roof at 250 lets it be bent only afterwards."""
    layout = part((300, 300, 300), (0, 90), (30, 90))
    roof = Plane(name="roof", through_mm=(0, 0, 250), facing=(0, 0, -1))
    floor = Plane(name="floor", through_mm=(0, 0, -250), facing=(0, 0, 1))
    around = (OD, KeepOut(planes=(roof, floor)))
    assert step_clears(layout, frozenset(), 0, around)
    assert not step_clears(layout, frozenset({1}), 0, around)


def test_the_other_end_is_proposed_where_it_clears() -> None:
    """A long first leg swings into a wall; the short last leg, put in first, does not."""
    layout = part((900, 250, 150), (0, 0), (90, 45))
    assert {clash.bend for clash in clashes(layout, OD, wall(700))} == {1, 2}
    assert next(other_orders(layout, OD, wall(700))) == BendOrder(other_end=True, order=(2, 1))
    said = clash_warnings(layout, OD, wall(700))[-1]
    assert said == (
        "it clears bent from the other end, its last bend first: plan JOB --other-end shows those"
        " marks, and other_end: yes in the job's file makes them the job's"
    )


def staircase() -> tuple[TubeLayout, KeepOut]:
    """Give a part and a bench round which neither end nor sense along the tube clears."""
    rng = np.random.default_rng(4)
    for _ in range(400):
        count = int(rng.integers(3, 5))
        layout = part(
            (*rng.uniform(80, 500, count), 300),
            tuple(rng.uniform(-180, 180, count)),
            tuple(rng.uniform(20, 110, count)),
        )
        low = rng.uniform(-500, 500, 3)
        post = Box(name="post", low_mm=tuple(low), high_mm=tuple(low + 120))
        keep_out = KeepOut(boxes=(post,), planes=(FLOOR,))
        ways = list(other_orders(layout, OD, keep_out))
        if clashes(layout, OD, keep_out) and len(ways) == 1:
            straight = tuple(range(1, count + 1))
            if ways[0].order not in (straight, straight[::-1]):
                return layout, keep_out
    raise AssertionError("no such part was drawn")


def test_where_neither_end_clears_along_the_tube_another_order_is_found() -> None:
    layout, keep_out = staircase()
    (way,) = other_orders(layout, OD, keep_out)
    laid = turned_round(layout) if way.other_end else layout
    count = len(way.order)
    made: set[int] = set()
    for number in way.order:
        bend = count - number if way.other_end else number - 1
        assert step_clears(laid, frozenset(made), bend, (OD, keep_out))
        made.add(bend)
    assert len(made) == count
    order = ", ".join(map(str, way.order))
    assert (
        f"the bends made in the order {order}: marks as planned"
        in (clash_warnings(layout, OD, keep_out)[-1])
    )


def test_where_nothing_clears_it_says_what_was_tried() -> None:
    def said(bends: int) -> str:
        layout = part((400,) * bends + (400,), (0,) * bends, (40,) * bends)
        return clash_warnings(layout, OD, wall(60))[-1]

    assert said(3) == "no other end or order clears it"
    assert said(MOST_BENDS + 1).endswith("other orders were not tried")


def test_one_bend_has_no_order() -> None:
    assert order_that_clears(part((300, 300), (0,), (90,)), OD, KeepOut()) is None


@pytest.mark.parametrize("bends", [2, MOST_BENDS])
def test_an_open_floor_takes_the_order_along_the_tube(bends: int) -> None:
    layout = part((150,) * bends + (150,), (0,) * bends, (20,) * bends)
    assert order_that_clears(layout, OD, KeepOut()) == tuple(range(1, bends + 1))
