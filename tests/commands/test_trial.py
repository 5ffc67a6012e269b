"""``benchmate trial``: pieces from options and file, kept in the store, used by the next plan."""

import json
from pathlib import Path

import pytest

from benchmate.cli import main
from benchmate.places import starter_shop

DIE, TUBE = "round-25-r75", "e235-25x2"
# A U of radius 77 after springback, start offset 8, no stretch, 25 mm tube.
U = ("--angle", "180", "--mark", "200", "--cut", "650", "--back", "297.5", "--width", "179")
U_FAR = ("--far-back", "289.60")


def trial(store: Path, *words: str) -> int:
    shop = str(starter_shop())
    return main(["--shop", shop, "--store", str(store), "trial", DIE, "--tube", TUBE, *words])


def planned(store: Path, capsys: pytest.CaptureFixture[str]) -> dict:
    capsys.readouterr()
    shop = str(starter_shop())
    assert main(["--shop", shop, "--store", str(store), "plan", "trellis-knee", "--json"]) == 0
    return json.loads(capsys.readouterr().out)


def test_without_measurements_a_piece_is_suggested(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert trial(tmp_path / "b.db") == 0
    said = capsys.readouterr().out
    assert "bend to 180 deg" in said
    assert "--width" in said
    assert not (tmp_path / "b.db").exists()


def test_a_piece_by_options_is_kept_and_the_next_plan_uses_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = tmp_path / "b.db"
    assert trial(store, *U, "--json") == 0
    said = json.loads(capsys.readouterr().out)
    assert said["start_offset_mm"] == pytest.approx(8, abs=0.01)
    assert said["free_radius_mm"] == pytest.approx(77, abs=0.01)
    assert said["stretch"] is None
    plan = planned(store, capsys)
    assert plan["rests_on"] == ["trial piece"]
    assert plan["bends"][0]["mark_mm"] == pytest.approx(292, abs=0.01)
    assert plan["bends"][0]["free_radius_mm"] == pytest.approx(77, abs=0.01)


def test_a_second_piece_is_taken_together_with_the_kept_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = tmp_path / "b.db"
    trial(store, *U)
    capsys.readouterr()
    assert trial(store, *U, *U_FAR, "--json") == 0
    said = json.loads(capsys.readouterr().out)
    assert said["pieces"] == 2
    assert said["stretch"] is not None


def test_fresh_leaves_the_kept_pieces_out(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    store = tmp_path / "b.db"
    trial(store, *U)
    capsys.readouterr()
    assert trial(store, *U, "--fresh", "--json") == 0
    assert json.loads(capsys.readouterr().out)["pieces"] == 1


def test_a_dry_run_keeps_nothing(tmp_path: Path) -> None:
    assert trial(tmp_path / "b.db", *U, "--dry-run") == 0
    assert not (tmp_path / "b.db").exists()


def test_pieces_come_from_a_file_in_the_lengths_of_the_trade(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "pieces.yaml"
    file.write_text(
        "- {angle: 180, mark: 200 mm, cut: 65 cm, back: 297.5 mm, width: 179}\n"
        "- {angle: 90, mark: 7-7/8 in, leg: 297.5 mm}\n"
    )
    assert trial(tmp_path / "b.db", "--file", str(file), "--json") == 0
    assert json.loads(capsys.readouterr().out)["pieces"] == 2


def test_a_wrong_key_in_a_file_is_told_with_file_and_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "pieces.yaml"
    file.write_text("- angle: 180\n  widht: 179 mm\n")
    assert trial(tmp_path / "b.db", "--file", str(file)) == 2
    assert f"{file}:2: piece 1 widht: no such key; did you mean width?" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--mark", "200", "--leg", "300"), "--angle is missing"),
        (("--angle", "90", "--mark", "200", "--leg", "300"), "can't tell radius from start offset"),
        (("--angle", "90", "--mark", "two"), "--mark: 'two' is no length"),
        (("--angle", "-5"), "--angle: -5 is no measurement"),
        ((*U, "--gap", "150"), "don't agree"),
    ],
)
def test_what_cannot_be_used_is_refused_in_words_and_nothing_is_kept(
    words: tuple[str, ...], said: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert trial(tmp_path / "b.db", *words) == 2
    assert said in capsys.readouterr().err
    assert not (tmp_path / "b.db").exists()


def test_a_die_that_takes_several_tubes_wants_the_tube_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = ["--shop", str(starter_shop()), "--store", str(tmp_path / "b.db"), "trial", DIE]
    assert main(words) == 2
    assert "--tube, one of e235-25x2" in capsys.readouterr().err


def test_at_a_terminal_each_measurement_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    answers = iter(["180", "200", "650", "back?", "297.5", "", "179", "", ""])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("builtins.input", lambda _prompt: next(answers))
    assert trial(tmp_path / "b.db") == 0
    said = capsys.readouterr().out
    assert "'back?' is no length" in said
    assert "radius after springback    77.0 mm" in said
