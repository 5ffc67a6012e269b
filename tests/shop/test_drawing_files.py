"""Points out of CSV and DXF files: what is read, and what is refused in words."""

import math
from collections.abc import Callable
from pathlib import Path

import ezdxf
import pytest
from ezdxf.layouts import Modelspace

from benchmate.layout.centreline import Centreline, frames, from_points, points
from benchmate.shop.drawing_files import read_points
from benchmate.shop.nodes import UnreadableError

CORNERS = [(0.0, 0.0, 0.0), (400.0, 0.0, 0.0), (400.0, 300.0, 0.0), (700.0, 300.0, 250.0)]


def csv(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "rail.csv"
    path.write_text(text)
    return path


def dxf(tmp_path: Path, draw: Callable[[Modelspace], object], unit: int = 4) -> Path:
    drawing = ezdxf.new()
    drawing.header["$INSUNITS"] = unit
    draw(drawing.modelspace())
    path = tmp_path / "rail.dxf"
    drawing.saveas(path)
    return path


@pytest.mark.parametrize("split", [",", ";", "\t"])
def test_rows_of_a_table_are_points(split: str, tmp_path: Path) -> None:
    rows = [("x", "y", "z"), ("0", "0", "0"), ("400 mm", "0", "0"), ("400", "11-3/4 in", "0")]
    path = csv(tmp_path, "\n".join(split.join(row) for row in rows) + "\n")
    assert read_points(path) == ((0, 0, 0), (400, 0, 0), (400, pytest.approx(298.45), 0))


def test_remarks_and_empty_rows_are_passed_over(tmp_path: Path) -> None:
    path = csv(tmp_path, "# rail, by hand\n0,0,0\n\n1,0,0\n1,1,0\n")
    assert len(read_points(path)) == 3


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ("0,0,0\n1,0\n", 2, "2 values; write x, y and z"),
        ("0,0,0\n1,0,zero\n", 2, "'zero' is no length"),
        ("0,0,0\n1,0,0\n", 0, "holds 2 points; a part takes 3 to 100"),
        ("0,0,0\n" * 101, 0, "holds 101 points"),
    ],
)
def test_a_wrong_row_is_told_with_its_line(text: str, line: int, says: str, tmp_path: Path) -> None:
    with pytest.raises(UnreadableError) as told:
        read_points(csv(tmp_path, text))
    assert told.value.line == line
    assert says in told.value.says


def test_a_cell_of_any_length_is_refused_in_words(tmp_path: Path) -> None:
    path = tmp_path / "rail.csv"
    path.write_text("0,0,0\n" + "9" * 140_000 + ",0,0\n")
    with pytest.raises(UnreadableError) as told:
        read_points(path)
    assert told.value.line == 2
    assert "write x, y and z" in told.value.says


def test_a_polyline_in_space_is_its_points(tmp_path: Path) -> None:
    path = dxf(tmp_path, lambda space: space.add_polyline3d(CORNERS))
    assert read_points(path) == tuple(pytest.approx(corner) for corner in CORNERS)


def test_inches_are_read_as_the_drawing_says(tmp_path: Path) -> None:
    path = dxf(tmp_path, lambda space: space.add_polyline3d([(0, 0), (10, 0), (10, 5)]), unit=1)
    assert read_points(path)[1] == pytest.approx((254, 0, 0))


def test_lines_and_arcs_drawn_in_any_order_are_one_part(tmp_path: Path) -> None:
    """A planar part is drawn piece by piece, back to front and shuffled, and read back."""
    chain = Centreline((200, 150, 250), (0, 180), (60, 35), 75)
    at = frames(chain)

    def draw(space: Modelspace) -> None:
        space.add_line(at[5, :3, 3], at[4, :3, 3])
        space.add_line(at[0, :3, 3], at[1, :3, 3])
        space.add_line(at[2, :3, 3], at[3, :3, 3])
        for start, sign, angle in ((at[1], 1, 60), (at[3], -1, 35)):
            centre = start[:3, 3] + 75 * start[:3, 1]
            begin = math.degrees(math.atan2(-start[1, 1], -start[0, 1]))
            span = (begin, begin + angle) if sign > 0 else (begin - angle, begin)
            space.add_arc(centre, 75, *span)

    read = read_points(dxf(tmp_path, draw))
    if math.dist(read[0], (0, 0, 0)) > 1:
        read = read[::-1]
    assert list(read) == [pytest.approx(point, abs=1e-6) for point in points(chain).tolist()]
    assert from_points(read, 75).straights_mm == pytest.approx(chain.straights_mm)


@pytest.mark.parametrize(
    ("draw", "says"),
    [
        (lambda s: s.add_text("rail"), "holds no polyline, line or arc"),
        (lambda s: s.add_circle((0, 0), 5), "holds a circle; a centreline takes lines and arcs"),
        (lambda s: (s.add_line((0, 0), (9, 0)), s.add_line((20, 0), (30, 5))), "join no end"),
        (
            lambda s: (s.add_line((0, 0), (9, 0)), s.add_arc((9, 5), 5, -90, 0)),
            "ends in the arc of 90 deg from (9, 0, 0)",
        ),
        (
            lambda s: (
                s.add_line((0, 0), (9, 0)),
                s.add_arc((9, 5), 5, -90, 90),
                s.add_line((9, 10), (0, 10)),
            ),
            "the arc of 180 deg from (9, 0, 0) to (9, 10, 0) is no one bend",
        ),
        (
            lambda s: (
                s.add_line((0, 0), (500, 0)),
                s.add_arc((500, 75), 75, -90, 180),
                s.add_line((425, 75), (425, -400)),
            ),
            "the arc of 270 deg from (500, 0, 0) to (425, 75, 0) is no one bend",
        ),
        (
            lambda s: (
                s.add_line((0, 0), (500, 0)),
                s.add_arc((500, 75), 75, -90, 0),
                s.add_line((575, 75), (900, 300)),
            ),
            "doesn't run on from the line from (575, 75, 0) to (900, 300, 0)",
        ),
        (
            lambda s: (
                s.add_line((0, 0), (500, 0)),
                s.add_arc((500, 75), 75, 180, -90),
                s.add_line((425, 75), (425, 400)),
            ),
            "their directions differ by 180.0 deg",
        ),
    ],
)
def test_a_drawing_that_is_no_centreline_is_refused_in_words(
    draw: Callable[[Modelspace], object], says: str, tmp_path: Path
) -> None:
    with pytest.raises(UnreadableError) as told:
        read_points(dxf(tmp_path, draw))
    assert says in told.value.says


def test_what_is_no_dxf_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "rail.dxf"
    path.write_text("not a drawing at all\n")
    with pytest.raises(UnreadableError) as told:
        read_points(path)
    assert "no DXF that can be read" in told.value.says


@pytest.mark.parametrize("name", ["rail.txt", "missing.csv"])
def test_another_file_or_none_is_refused(name: str, tmp_path: Path) -> None:
    (tmp_path / "rail.txt").write_text("0,0,0\n")
    with pytest.raises(UnreadableError):
        read_points(tmp_path / name)
