"""Text on its way to a terminal."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.wording import is_printable, nearest, printable


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("rose-arch", "rose-arch"),
        ("Rosenbogen f\u00fcr M\u00fcller", "Rosenbogen f\u00fcr M\u00fcller"),
        ("\x1b[2Jgone", "\\x1b[2Jgone"),
        ("a\x00b\x7f", "a\\x00b\\x7f"),
        ("a\x9b31m", "a\\x9b31m"),
        ("two\nlines\r", "two\\nlines\\r"),
        ("a\u202egnp.exe", "a\\u202egnp.exe"),
        ("a\u2028b\u2029c\u0085", "a\\u2028b\\u2029c\\x85"),
        ("lone \udc80", "lone \\udc80"),
        ("[@click=app.quit]x[/x]", "[@click=app.quit]x[/x]"),
    ],
)
def test_what_could_steer_a_terminal_is_shown_as_an_escape(text: str, shown: str) -> None:
    assert printable(text) == shown


def test_long_text_is_cut_where_the_limit_is() -> None:
    assert printable("x" * 200, limit=10) == "xxxxxxx..."
    assert printable("x" * 10, limit=10) == "x" * 10


@given(st.text(alphabet=st.characters(), max_size=60), st.integers(3, 80))
def test_whatever_comes_in_leaves_as_one_harmless_line(text: str, limit: int) -> None:
    shown = printable(text, limit)
    assert len(shown) <= limit
    assert is_printable(shown)
    assert not {unicodedata.category(letter) for letter in shown} & {"Cc", "Cf", "Cs", "Zl", "Zp"}
    shown.encode("utf-8")


@given(st.text(max_size=60))
def test_text_that_is_printable_stays_as_it_is(text: str) -> None:
    assert (printable(text) == text) == is_printable(text)


def test_the_nearest_word_is_found_whatever_its_case() -> None:
    known = ("centreline_radius", "max_angle", "K")
    assert nearest("center_radius", known) == "centreline_radius"
    assert nearest("MAX_ANGEL", known) == "max_angle"
    assert nearest("k", known) == "K"


def test_no_word_is_offered_when_none_is_near() -> None:
    assert nearest("colour", ("od", "wall")) is None
    assert nearest("x" * 100_000, ("od", "wall")) is None
