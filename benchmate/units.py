"""Lengths, stresses and angles as people write and read them.

One inch is 25.4 mm exactly and one pound 0.45359237 kg exactly (international yard and pound
agreement, 1959); standard gravity is 9.80665 m/s2 exactly. Sums are done in fractions, so that
what was written is rounded once, when it becomes a float.
"""

import math
import re
import sys
from collections.abc import Mapping
from fractions import Fraction
from typing import Literal

LengthUnit = Literal["mm", "in", "frac"]
"""How lengths are shown: millimetres, decimal inches, or inches in fractions."""

_INCH = Fraction("25.4")
_PSI_IN_MPA = Fraction("0.45359237") * Fraction("9.80665") / _INCH**2

_MM = {
    "mm": Fraction(1),
    "cm": Fraction(10),
    "m": Fraction(1000),
    **dict.fromkeys(("in", "in.", "inch", "inches", '"', "\u2033"), _INCH),
}
_FEET = ("ft", "ft.", "foot", "feet", "'", "\u2032")
_MPA = {
    "mpa": Fraction(1),
    "n/mm2": Fraction(1),
    "n/mm\u00b2": Fraction(1),
    "gpa": Fraction(1000),
    "psi": _PSI_IN_MPA,
    "ksi": 1000 * _PSI_IN_MPA,
}
_DEG = dict.fromkeys(("deg", "degree", "degrees", "\u00b0"), Fraction(1))

_LONGEST = 40
_HUGE = sys.float_info.max
_NUMBER = r"(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d{1,2})?"
_MIXED = rf"(?:\d+(?: ?- ?| ))?\d+ ?/ ?\d+|{_NUMBER}"


def _any_of(units: tuple[str, ...] | Mapping[str, Fraction]) -> str:
    return "|".join(re.escape(unit) for unit in sorted(units, key=len, reverse=True))


_LENGTH = re.compile(
    rf"(?P<sign>[+-]?) ?(?:(?P<feet>{_NUMBER}) ?(?:{_any_of(_FEET)})(?: |$|(?=\d)))?"
    rf"(?:(?P<amount>{_MIXED}) ?(?P<unit>{_any_of(_MM)})?)?",
    re.ASCII,
)
_STRESS = re.compile(rf"(?P<amount>[+-]?{_NUMBER}) ?(?P<unit>{_any_of(_MPA)})?", re.ASCII)
_ANGLE = re.compile(rf"(?P<amount>[+-]?{_NUMBER}) ?(?P<unit>{_any_of(_DEG)})?", re.ASCII)


def length_mm(written: str | float) -> float:
    """Read a length: "25 mm", "2.5 cm", "7/8 in", "1-5/8 in", "0.095 in", "3 ft 2-1/2 in".

    A bare number is mm. ValueError with one sentence for anything else, and for what isn't finite.
    """
    right = "write it as 25 mm, 7/8 in or 1-5/8 in"
    if not isinstance(written, str):
        return _finite(written, "length", right)
    match = _LENGTH.fullmatch(_squeezed(written))
    if match is None or not (match["feet"] or match["amount"]):
        raise ValueError(f"{_quoted(written)} is no length; {right}")
    unit = match["unit"]
    total = Fraction(match["feet"] or 0) * 12 * _INCH
    if match["amount"]:
        if match["feet"] and _MM.get(unit) != _INCH:
            raise ValueError(
                f"{_quoted(written)} is no length; inches follow feet, as in 3 ft 2 in"
            )
        if unit is None and "/" in match["amount"]:
            raise ValueError(f"{_quoted(written)} has no unit; a fraction needs one, as in 7/8 in")
        total += _amount(match["amount"], written) * (_MM[unit] if unit else 1)
    return float(-total if match["sign"] == "-" else total)


def stress_mpa(written: str | float) -> float:
    """Read a stress or strength in MPa, N/mm2, GPa, ksi or psi; a bare number is MPa."""
    right = "write it as 355 MPa or 60 ksi"
    if not isinstance(written, str):
        return _finite(written, "stress", right)
    amount, unit = _quantity(written, _STRESS, "stress", right)
    return float(amount * _MPA[unit or "mpa"])


def modulus_gpa(written: str | float) -> float:
    """Read an elastic modulus in GPa, MPa, ksi, psi; a bare number below 1000 is GPa, else MPa."""
    right = "write it as 205 GPa or 29.7e6 psi"
    if not isinstance(written, str):
        bare = _finite(written, "modulus", right)
        return bare if abs(bare) < 1000 else bare / 1000
    amount, unit = _quantity(written, _STRESS, "modulus", right)
    return float(amount * _MPA[unit or ("gpa" if abs(amount) < 1000 else "mpa")] / 1000)


def angle_deg(written: str | float) -> float:
    """Read an angle in degrees: "90", "90 deg" or "90\u00b0"."""
    right = "write it in degrees, as in 90 or 22.5 deg"
    if not isinstance(written, str):
        return _finite(written, "angle", right)
    return float(_quantity(written, _ANGLE, "angle", right)[0])


def show_length(mm: float, unit: LengthUnit = "mm") -> str:
    """Write a length with its unit: "41.3 mm", "1.625 in", or "1-5/8 in" to the nearest 1/32.

    ``length_mm`` reads it back. ValueError for what isn't finite.
    """
    _finite(mm, "length", "only finite lengths can be shown")
    if unit == "mm":
        return f"{_unsigned_zero(round(mm, 1)):.1f} mm"
    inches = mm / float(_INCH)
    if unit == "in":
        return f"{_unsigned_zero(round(inches, 3)):.3f} in"
    parts = round(abs(inches) * 32)
    whole, rest = divmod(parts, 32)
    fraction = Fraction(rest, 32)
    sign = "-" if inches < 0 and parts else ""
    if not rest:
        return f"{sign}{whole} in"
    return f"{sign}{whole}-{fraction} in" if whole else f"{sign}{fraction} in"


def _quantity(
    written: str, pattern: re.Pattern[str], what: str, right: str
) -> tuple[Fraction, str | None]:
    match = pattern.fullmatch(_squeezed(written))
    if match is None:
        raise ValueError(f"{_quoted(written)} is no {what}; {right}")
    return Fraction(match["amount"]), match["unit"]


def _squeezed(written: str) -> str:
    """Give it in lower case with single spaces; what is too long to be a quantity becomes empty."""
    return "" if len(written) > _LONGEST else " ".join(written.lower().split())


def _amount(amount: str, written: str) -> Fraction:
    if "/" not in amount:
        return Fraction(amount)
    *whole, top, bottom = map(int, re.findall(r"\d+", amount))
    if bottom == 0:
        raise ValueError(f"{_quoted(written)} divides by nought; write it as 7/8 in")
    return sum(whole) + Fraction(top, bottom)


def _finite(number: float, what: str, right: str) -> float:
    if isinstance(number, bool) or not abs(number) < math.inf or abs(number) > _HUGE:
        raise ValueError(f"that is no finite {what}; {right}")
    return float(number)


def _quoted(written: str) -> str:
    return ascii(written if len(written) <= _LONGEST else written[:_LONGEST] + "...")


def _unsigned_zero(number: float) -> float:
    return number + 0.0
