"""The job on paper: what stands on it, to scale, within the paper."""

from dataclasses import replace

import msgspec
import pytest

from benchmate.layout.plan import Plan, SpringbackModel, plan_job
from benchmate.reports.job_sheet import sheet
from benchmate.reports.page import SIZES, Mark, Paper, PaperPage, Rect, Stroke, Text
from benchmate.shop.parts import Die, Job, JobBend, Tube

JOB = Job(
    job="rail",
    tube="rail-30",
    die="heron-100",
    lot="B",
    tolerance_deg=0.5,
    bends=(
        JobBend(straight_mm=300, angle_deg=90),
        JobBend(straight_mm=220, turn_deg=-35, angle_deg=45),
    ),
    tail_mm=300,
)


@pytest.fixture
def plan(die: Die, tube: Tube, model: SpringbackModel) -> Plan:
    return plan_job(JOB, die, tube, model)


def texts(pages: tuple[PaperPage, ...]) -> list[str]:
    return [mark.text for page in pages for mark in page.marks if isinstance(mark, Text)]


def corners(mark: Mark) -> list[tuple[float, float]]:
    if isinstance(mark, Stroke):
        return list(mark.points)
    if isinstance(mark, Rect):
        return [(mark.x, mark.y), (mark.x + mark.wide, mark.y + mark.high)]
    return [(mark.x, mark.y)]


def test_the_table_holds_each_bends_mark_turn_and_angles(plan: Plan, tube: Tube) -> None:
    said = texts(sheet(plan, tube))
    first, second = plan.bends
    for wanted in (
        f"{first.mark_mm:.0f} mm",
        f"{second.mark_mm:.0f} mm",
        f"{round(second.mark_mm) - round(first.mark_mm)} mm",
        "35.0",
        f"{first.stop_angle_deg:.1f}",
        "45.0",
    ):
        assert wanted in said


def test_it_says_what_it_rests_on_and_the_cautions(plan: Plan, tube: Tube) -> None:
    said = " ".join(texts(sheet(plan, tube)))
    assert "rests on: drawing" in said
    assert "wear eye protection" in said
    assert "rule book" in said


def test_warnings_stand_on_it(die: Die, tube: Tube, model: SpringbackModel) -> None:
    unknown = msgspec.structs.replace(die, start_offset_mm=None)
    said = " ".join(texts(sheet(plan_job(JOB, unknown, tube, model), tube)))
    assert "start offset is unknown" in said


def test_marks_on_the_drawn_tube_are_to_scale_from_one_datum(plan: Plan, tube: Tube) -> None:
    (page, *_) = sheet(plan, tube)
    scale_text = next(t for t in texts((page,)) if t.startswith("the straight tube, 1 : "))
    scale = float(scale_text.removeprefix("the straight tube, 1 : ").split(",")[0])
    outline = next(mark for mark in page.marks if isinstance(mark, Rect) and mark.width == 0.35)
    assert outline.wide * scale == pytest.approx(plan.cut_length_mm)
    lines = [m for m in page.marks if isinstance(m, Stroke) and m.width == 0.45]
    assert [(line.points[0][0] - outline.x) * scale for line in lines] == pytest.approx(
        [bend.mark_mm for bend in plan.bends]
    )
    greys = [m for m in page.marks if isinstance(m, Rect) and m.width == 0.1]
    assert [grey.wide * scale for grey in greys] == pytest.approx([b.arc_mm for b in plan.bends])


@pytest.mark.parametrize("paper", ["a4", "letter"])
@pytest.mark.parametrize("bends", [1, 8, 40, 100])
def test_everything_stays_on_the_paper(
    paper: Paper, bends: int, die: Die, tube: Tube, model: SpringbackModel
) -> None:
    job = msgspec.structs.replace(
        JOB,
        bends=tuple(
            JobBend(straight_mm=120, angle_deg=40, turn_deg=25.0 * (n > 0)) for n in range(bends)
        ),
    )
    pages = sheet(plan_job(job, die, tube, model), tube, paper)
    wide, high = SIZES[paper]
    assert len(pages) <= 1 + bends / 8
    assert texts(pages).count("mark before") == {1: 1, 8: 1, 40: 2, 100: 5}[bends]
    for page in pages:
        assert (page.wide, page.high) == (wide, high)
        for mark in page.marks:
            for x, y in corners(mark):
                assert 5 <= x <= wide - 5
                assert 5 <= y <= high - 4


def test_lengths_are_in_the_readers_unit(plan: Plan, tube: Tube) -> None:
    said = texts(sheet(plan, tube, unit="frac"))
    assert "11-11/32 in" in said
    assert not any("mm" in line for line in said)


def arrows(pages: tuple[PaperPage, ...]) -> list[Stroke]:
    return [m for p in pages for m in p.marks if isinstance(m, Stroke) and len(m.points) == 19]


def test_an_arrow_says_which_way_to_turn(
    plan: Plan, die: Die, tube: Tube, model: SpringbackModel
) -> None:
    other = msgspec.structs.replace(
        JOB, bends=(JOB.bends[0], JobBend(straight_mm=220, angle_deg=45, turn_deg=35))
    )
    (anticlockwise,) = arrows(sheet(plan, tube))
    (clockwise,) = arrows(sheet(plan_job(other, die, tube, model), tube))
    for arrow, way in ((anticlockwise, -1), (clockwise, 1)):
        (x1, y1), (x2, y2), (x3, y3) = arrow.points[:3]
        # On paper y runs down: a turn to the right of the way is clockwise.
        assert way * ((x2 - x1) * (y3 - y2) - (y2 - y1) * (x3 - x2)) > 0
    assert "looking along the feed" in " ".join(texts(sheet(plan, tube)))


def test_a_turn_that_rounds_to_nought_has_no_arrow_and_no_minus(
    die: Die, tube: Tube, model: SpringbackModel
) -> None:
    flat = msgspec.structs.replace(
        JOB, bends=(JOB.bends[0], JobBend(straight_mm=220, angle_deg=45, turn_deg=-0.01))
    )
    pages = sheet(plan_job(flat, die, tube, model), tube)
    assert arrows(pages) == []
    assert not any(line.startswith(("-0", "+0")) for line in texts(pages))


def test_figures_of_the_table_are_read_from_the_bender(plan: Plan, tube: Tube) -> None:
    parameters = {first for bend in plan.bends for first in (f"{bend.stop_angle_deg:.1f}",)}
    sizes = [
        m.size for p in sheet(plan, tube) for m in p.marks if getattr(m, "text", 0) in parameters
    ]
    points = min(sizes) / 25.4 * 72
    assert points >= 14


def test_a_wall_that_is_no_fraction_is_written_in_decimals(plan: Plan, tube: Tube) -> None:
    gauge = msgspec.structs.replace(tube, od_mm=34.925, wall_mm=2.1082)
    assert "(1-3/8 in x 0.083 in, E235)" in " ".join(texts(sheet(plan, gauge, unit="frac")))


def test_the_day_of_printing_stands_on_it(plan: Plan, tube: Tube) -> None:
    assert "printed 2031-05-06" in texts(sheet(plan, tube, printed="2031-05-06"))


def test_a_stop_short_of_its_bend_angle_is_explained_where_there_is_one(
    plan: Plan, tube: Tube
) -> None:
    low = replace(plan, bends=tuple(replace(b, expected_angle_deg=20.0) for b in plan.bends))
    assert "stops short on purpose" in " ".join(texts(sheet(low, tube)))
    assert "stops short on purpose" not in " ".join(texts(sheet(plan, tube)))
