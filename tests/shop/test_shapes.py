"""Shapes, keep-outs, points out of a file and points to fit, as the files write them."""

from collections.abc import Callable
from pathlib import Path

import pytest

from benchmate.errors import Refusal
from benchmate.shop import Shop
from benchmate.shop.keep_out import Box, KeepOut, Plane
from benchmate.shop.shapes import Arch, Bridge, Frame, Gable, Hoop, Ring, Shape, Step

WriteShop = Callable[..., Path]
HEAD = "job: knee\ntube: mild\ndie: round\ntolerance: 0.5\n"
BENCH = """\
bench: shed
sensor: {chip: lsm6dso}
arm: {radius: 80 mm}
keep_out:
  swings: last end
  planes:
    - {name: floor, through: [0, 0, -900 mm], facing: [0, 0, 1]}
  boxes:
    - {name: post, low: [-60, 250, -900], high: [60, 370, 1 ft]}
"""


@pytest.mark.parametrize(
    ("written", "shape"),
    [
        ("hoop: {width: 40 cm, height: 600}", Hoop(width_mm=400, height_mm=600)),
        ("hoop: {height: 600, at: inside}", Hoop(height_mm=600, at="inside")),
        (
            "step: {height: 90, angle: 30, first_leg: 200, last_leg: 300}",
            Step(height_mm=90, angle_deg=30, first_leg_mm=200, last_leg_mm=300),
        ),
        (
            "bridge: {height: 60, angle: 22.5, flat: 100, first_leg: 200, last_leg: 300}",
            Bridge(height_mm=60, angle_deg=22.5, flat_mm=100, first_leg_mm=200, last_leg_mm=300),
        ),
        (
            "gable: {width: 900, eaves: 600, ridge: 850, at: centre}",
            Gable(width_mm=900, eaves_mm=600, ridge_mm=850, at="centre"),
        ),
        ("arch: {width: 900, height: 200, bends: 6}", Arch(width_mm=900, height_mm=200, bends=6)),
        (
            "frame: {width: 500, height: 400, gap: 2}",
            Frame(width_mm=500, height_mm=400, gap_mm=2),
        ),
        ("ring: {radius: 300, angle: 180, leg: 50}", Ring(radius_mm=300, angle_deg=180, leg_mm=50)),
    ],
)
def test_a_job_names_a_shape_by_its_dimensions(
    written: str, shape: Shape, shop_with: WriteShop
) -> None:
    folder = shop_with({"jobs/knee.yaml": f"{HEAD}shape:\n  {written}\n"})
    assert Shop.open(folder).jobs["knee"].shape == shape


@pytest.mark.parametrize(
    ("written", "words"),
    [
        ("shape: {hop: {height: 6}}", r"knee.yaml:5: shape hop: no such key; did you mean hoop\?"),
        ("shape: {hoop: {width: 6}}", "shape hoop height: missing"),
        ("shape: {}", "0 shapes are named; name one"),
        (
            "shape:\n  hoop: {height: 600}\n  ring: {radius: 90, angle: 90}",
            "2 shapes are named; name one",
        ),
        ("shape: {hoop: {height: 600, at: middle}}", "'middle' is none of them"),
        ("shape: {hoop: {height: 600}}\ntail: 3", "tail: written besides a shape"),
        (
            "shape: {hoop: {height: 600}}\nfit: [0]",
            "fit 1: 0 is out of the span; write from 1 to 102",
        ),
        (
            "shape: {hoop: {height: 600}}\npoints: [[0, 0, 0], [9, 0, 0], [9, 9, 0]]",
            "shape: written besides points; write one of the two",
        ),
    ],
)
def test_what_is_no_shape_is_told_with_its_key(
    written: str, words: str, shop_with: WriteShop
) -> None:
    with pytest.raises(Refusal, match=words):
        Shop.open(shop_with({"jobs/knee.yaml": f"{HEAD}{written}\n"}))


def test_points_come_from_a_file_beside_the_job(shop_with: WriteShop) -> None:
    folder = shop_with(
        {
            "jobs/knee.yaml": f"{HEAD}points: knee.csv\nfit: [2, 3]\n",
            "jobs/knee.csv": "x,y,z\n0,0,0\n400 mm,0,0\n400,300,0\n",
        }
    )
    job = Shop.open(folder).jobs["knee"]
    assert job.points_mm == ((0, 0, 0), (400, 0, 0), (400, 300, 0))
    assert job.fit == (2, 3)


@pytest.mark.parametrize(
    ("named", "words"),
    [
        ("knee.csv", "knee.yaml:5: points: knee.csv:2: 2 values; write x, y and z"),
        ("nee.csv", "nee.csv: there is no such file"),
        ("../knee.csv", "is neither a list nor a file beside this one"),
        ("/etc/passwd", "is neither a list nor a file beside this one"),
        ("knee.txt", "ends in .csv or .dxf"),
    ],
)
def test_a_points_file_that_cannot_be_read_is_told(
    named: str, words: str, shop_with: WriteShop
) -> None:
    folder = shop_with(
        {"jobs/knee.yaml": f"{HEAD}points: {named}\n", "jobs/knee.csv": "0,0,0\n1,2\n"}
    )
    with pytest.raises(Refusal, match=words):
        Shop.open(folder)


def test_a_points_file_that_is_a_link_out_of_the_shop_is_refused(
    shop_with: WriteShop, tmp_path: Path
) -> None:
    (tmp_path / "far.csv").write_text("0,0,0\n1,0,0\n1,1,0\n")
    folder = shop_with({"jobs/knee.yaml": f"{HEAD}points: knee.csv\n"})
    (folder / "jobs" / "knee.csv").symlink_to(tmp_path / "far.csv")
    with pytest.raises(Refusal, match="a link that leads elsewhere"):
        Shop.open(folder)


def test_what_stands_round_the_bender_is_read(shop_with: WriteShop) -> None:
    assert Shop.open(shop_with({"bench.yaml": BENCH})).bench.keep_out == KeepOut(
        swings="last end",
        planes=(Plane(name="floor", through_mm=(0, 0, -900), facing=(0, 0, 1)),),
        boxes=(Box(name="post", low_mm=(-60, 250, -900), high_mm=(60, 370, 304.8)),),
    )


@pytest.mark.parametrize(
    ("good", "bad", "words"),
    [
        ("high: [60,", "high: [-60,", "keep_out boxes 1 high: its x isn't above low's"),
        ("facing: [0, 0, 1]", "facing: [0, 0, 0]", "facing: points nowhere"),
        ("last end", "other end", "'other end' is none of them"),
    ],
)
def test_a_keep_out_that_is_none_is_told(
    good: str, bad: str, words: str, shop_with: WriteShop
) -> None:
    with pytest.raises(Refusal, match=words):
        Shop.open(shop_with({"bench.yaml": BENCH.replace(good, bad)}))
