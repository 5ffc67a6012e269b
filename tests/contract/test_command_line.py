"""Commands, exit statuses, and what programs read from them."""

import json
import math
from pathlib import Path
from typing import Any

import pytest

from benchmate.cli import main

BEND_KEYS = {
    "bend": int,
    "mark_mm": float,
    "turn_deg": float,
    "bend_angle_deg": float,
    "stop_angle_deg": float,
    "sd_deg": float,
    "free_radius_mm": float,
}
JOBS = ("trellis-knee", "cold-frame-rib", "rose-arch", "barrow-handle")


@pytest.fixture
def files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    for name in ("BENCHMATE_SHOP", "BENCHMATE_STORE", "XDG_CONFIG_HOME", "XDG_DATA_HOME"):
        monkeypatch.delenv(name, raising=False)
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    return ["--store", str(tmp_path / "bends.db")]


def said(capsys: pytest.CaptureFixture[str], words: list[str]) -> tuple[int, str, str]:
    try:
        status = main(words)
    except SystemExit as end:
        status = int(end.code or 0)
    out, error = capsys.readouterr()
    assert "Traceback" not in out + error
    return status, out, error


@pytest.mark.parametrize("job", JOBS)
def test_a_plan_is_one_object_with_its_keys(capsys: Any, files: list[str], job: str) -> None:
    status, out, error = said(capsys, [*files, "plan", job, "--json"])
    plan = json.loads(out)
    assert (status, error) == (0, "")
    assert plan["job"] == job
    assert {type(plan["cut_length_mm"]), type(plan["rests_on"]), type(plan["warnings"])} == {
        float,
        list,
    }
    assert set(plan["rests_on"]) <= {"drawing", "trial piece"}
    for number, bend in enumerate(plan["bends"], start=1):
        assert bend["bend"] == number
        for key, kind in BEND_KEYS.items():
            assert isinstance(bend[key], kind), key
            assert math.isfinite(bend[key]), key
    marks = [bend["mark_mm"] for bend in plan["bends"]]
    assert marks == sorted(marks)
    assert marks[-1] < plan["cut_length_mm"]


def test_a_log_is_one_object_a_bend_oldest_first(capsys: Any, files: list[str]) -> None:
    rehearse = ["--plain", "--simulate", "--operator", "--quick"]
    assert said(capsys, [*files, "watch", "cold-frame-rib", "--bend", "2", *rehearse])[0] == 0
    status, out, _ = said(capsys, [*files, "log", "--json"])
    rows = [json.loads(line) for line in out.splitlines()]
    assert status == 0
    assert [row["bend"] for row in rows] == [2, 3]
    assert [row["seq"] for row in rows] == sorted(row["seq"] for row in rows)
    for row in rows:
        assert (row["job"], row["lot"]) == ("cold-frame-rib", "spring delivery")
        assert (row["die"], row["tube"]) == ("round-25-r75", "e355-25x2.5")
        assert row["simulated"] is True
        assert row["measured"] is None or isinstance(row["measured"], float)
        for hit in row["hits"]:
            assert hit["rest"] < hit["peak"]
            assert hit["peak"] == pytest.approx(hit["stop_angle"], abs=2.0)
    # A rehearsal teaches nothing real: a plan is as careful as before.
    before = json.loads(said(capsys, ["--store", f"{files[1]}.new", "plan", JOBS[1], "--json"])[1])
    after = json.loads(said(capsys, [*files, "plan", JOBS[1], "--json"])[1])
    assert before["bends"] == after["bends"]


@pytest.mark.parametrize(
    "words",
    [
        ["frobnicate"],
        ["plan"],
        ["plan", "no-such-job"],
        ["plan", "../bench"],
        ["--shop", "/no/such/folder", "plan", "trellis-knee"],
        ["watch", "--plain"],
        ["watch", "trellis-knee", "--plain", "--simulate", "--bend", "7"],
        ["watch", "--angle", "0", "--die", "round-25-r75", "--tube", "e235-25x2", "--plain"],
        ["watch", "--angle", "nan", "--die", "round-25-r75", "--tube", "e235-25x2", "--plain"],
        ["watch", "--angle", "30", "--die", "no-die", "--tube", "e235-25x2", "--plain"],
        ["log", "show", "12"],
    ],
)
def test_what_was_asked_wrong_is_exit_2(capsys: Any, files: list[str], words: list[str]) -> None:
    status, _, error = said(capsys, [*files, *words])
    assert status == 2
    assert error


@pytest.mark.parametrize("words", [["watch", "trellis-knee", "--plain"], ["check"]])
def test_a_bench_that_fails_is_exit_1(capsys: Any, files: list[str], words: list[str]) -> None:
    # Nobody has aligned this bench's sensor.
    status, out, error = said(capsys, [*files, *words])
    assert status == 1
    assert out + error


def test_a_store_that_is_none_is_exit_1(capsys: Any, tmp_path: Path, files: list[str]) -> None:
    stray = tmp_path / "letter.txt"
    stray.write_text("dear all,\n" * 50)
    status, _, error = said(capsys, ["--store", str(stray), "log"])
    assert status == 1
    assert error.count("\n") == 1
    assert stray.read_text().startswith("dear all")


def test_shop_and_store_come_from_option_then_environment_then_home(
    capsys: Any, tmp_path: Path, files: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    def shop(name: str) -> Path:
        folder = tmp_path / name
        for kind in ("dies", "tubes", "jobs"):
            (folder / kind).mkdir(parents=True)
        (folder / "bench.yaml").write_text(f"bench: {name}\nsensor: {{chip: lsm6dso}}\n")
        return folder

    def known(words: list[str]) -> str:
        return said(capsys, [*words, "plan", "nothing"])[2]

    assert "trellis-knee" in known([])
    home = shop("home/.config/benchmate")
    assert str(home) in known([])
    monkeypatch.setenv("BENCHMATE_SHOP", str(shop("by-name")))
    assert "by-name" in known([])
    assert "by-option" in known(["--shop", str(shop("by-option"))])
    assert str(tmp_path / "home") in said(capsys, ["log"])[1]
    monkeypatch.setenv("BENCHMATE_STORE", str(tmp_path / "named.db"))
    assert "named.db" in said(capsys, ["log"])[1]
    assert "bends.db" in said(capsys, [*files, "log"])[1]
