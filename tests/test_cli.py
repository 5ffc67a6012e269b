"""The command line's answers to words that it doesn't know."""

import pytest

from benchmate.cli import main


@pytest.mark.parametrize(
    ("words", "meant"),
    [
        (("paln", "barrow-handle"), "plan"),
        (("plan", "barrow-handle", "--unit", "inch"), "in"),
        (("plan", "barrow-handle", "--untit", "mm"), "--unit"),
        (("log", "wihtdraw", "1"), "withdraw"),
        (("sheet", "barrow-handle", "--paper", "leter"), "letter"),
    ],
)
def test_a_word_that_is_nearly_right_is_answered_with_the_right_one(
    words: tuple[str, ...], meant: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*words]) == 2
    assert capsys.readouterr().err.endswith(f"; did you mean {meant}?\n")


@pytest.mark.parametrize("words", [("plan", "x", "--unit", "furlong"), ("plan", "x", "extra")])
def test_a_word_that_is_near_to_nothing_gets_no_guess(
    words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main([*words]) == 2
    assert "did you mean" not in capsys.readouterr().err


def test_a_name_with_spaces_wants_quotes(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["plan", "barrow", "handle"]) == 2
    assert "a name with spaces takes quotes round it" in capsys.readouterr().err


@pytest.mark.parametrize("option", ["--angle", "--tolerance"])
def test_an_angle_that_is_none_is_told_with_what_would_be_right(
    option: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["watch", option, "ninety"]) == 2
    assert "'ninety' is no angle; write it in degrees, as in 90 or 22.5 deg" in (
        capsys.readouterr().err
    )


@pytest.mark.parametrize("written", ["90", "90deg", "90 deg", "90\u00b0"])
def test_an_angle_is_taken_with_its_unit_or_without(
    written: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["watch", "--angle", written]) == 2
    assert "name a JOB, or give --angle, --die and --tube" in capsys.readouterr().err
