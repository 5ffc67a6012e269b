"""The job on paper: what stands on it, to scale, within the paper."""

import msgspec
import pytest

from benchmate.layout.paper import SIZES, Mark, Page, Paper, Rect, Stroke, Text
from benchmate.layout.plan import Plan, Springback, plan_job
from benchmate.layout.sheet import sheet
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
def plan(die: Die, tube: Tube, model: Springback) -> Plan:
    return plan_job(JOB, die, tube, model)


def texts(pages: tuple[Page, ...]) -> list[str]:
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
        f"{first.mark_mm:.1f} mm",
        f"{second.mark_mm:.1f} mm",
        f"{second.mark_mm - first.mark_mm:.1f} mm",
        "-35.0",
        f"{first.stop_angle_deg:.1f}",
        "45.0",
    ):
        assert wanted in said


def test_it_says_what_it_rests_on_and_the_cautions(plan: Plan, tube: Tube) -> None:
    said = " ".join(texts(sheet(plan, tube)))
    assert "rests on: drawing" in said
    assert "wear eye protection" in said
    assert "rule book" in said


def test_warnings_stand_on_it(die: Die, tube: Tube, model: Springback) -> None:
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
    paper: Paper, bends: int, die: Die, tube: Tube, model: Springback
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
    assert texts(pages).count("stop angle") == {1: 1, 8: 1, 40: 2, 100: 4}[bends]
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
