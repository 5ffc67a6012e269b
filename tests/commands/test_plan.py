"""``benchmate plan``: the table, the JSON object, refusals."""

import json
from pathlib import Path

import pytest

from benchmate.cli import main
from benchmate.places import starter_shop

BENCH = """
bench: north-window
sensor: {chip: lsm6dso, bus: 1, address: 0x6a, rate: 208}
arm: {radius: 80 mm}
"""
DIE = """
die: heron-100
for_od: 30 mm
centreline_radius: 100 mm
max_angle: 120
start_offset: 12 mm
"""
TUBE = """
tube: rail-30
od: 30 mm
wall: 2 mm
grade: E235
yield_strength: 300 MPa
tensile_strength: 400 MPa
"""
JOB = """
job: towel-rail
tube: rail-30
die: heron-100
lot: A
tolerance: 0.5
bends: [{straight: 300 mm, angle: 90}, {straight: 220 mm, turn: 90, angle: 45}]
tail: 150 mm
"""


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    for name, text in {
        "bench.yaml": BENCH,
        "dies/heron-100.yaml": DIE,
        "tubes/rail-30.yaml": TUBE,
        "jobs/towel-rail.yaml": JOB,
    }.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path


def plan(shop: Path, *words: str) -> int:
    return main(["--shop", str(shop), "--store", str(shop / "bends.db"), "plan", *words])


def test_json_is_one_object_with_the_keys_that_other_programs_read(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan(shop, "towel-rail", "--json") == 0
    said = json.loads(capsys.readouterr().out)
    assert said["job"] == "towel-rail"
    assert said["rests_on"] == ["drawing"]
    assert said["warnings"] == []
    first, second = said["bends"]
    assert first["bend"] == 1
    assert first["mark_mm"] == pytest.approx(288)
    assert first["turn_deg"] == 0
    assert second["turn_deg"] == 90
    assert second["bend_angle_deg"] == 45
    assert first["stop_angle_deg"] > second["stop_angle_deg"] > 0
    assert first["sd_deg"] > 0
    assert 100 < first["free_radius_mm"] < 106
    used = 1.5 * 3.141593 / 2 * first["free_radius_mm"]
    assert said["cut_length_mm"] == pytest.approx(670 + used, abs=0.01)


def test_the_table_says_marks_cut_length_and_what_it_rests_on(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan(shop, "towel-rail") == 0
    said = capsys.readouterr().out
    assert "288 mm" in said
    assert "cut length" in said
    assert "rests on: drawing" in said


def test_lengths_come_in_the_unit_asked_for(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert plan(shop, "towel-rail", "--unit", "frac") == 0
    assert "11-11/32 in" in capsys.readouterr().out


def test_marks_are_read_from_the_other_end_and_to_a_tapes_division(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan(shop, "towel-rail", "--from", "last", "--tape", "5 mm", "--json") == 0
    said = json.loads(capsys.readouterr().out)
    tape = said["tape"]
    assert tape["from"] == "last"
    assert all(mark % 5 == 0 for mark in tape["marks_mm"])
    assert tape["marks_mm"][0] == pytest.approx(tape["cut_length_mm"] - 288, abs=2.5)
    assert tape["off_mm"] > 0
    assert plan(shop, "towel-rail", "--tape", "5 mm") == 0
    said = capsys.readouterr().out
    assert "with bend 1 in its place that moves the first end by 2.0 mm, the last end by" in said


def test_a_mark_back_from_the_one_before_is_said_to_be_so(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan(shop, "towel-rail", "--from", "last") == 0
    said = capsys.readouterr().out
    assert "mark before" in said
    assert "381 mm back" in said
    assert "back: towards the last end" in said
    assert "-381" not in said


def test_a_tape_in_the_shops_unit_rounds_marks_and_cut_and_writes_no_more_than_it_shows(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan(shop, "towel-rail", "--tape", "5") == 0
    said = capsys.readouterr().out
    assert "290 mm" in said
    assert "cut length 910 mm" in said
    assert plan(shop, "towel-rail", "--unit", "frac", "--tape", "1/16") == 0
    said = capsys.readouterr().out
    assert "11-5/16 in" in said
    assert "moves the first end by 1/32 in" in said
    assert "." not in said.split("moves the first end")[1].split("\n")[0]


def test_a_turn_says_which_way_it_goes_and_the_first_bend_has_none(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan(shop, "towel-rail") == 0
    said = capsys.readouterr().out
    assert "90.0 clockwise" in said
    assert "looking along the feed, from the last end towards the first" in said
    assert "-0.0" not in said


def test_a_turn_of_a_hair_to_the_left_is_no_minus_nought(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    job = shop / "jobs" / "towel-rail.yaml"
    job.write_text(job.read_text().replace("turn: 90", "turn: -0.000001"))
    assert plan(shop, "towel-rail", "--json") == 0
    assert "-0.0," not in capsys.readouterr().out
    assert plan(shop, "towel-rail") == 0
    said = capsys.readouterr().out
    assert "-0" not in said
    assert "clockwise" not in said


def test_the_caution_stands_under_the_plan(shop: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert plan(shop, "towel-rail") == 0
    assert "the person at the pump decides" in capsys.readouterr().out.splitlines()[-1]


def test_a_left_handed_bender_bends_the_same_part_of_the_same_plan(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan(shop, "towel-rail", "--json") == 0
    right = capsys.readouterr().out
    bench = shop / "bench.yaml"
    bench.write_text(bench.read_text().replace("80 mm}", "80 mm, handed: left}"))
    assert plan(shop, "towel-rail", "--json") == 0
    assert capsys.readouterr().out == right


@pytest.mark.parametrize("division", ["0", "-1 mm", "fine"])
def test_a_division_that_is_none_is_refused(
    division: str, shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan(shop, "towel-rail", f"--tape={division}") == 2
    assert "--tape" in capsys.readouterr().err


def test_the_scatter_of_the_ends_is_foretold(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan(shop, "towel-rail", "--json") == 0
    ends = json.loads(capsys.readouterr().out)["ends"]
    assert ends["off_95_mm"] > 1
    assert ends["tolerance_reachable"] is True
    assert ends["matters_most"] in (1, 2)


def test_a_job_that_is_not_there_is_refused_with_the_nearest(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert plan(shop, "towl-rail") == 2
    said = capsys.readouterr().err
    assert "towel-rail" in said
    assert "Traceback" not in said


def test_planning_writes_no_store(shop: Path) -> None:
    assert plan(shop, "towel-rail") == 0
    assert not (shop / "bends.db").exists()


@pytest.mark.parametrize("job", sorted(path.stem for path in (starter_shop() / "jobs").iterdir()))
def test_every_job_of_the_starter_shop_plans(
    job: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--shop", str(starter_shop()), "--store", str(tmp_path / "none.db")]
    assert main([*words, "plan", job, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["bends"]
