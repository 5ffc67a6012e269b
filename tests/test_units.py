"""Lengths, stresses and angles as the trade writes them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.units import (
    angle_deg,
    length_mm,
    modulus_gpa,
    own_division_mm,
    show_about,
    show_length,
    show_on_tape,
    show_size,
    show_turn,
    stress_mpa,
)

FINITE = st.floats(min_value=-90_000, max_value=90_000)


@pytest.mark.parametrize(
    ("written", "mm"),
    [
        ("25", 25.0),
        ("25 mm", 25.0),
        ("25mm", 25.0),
        ("2.5 cm", 25.0),
        ("6 m", 6000.0),
        (".5 mm", 0.5),
        ("7/8 in", 22.225),
        ("1-5/8 in", 41.275),
        ("1 5/8 in", 41.275),
        ('1-5/8"', 41.275),
        ("1-5/8 INCHES", 41.275),
        ("1\u2033", 25.4),
        ("0.083 in", 2.1082),
        ("3 ft", 914.4),
        ("3 ft 2-1/2 in", 977.9),
        ("3' 2-1/2\"", 977.9),
        ("-1/2 in", -12.7),
        ("+12 mm", 12.0),
        (25, 25.0),
        (25.5, 25.5),
    ],
)
def test_a_length_is_read_as_the_trade_writes_it(written: str | float, mm: float) -> None:
    assert length_mm(written) == mm


@pytest.mark.parametrize(
    "written",
    [
        "",
        "mm",
        "-",
        "1:30",
        "25,4 mm",
        "1_000",
        "nan",
        "inf",
        "0x19",
        "true",
        "25 miles",
        "25 mm mm",
        "3 ft 20 mm",
        "3 ft 2",
        "2 in 3 ft",
        "1/2/3 in",
        "1/0 in",
        "\u0661 mm",
        "9" * 41,
        math.nan,
        math.inf,
        10**400,
        True,
    ],
)
def test_what_is_no_length_is_refused_in_one_sentence_that_shows_how(written: str | float) -> None:
    with pytest.raises(ValueError, match=r"^[^\n]{1,120}(25 mm|7/8 in|3 ft 2 in|25\.4 mm)[^\n]*$"):
        length_mm(written)


def test_a_fraction_without_unit_is_refused_for_it_could_be_either() -> None:
    with pytest.raises(ValueError, match=r"'5/8' has no unit; a fraction needs one"):
        length_mm("5/8")


@pytest.mark.parametrize(
    ("written", "mpa"),
    [("355", 355.0), ("355 MPa", 355.0), ("355 N/mm2", 355.0), ("355 N/mm\u00b2", 355.0)],
)
def test_a_strength_is_read_in_metric_units(written: str, mpa: float) -> None:
    assert stress_mpa(written) == mpa


def test_a_thousand_psi_are_one_ksi() -> None:
    assert stress_mpa("60000 psi") == stress_mpa("60 ksi")


@pytest.mark.parametrize("written", ["60 kg", "60 ksi psi", "", "sixty", "nan", True, math.inf])
def test_what_is_no_strength_is_refused(written: str | float) -> None:
    with pytest.raises(ValueError, match="355 MPa or 60 ksi"):
        stress_mpa(written)


@pytest.mark.parametrize("written", ["205", "205 GPa", "205000", "205000 MPa", 205, 205_000])
def test_a_modulus_may_be_in_gpa_or_mpa(written: str | float) -> None:
    assert modulus_gpa(written) == 205.0


def test_a_modulus_in_psi_is_written_with_its_power_of_ten() -> None:
    assert modulus_gpa("29e6 psi") == modulus_gpa("29000 ksi")


@pytest.mark.parametrize("written", ["90", "90 deg", "90deg", "90\u00b0", "90.0 degrees", 90])
def test_an_angle_is_read_in_degrees(written: str | float) -> None:
    assert angle_deg(written) == 90.0


@pytest.mark.parametrize("written", ["1:30", "1.57 rad", "", "90 %", "nan", False])
def test_what_is_no_angle_is_refused(written: str | float) -> None:
    with pytest.raises(ValueError, match=r"22\.5 deg"):
        angle_deg(written)


@pytest.mark.parametrize(
    ("mm", "unit", "shown"),
    [
        (41.275, "mm", "41.3 mm"),
        (41.275, "in", "1.625 in"),
        (41.275, "frac", "1-5/8 in"),
        (22.225, "frac", "7/8 in"),
        (25.4, "frac", "1 in"),
        (25.3, "frac", "1 in"),
        (-12.7, "frac", "-1/2 in"),
        (-0.01, "mm", "0.0 mm"),
        (-0.01, "in", "0.000 in"),
        (-0.01, "frac", "0 in"),
    ],
)
def test_a_length_is_shown_in_the_unit_that_the_person_chose(
    mm: float, unit: str, shown: str
) -> None:
    assert show_length(mm, unit) == shown


@pytest.mark.parametrize("mm", [math.nan, math.inf, -math.inf])
def test_a_length_that_is_not_finite_is_never_shown(mm: float) -> None:
    with pytest.raises(ValueError, match="finite"):
        show_length(mm)


@given(FINITE)
def test_what_is_shown_reads_back_to_within_half_its_last_place(mm: float) -> None:
    for unit, half_mm in (("mm", 0.05), ("in", 0.0005 * 25.4), ("frac", 25.4 / 64)):
        assert abs(length_mm(show_length(mm, unit)) - mm) <= half_mm * (1 + 1e-9)


@given(st.integers(0, 400), st.integers(0, 31))
def test_thirty_seconds_of_an_inch_survive_writing_and_reading(whole: int, parts: int) -> None:
    mm = length_mm(f"{whole * 32 + parts}/32 in")
    assert length_mm(show_length(mm, "frac")) == mm


@given(FINITE.map(lambda number: f"{number:.6f}"))
def test_a_plain_number_is_the_same_in_every_reader_that_takes_it_bare(written: str) -> None:
    assert length_mm(written) == stress_mpa(written) == angle_deg(written) == float(written)


@given(st.text(max_size=50))
def test_any_text_is_read_or_refused_and_nothing_else(written: str) -> None:
    for read in (length_mm, stress_mpa, modulus_gpa, angle_deg):
        try:
            said = str(read(written))
        except ValueError as error:
            said = str(error)
        assert said.isprintable()
        assert said not in {"nan", "inf", "-inf"}


@pytest.mark.parametrize(
    ("written", "inches"), [("10", 10.0), ("11-3/4", 11.75), ("7/8", 0.875), ("10 in", 10.0)]
)
def test_where_people_write_inches_a_bare_number_is_inches(written: str, inches: float) -> None:
    assert length_mm(written, "frac") == pytest.approx(inches * 25.4)
    assert length_mm(written, "in") == pytest.approx(inches * 25.4)
    assert length_mm("254 mm", "frac") == 254.0


@pytest.mark.parametrize(
    ("mm", "unit", "division_mm", "shown"),
    [
        (305.4, "mm", 0.0, "305 mm"),
        (305.0, "mm", 1.0, "305 mm"),
        (305.5, "mm", 0.5, "305.5 mm"),
        (-0.2, "mm", 0.0, "0 mm"),
        (288.0, "in", 0.0, "11.34 in"),
        (25.4 * 11.25, "in", 25.4 / 16, "11.25 in"),
        (288.0, "frac", 0.0, "11-11/32 in"),
        (25.4 * 11.0625, "frac", 25.4 / 16, "11-1/16 in"),
        (25.4 / 64, "frac", 25.4 / 64, "1/64 in"),
        (25.4 * 40, "in", 25.4, "40 in"),
    ],
)
def test_marks_are_written_as_a_tape_shows_them(
    mm: float, unit: str, division_mm: float, shown: str
) -> None:
    assert show_on_tape(mm, unit, division_mm) == shown


@pytest.mark.parametrize("unit", ["mm", "in", "frac"])
def test_a_length_on_the_units_own_division_reads_back_as_it_is(unit: str) -> None:
    for count in (1, 37, 1000):
        mm = count * own_division_mm(unit)
        assert length_mm(show_on_tape(mm, unit)) == pytest.approx(mm)


@pytest.mark.parametrize(
    ("mm", "unit", "shown"),
    [
        (36.3, "mm", "36 mm"),
        (0.4, "mm", "0.4 mm"),
        (9.96, "mm", "10 mm"),
        (0.01, "mm", "under 0.1 mm"),
        (0.0, "mm", "0.0 mm"),
        (36.3, "frac", "1-3/8 in"),
        (1.47, "frac", "1/16 in"),
        (0.2, "frac", "under 1/32 in"),
        (36.3, "in", "1.43 in"),
        (0.1, "in", "under 0.01 in"),
    ],
)
def test_what_is_known_only_about_is_not_written_to_a_hair(
    mm: float, unit: str, shown: str
) -> None:
    assert show_about(mm, unit) == shown


@pytest.mark.parametrize(
    ("mm", "unit", "shown"),
    [
        (25.0, "mm", "25 mm"),
        (2.5, "mm", "2.5 mm"),
        (3.048, "frac", "0.120 in"),
        (34.925, "frac", "1-3/8 in"),
        (3.175, "frac", "1/8 in"),
        (25.0, "frac", "0.984 in"),
        (34.925, "in", "1.375 in"),
    ],
)
def test_a_wall_is_a_fraction_only_where_it_is_one(mm: float, unit: str, shown: str) -> None:
    assert show_size(mm, unit) == shown


@pytest.mark.parametrize(
    ("turn", "shown"),
    [(90.0, "90.0 clockwise"), (-45.0, "45.0 anticlockwise"), (0.0, "0"), (-0.02, "0")],
)
def test_a_turn_says_which_way_and_never_minus_nought(turn: float, shown: str) -> None:
    assert show_turn(turn) == shown
