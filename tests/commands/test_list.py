"""What the rack holds: jobs drawn, what stops them, and one cut list for all."""

import json
from pathlib import Path

import pytest

from benchmate.cli import main

STARTER = Path(__file__).parents[2] / "configs"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    for file in STARTER.rglob("*.yaml"):
        copy = tmp_path / file.relative_to(STARTER)
        copy.parent.mkdir(exist_ok=True)
        copy.write_bytes(file.read_bytes())
    return tmp_path


def listed(shop: Path, *words: str) -> int:
    return main(["--shop", str(shop), "--store", str(shop / "b.db"), "list", *words])


def test_jobs_dies_and_tubes_are_listed_with_what_is_to_make(shop: Path, capsys):
    assert listed(shop, "--plain") == 0
    said = capsys.readouterr().out
    assert "  trellis-knee         to make        e235-25x2 on round-25-r75" in said
    assert "  lane-7-8             for" in said
    assert "  e235-25x2            25 mm x 2 mm, E235+N" in said


def test_each_job_is_drawn(shop: Path, capsys):
    listed(shop, "--plain")
    plain = len(capsys.readouterr().out.splitlines())
    listed(shop)
    assert len(capsys.readouterr().out.splitlines()) > plain + 8


def test_what_stops_a_job_is_said(shop: Path, capsys):
    (shop / "jobs" / "rose-arch.yaml").write_text(
        (shop / "jobs" / "rose-arch.yaml").read_text().replace("s304-25x1.5", "s304-25x1")
    )
    assert listed(shop, "--json") == 0
    jobs = {each["job"]: each for each in json.loads(capsys.readouterr().out)["jobs"]}
    assert not jobs["rose-arch"]["ready"]
    assert "no tube 's304-25x1'" in jobs["rose-arch"]["stops"][0]
    assert jobs["trellis-knee"]["ready"]


def test_one_cut_list_for_all_that_is_to_be_made(shop: Path, capsys):
    for job, count in (("trellis-knee", 9), ("cold-frame-rib", 1)):
        path = shop / "jobs" / f"{job}.yaml"
        path.write_text(path.read_text() + f"count: {count}\n")
    tube = shop / "tubes" / "e235-25x2.yaml"
    tube.write_text(tube.read_text() + "stock: 6 m\n")
    assert listed(shop, "--cut") == 0
    said = capsys.readouterr().out
    # A knee takes 680 mm: eight from a bar, and the ninth from a second one.
    assert "e235-25x2: 2 bars of 6000.0 mm, saw's kerf 2.0 mm" in said
    assert "e355-25x2.5: 1 piece; write the tube's stock length for a cut list" in said


def test_scrapped_tubes_are_told_apart_from_those_made(shop: Path, capsys, monkeypatch):
    from benchmate.store import tubes_made

    monkeypatch.setattr(
        tubes_made,
        "tubes_made",
        lambda _log: {"trellis-knee": tubes_made.TubesMade(made=2, scrapped=1)},
    )
    knee = shop / "jobs" / "trellis-knee.yaml"
    knee.write_text(knee.read_text() + "count: 5\n")
    assert listed(shop, "--plain") == 0
    assert "trellis-knee         made 2 of 5, 1 scrapped" in capsys.readouterr().out
    listed(shop, "--json")
    (job,) = (
        each
        for each in json.loads(capsys.readouterr().out)["jobs"]
        if each["job"] == "trellis-knee"
    )
    assert (job["made"], job["scrapped"], job["count"]) == (2, 1, 5)
