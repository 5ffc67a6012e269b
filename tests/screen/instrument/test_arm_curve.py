from hypothesis import given
from hypothesis import strategies as st

from benchmate.screen.instrument.arm_curve import BLOCK, DASH, plot
from benchmate.screen.state.bench_state import ArmCurve, curve_after


def traced(angles, step=0.1):
    trace = ArmCurve()
    for at, angle in enumerate(angles):
        trace = curve_after(trace, at * step, angle)
    return trace


def test_a_straight_rise_goes_from_corner_to_corner_under_the_stop_line():
    rows = plot(traced(range(0, 101, 5), step=0.5), 10, 6, stop_angle=80.0, top=100.0)
    assert rows == [
        "         █",
        "───────██─",
        "     ██   ",
        "   ██     ",
        " ██       ",
        "█         ",
    ]


def test_without_a_trace_only_the_stop_line_is_there():
    rows = plot(ArmCurve(), 8, 4, stop_angle=90.0, top=90.0)
    assert rows == [DASH * 8, " " * 8, " " * 8, " " * 8]


def test_a_box_without_cells_gives_no_rows():
    assert plot(ArmCurve(), 0, 5, 90.0, 95.0) == []


@given(st.lists(st.floats(-10, 220), max_size=120), st.integers(1, 60), st.integers(1, 20))
def test_any_trace_fills_its_box_exactly_and_without_holes(angles, width, height):
    rows = plot(traced(angles), width, height, stop_angle=90.0, top=95.0)
    assert len(rows) == height
    assert {len(row) for row in rows} == {width}
    filled = [any(row[column] == BLOCK for row in rows) for column in range(width)]
    assert filled == sorted(filled, reverse=True)
