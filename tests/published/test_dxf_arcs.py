"""Bends read out of a DXF against the arcs that ezdxf's own geometry constructs.

Source: ezdxf, ezdxf.math.ConstructionArc (start and end point, angle span and tangents of an arc),
an independent construction of the same arcs.
"""

import math
from pathlib import Path

import ezdxf
import pytest
from ezdxf.math import ConstructionArc, Vec2
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from benchmate.layout.centreline import from_points
from benchmate.shop.drawing_files import read_points
from benchmate.shop.nodes import UnreadableError

angles = st.floats(1.0, 359.0)
lengths = st.floats(5.0, 2000.0)


def drawn(path: Path, arc: ConstructionArc, before: float, after: float, *, back: bool) -> None:
    """Draw a straight, the arc and a straight tangent to it, the one or the other way round."""
    one, two = arc.tangents([arc.start_angle, arc.end_angle])
    leaves, arrives = Vec2(one).normalize(), Vec2(two).normalize()
    drawing = ezdxf.new()
    drawing.header["$INSUNITS"] = 4
    space = drawing.modelspace()
    ends = [
        (arc.start_point - leaves * before, arc.start_point),
        (arc.end_point, arc.end_point + arrives * after),
    ]
    for start, end in ends:
        space.add_line(*((end, start) if back else (start, end)))
    arc.add_to_layout(space)
    drawing.saveas(path)


@settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(st.floats(0, 359), angles, st.tuples(st.floats(20, 400), lengths, lengths), st.booleans())
def test_an_arc_under_180_is_a_bend_of_its_own_angle_and_radius(
    tmp_path: Path,
    begin: float,
    span: float,
    sizes: tuple[float, float, float],
    back: bool,
) -> None:
    radius, before, after = sizes
    assume(abs(span - 180) > 0.1)
    arc = ConstructionArc((30, -20), radius, begin, begin + span)
    path = tmp_path / "part.dxf"
    drawn(path, arc, before, after, back=back)
    if span > 180:
        with pytest.raises(UnreadableError) as refused:
            read_points(path)
        assert f"the arc of {span:.0f} deg from (" in refused.value.says
        return
    part = from_points(read_points(path), radius)
    assert part.angles_deg[0] == pytest.approx(arc.angle_span, abs=1e-5)
    straights = sorted(part.straights_mm)
    assert straights == pytest.approx(
        sorted((before, after)), abs=1e-4 * radius / math.cos(math.radians(span) / 2)
    )
    assert part.arcs_mm[0] == pytest.approx(math.radians(arc.angle_span) * radius, rel=1e-6)
