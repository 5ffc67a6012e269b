"""The part drawn: every view is the part itself, seen squarely."""

import itertools

import numpy as np
import pytest

from benchmate.layout.centreline import Centreline, frames
from benchmate.layout.projection import Projection, polyline, three_views, turned_view

FRAME = Centreline((300, 200, 300), (0, 0), (90, 90), 75)
IN_SPACE = Centreline((300, 200, 150, 250), (0, 75, -110), (90, 45, 60), 75)


def size(drawing: Projection) -> tuple[float, float]:
    left, bottom, right, top = drawing.box()
    return right - left, top - bottom


def test_a_part_in_one_plane_shows_all_of_itself_in_front_and_a_line_from_above() -> None:
    front, top, right = three_views(FRAME)
    assert sorted(size(front)) == pytest.approx([350, 375], abs=1)
    assert min(size(top)) == pytest.approx(0, abs=1e-6)
    assert min(size(right)) == pytest.approx(0, abs=1e-6)


def test_front_and_top_share_their_width_and_front_and_right_their_height() -> None:
    front, top, right = three_views(IN_SPACE)
    assert size(front)[0] == pytest.approx(size(top)[0])
    assert size(front)[1] == pytest.approx(size(right)[1])
    assert size(top)[1] == pytest.approx(size(right)[0])


def test_the_three_views_put_together_are_the_part_and_not_its_mirror_image() -> None:
    front, top, _ = three_views(IN_SPACE)
    together = np.column_stack([front.lines[0], -top.lines[0][:, 1]])
    there = polyline(IN_SPACE)
    pick = [0, len(there) // 3, 2 * len(there) // 3, -1]
    here, part = together[pick], there[pick]
    assert np.linalg.det(here[1:] - here[0]) == pytest.approx(np.linalg.det(part[1:] - part[0]))


def test_the_centreline_ends_where_the_part_does() -> None:
    assert polyline(IN_SPACE)[-1] == pytest.approx(frames(IN_SPACE)[-1, :3, 3])


def test_turning_the_view_turns_the_part_and_changes_no_height_when_level() -> None:
    one = turned_view(IN_SPACE, turn_deg=20, tilt_deg=0)
    two = turned_view(IN_SPACE, turn_deg=110, tilt_deg=0)
    assert one.lines[0][:, 1] == pytest.approx(two.lines[0][:, 1])
    assert not np.allclose(one.lines[0][:, 0], two.lines[0][:, 0])


def test_as_bent_lies_over_the_plan_from_the_same_first_end() -> None:
    bent = Centreline((300, 200, 300), (0, 0), (88, 90), 75)
    front, _, _ = three_views(FRAME, bent)
    planned, over = front.lines
    assert over[0] == pytest.approx(planned[0])
    assert not np.allclose(over[-1], planned[-1])


def test_bends_are_numbered_outside_their_arcs() -> None:
    front, _, _ = three_views(FRAME)
    assert [label.text for label in front.labels] == ["1", "2"]
    middle = front.lines[0].mean(axis=0)
    for label in front.labels:
        towards = np.array([label.x_mm, label.y_mm]) - middle
        assert towards @ [label.out_x, label.out_y] > 0


def test_segments_join_up() -> None:
    segments = turned_view(IN_SPACE).segments()
    assert all(one[2:] == two[:2] for one, two in itertools.pairwise(segments))


def test_straights_and_bends_of_a_flat_part_are_seen_as_they_are_from_the_front_alone():
    front, top, _ = three_views(FRAME)
    assert [straight.length_mm for straight in front.straights] == list(FRAME.straights_mm)
    assert all(straight.seen == pytest.approx(1.0) for straight in front.straights)
    assert [label.angle_deg for label in front.labels] == list(FRAME.angles_deg)
    assert all(label.faces == pytest.approx(1.0) for label in front.labels)
    assert all(label.faces == pytest.approx(0.0, abs=1e-9) for label in top.labels)


def test_depths_tell_what_is_nearer_to_the_viewer():
    front, top, _ = three_views(IN_SPACE)
    # From above the viewer's way is the front's up; nearer from the front is lower from above.
    assert top.depths - top.depths[0] == pytest.approx(front.lines[0][:, 1] - front.lines[0][0, 1])
    down = top.lines[0][:, 1]
    assert front.depths - front.depths[0] == pytest.approx(down[0] - down)
