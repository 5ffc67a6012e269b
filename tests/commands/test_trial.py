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
        (("--angle", "180", *U[2:-2]), "measure of the last piece as well:\n    --width"),
        (("--angle", "89.5", "--mark", "250", "--cut", "600", "--leg", "300"), "bend to 180 deg"),
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


@pytest.fixture
def typed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path, capsys: pytest.CaptureFixture[str]):
    """Run ``benchmate trial`` at a terminal with these answers; give status, output and errors."""

    def run(*answers: str, words: tuple[str, ...] = ()) -> tuple[int, str, str]:
        given = iter(answers)
        monkeypatch.setattr("sys.stdin.isatty", lambda: True)
        monkeypatch.setattr("builtins.input", lambda _prompt: next(given))
        status = trial(tmp_path / "b.db", *words)
        said = capsys.readouterr()
        assert next(given, None) is None, "not all was asked for"
        return status, said.out, said.err

    return run


def test_at_a_terminal_each_measurement_is_asked_for(typed) -> None:
    status, out, _ = typed("180", "200", "650", "back?", "297.5", "", "179", "", "")
    assert status == 0
    assert "lengths in mm" in out
    assert "'back?' is no length" in out
    assert "radius after springback    77.0 mm" in out


def test_what_was_typed_stays_when_one_more_measurement_makes_it_enough(typed) -> None:
    u_without_width = ("180", "200", "650", "297.5", "", "", "")
    status, out, _ = typed(*u_without_width, "", "179")
    assert status == 0
    assert "not enough yet" in out
    assert "what you typed is kept here" in out
    assert "--width     over the outsides" in out
    assert "radius after springback    77.0 mm" in out


def test_what_was_typed_stays_when_it_takes_another_piece(typed) -> None:
    square = ("90", "200", "", "", "", "297.5", "")
    half = ("45", "200", "", "245.07", "")
    status, out, _ = typed(*square, "", *half)
    assert status == 0
    assert "bend another piece" in out
    assert "2 pieces" in out


def test_who_stops_there_gets_what_was_typed_as_a_file(typed, tmp_path: Path) -> None:
    square = ("90", "200", "", "", "", "297.5", "")
    status, _, err = typed(*square, "", "")
    assert status == 2
    assert not (tmp_path / "b.db").exists()
    line = err.strip().splitlines()[-1]
    assert line == "- {angle: 90, mark: 200.00 mm, back: 297.50 mm}"
    file = tmp_path / "pieces.yaml"
    file.write_text(f"{line}\n- {{angle: 45, mark: 200, leg: 245.07}}\n")
    assert trial(tmp_path / "b.db", "--file", str(file)) == 0


def test_a_piece_that_cannot_be_is_asked_for_once_more(typed) -> None:
    status, out, _ = typed(*("180", "200", "150", "297.5", "", "179", ""), *(
        "180", "200", "650", "297.5", "", "179", "",
    ), "")  # fmt: skip
    assert status == 0
    assert "lies past the cut length of 150.0 mm; once more, this piece" in out


INCHES = ("--unit", "frac")


def test_in_a_shop_that_writes_inches_it_asks_and_answers_in_inches(typed) -> None:
    answers = ("180", "8", "26", "11-13/16", "", "7-1/16", "", "")
    status, out, _ = typed(*answers, words=INCHES)
    assert status == 0
    assert "lengths in inches, as 11-3/4" in out
    assert "radius after springback    3-1/32 in" in out
    assert "mm" not in out.replace("or as 298 mm", "")


def test_a_bare_number_is_in_the_shops_unit_and_a_unit_says_otherwise(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    inches = ("--angle", "180", "--mark", "8", "--back", "11-13/16", "--width", "7-1/16")
    mm = ("--angle", "180", "--mark", "203.2 mm", "--back", "300.0375 mm", "--width", "179.3875 mm")
    for words in (inches, mm):
        assert trial(tmp_path / "b.db", *words, *INCHES, "--dry-run", "--json") == 0
    one, two = map(json.loads, capsys.readouterr().out.splitlines())
    assert one == two


def test_a_bare_number_in_a_file_is_refused_where_it_may_be_meant_in_inches(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "pieces.yaml"
    file.write_text("- {angle: 180, mark: 8, back: 11-13/16 in, width: 179.4 mm}\n")
    assert trial(tmp_path / "b.db", "--file", str(file), *INCHES) == 2
    assert "8 has no unit; write 8 in or 8 mm" in capsys.readouterr().err
    assert trial(tmp_path / "b.db", "--file", str(file), "--dry-run") == 2


@pytest.mark.parametrize("words", [(*U, "--gap", "150"), (*U[:3], "10", *U[4:])])
def test_no_figure_is_shown_that_rests_on_what_cannot_be(
    words: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert trial(tmp_path / "b.db", *words) == 2
    said = capsys.readouterr()
    assert "start offset" not in said.out
    assert "stretch" not in said.out
    assert "can't be right" in said.err
