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

INCH_MM = float(_INCH)
MPA_PER_KSI = float(1000 * _PSI_IN_MPA)

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


def length_mm(written: str | float, bare: LengthUnit = "mm") -> float:
    """Read a length: "25 mm", "2.5 cm", "7/8 in", "1-5/8 in", "0.083 in", "3 ft 2-1/2 in".

    A bare number is mm, or inches where ``bare`` says that people there write inches. ValueError
    with one sentence for anything else, and for what isn't finite.
    """
    right = "write it as 25 mm, 7/8 in or 1-5/8 in"
    unwritten = Fraction(1) if bare == "mm" else _INCH
    if not isinstance(written, str):
        return _finite(_finite(written, "length", right) * float(unwritten), "length", right)
    match = _LENGTH.fullmatch(_squeezed(written))
    if match is None or not (match["feet"] or match["amount"]):
        pointed = written.replace(",", ".", 1)
        if "," in written and _LENGTH.fullmatch(_squeezed(pointed)):
            raise ValueError(
                f"{_quoted(written)} has a comma; write a point, as in {ascii(pointed)[1:-1]}"
            )
        raise ValueError(f"{_quoted(written)} is no length; {right}")
    unit = match["unit"]
    total = Fraction(match["feet"] or 0) * 12 * _INCH
    if match["amount"]:
        if match["feet"] and _MM.get(unit) != _INCH:
            raise ValueError(
                f"{_quoted(written)} is no length; inches follow feet, as in 3 ft 2 in"
            )
        if unit is None and "/" in match["amount"] and bare == "mm":
            raise ValueError(f"{_quoted(written)} has no unit; a fraction needs one, as in 7/8 in")
        total += _amount(match["amount"], written) * (_MM[unit] if unit else unwritten)
    return float(-total if match["sign"] == "-" else total)


def is_bare(written: str) -> bool:
    """Say whether a length is written without a unit."""
    match = _LENGTH.fullmatch(_squeezed(written))
    return match is not None and match["unit"] is None and not match["feet"]


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
    return _fraction(mm, 32)


def show_on_tape(mm: float, unit: LengthUnit = "mm", division_mm: float = 0.0) -> str:
    """Write a mark or cut length as a tape shows it: "305 mm", "11.34 in", "11-11/32 in".

    Without a division: to whole mm, 0.01 in or 1/32 in. With one, the length is taken to lie on it,
    and as many digits are written as tell it. ValueError for what isn't finite.
    """
    _finite(mm, "length", "only finite lengths can be shown")
    if unit == "frac":
        return _fraction(mm, 64 if 0 < division_mm < float(_INCH) / 32 else 32)
    amount = mm if unit == "mm" else mm / float(_INCH)
    if division_mm:
        return f"{_unsigned_zero(round(amount, 2 if unit == 'mm' else 4)):.9g} {unit}"
    digits = 0 if unit == "mm" else 2
    return f"{_unsigned_zero(round(amount, digits)):.{digits}f} {unit}"


def own_division_mm(unit: LengthUnit) -> float:
    """Give the division that ``show_on_tape`` writes to when none is said: 1 mm, 0.01, 1/32 in."""
    return {"mm": 1.0, "in": float(_INCH) / 100, "frac": float(_INCH) / 32}[unit]


def show_about(mm: float, unit: LengthUnit = "mm") -> str:
    """Write a length that is only known about, a spread or a cost: "36 mm", "0.4 mm", "1-3/8 in".

    Fractions come in eighths from an inch on, else in 1/32; what would read as nought is "under"
    the least that can be written. ValueError for what isn't finite.
    """
    _finite(mm, "length", "only finite lengths can be shown")
    size = abs(mm)
    if unit == "frac":
        if 0 < size < float(_INCH) / 64:
            return "under 1/32 in"
        return _fraction(mm, 8 if size >= float(_INCH) else 32)
    amount = size if unit == "mm" else size / float(_INCH)
    digits = (0 if amount >= 9.95 else 1) if unit == "mm" else (1 if amount >= 9.95 else 2)
    if 0 < amount < 0.5 * 10**-digits:
        return f"under {10**-digits:.{digits}f} {unit}"
    return f"{'-' if mm < 0 else ''}{amount:.{digits}f} {unit}"


def show_size(mm: float, unit: LengthUnit = "mm") -> str:
    """Write a tube's diameter or wall as it is sold: "2.5 mm", "1-3/8 in", and "0.083 in".

    A fraction only where it is the size itself: walls come in gauges, which no fraction names.
    ValueError for what isn't finite.
    """
    _finite(mm, "length", "only finite lengths can be shown")
    if unit == "mm":
        return f"{_unsigned_zero(round(mm, 2)):g} mm"
    thirty_seconds = mm / float(_INCH) * 32
    named = abs(thirty_seconds - round(thirty_seconds)) < 0.01
    return show_length(mm, "frac" if unit == "frac" and named else "in")


def show_turn(turn_deg: float) -> str:
    """Write a turn with the way it goes for who looks along the feed: "45.0 clockwise", or "0"."""
    shown = round(turn_deg, 1)
    if not shown:
        return "0"
    return f"{abs(shown):.1f} {'clockwise' if shown > 0 else 'anticlockwise'}"


TURN_SEEN = "looking along the feed, from the last end towards the first"
"""From where ``show_turn``'s way is seen: turns are right-handed about the feed, and the first end
goes ahead."""


def _fraction(mm: float, parts: int) -> str:
    inches = mm / float(_INCH)
    count = round(abs(inches) * parts)
    whole, rest = divmod(count, parts)
    sign = "-" if inches < 0 and count else ""
    if not rest:
        return f"{sign}{whole} in"
    fraction = Fraction(rest, parts)
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
