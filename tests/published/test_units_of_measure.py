"""Units against their published definitions.

Inch and foot: exact, international yard and pound agreement, 1959. psi and ksi: NIST Special
Publication 811, Guide for the Use of the SI, Appendix B.8, to the seven digits that it prints, as a
public table of unit factors quotes them from there (Unitility, GoldenTable). ksi is a thousand psi.
"""

import pytest

from benchmate.units import length_mm, modulus_gpa, stress_mpa


def test_an_inch_is_25_4_mm_and_a_foot_304_8_mm_exactly() -> None:
    assert length_mm("1 in") == 25.4
    assert length_mm("1 ft") == 304.8


@pytest.mark.parametrize(("written", "pa"), [("1 psi", 6.894757e3), ("1 ksi", 6.894757e6)])
def test_pounds_a_square_inch_are_those_of_the_table(written: str, pa: float) -> None:
    assert float(f"{stress_mpa(written) * 1e6:.6e}") == pa
    assert modulus_gpa(written) == pytest.approx(pa / 1e9, rel=1e-7)
