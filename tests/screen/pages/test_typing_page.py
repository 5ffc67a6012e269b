import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.screen.pages.typing_page import TypedQuestion, read_amount
from benchmate.units import length_mm


def question(unit, least=-1e6, most=1e6):
    return TypedQuestion("What", unit, least, most)


@pytest.mark.parametrize(
    ("typed", "mm"),
    [
        ("12-3/4", 323.85),
        ("12 3/4", 323.85),
        ("6 1/2", 165.1),
        ("12.75", 323.85),
        ("12-3/4 in", 323.85),
        ('12-3/4"', 323.85),
        ("305 mm", 305.0),
        ("30.5cm", 305.0),
        ("1 ft 3/4 in", 323.85),
    ],
)
def test_in_a_shop_that_writes_inches_a_bare_number_is_inches(typed, mm):
    assert read_amount(typed, question("in")) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    ("typed", "mm"), [("305", 305.0), ("305 mm", 305.0), ("12-3/4 in", 323.85)]
)
def test_in_a_shop_that_writes_mm_it_is_mm(typed, mm):
    assert read_amount(typed, question("mm")) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize("typed", ["90", "90 deg", "90.0", "90\u00b0", " 90 degrees "])
def test_an_angle_is_read_with_or_without_its_unit(typed):
    assert read_amount(typed, question("deg")) == 90.0


@pytest.mark.parametrize("typed", ["9o", "12-3/4", "90 mm", ".", "-", "1e999"])
def test_what_is_no_angle_is_refused_with_what_would_be(typed):
    with pytest.raises(ValueError, match=r"No angle: write 90 or 22\.5 deg\."):
        read_amount(typed, question("deg"))


@pytest.mark.parametrize("typed", ["12-3/4x", "6 1/0", "90 deg", "3 ft 5 mm", "1/2", ""])
def test_what_is_no_length_is_refused_with_what_would_be(typed):
    with pytest.raises(ValueError, match="No length: write 12-3/4 in or 305 mm"):
        read_amount(typed, question("mm"))


def test_what_cannot_be_meant_is_refused():
    with pytest.raises(ValueError, match="can't be: write"):
        read_amount("-5", question("deg", least=0.0))
    with pytest.raises(ValueError, match="can't be: write"):
        read_amount("500", question("deg", most=360.0))


@given(st.integers(0, 99), st.integers(1, 63))
def test_every_fraction_of_a_tape_is_read_as_the_shop_files_read_it(whole, parts):
    written = f"{whole}-{parts}/64"
    assert read_amount(written, question("in")) == length_mm(f"{written} in")
