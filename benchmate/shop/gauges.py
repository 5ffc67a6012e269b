"""Gauge numbers of tube walls: the Birmingham wire gauge (BWG).

The table is a standard that never changes, so it is no file to be edited. Source: Birmingham or
Stubs' iron wire gauge, as ASTM A450/A450M and tube merchants' tables print it (from memory).
"""

import re
from fractions import Fraction

BIRMINGHAM_IN = {
    "0": "0.340",
    "1": "0.300",
    "2": "0.284",
    "3": "0.259",
    "4": "0.238",
    "5": "0.220",
    "6": "0.203",
    "7": "0.180",
    "8": "0.165",
    "9": "0.148",
    "10": "0.134",
    "11": "0.120",
    "12": "0.109",
    "13": "0.095",
    "14": "0.083",
    "15": "0.072",
    "16": "0.065",
    "17": "0.058",
    "18": "0.049",
    "19": "0.042",
    "20": "0.035",
    "21": "0.032",
    "22": "0.028",
    "23": "0.025",
    "24": "0.022",
}
"""Thickness in inches by gauge number."""
_GAUGE = re.compile(r"(\d{1,2}) ?(?:ga|ga\.|gauge|gage|bwg|swg)", re.ASCII)


def gauge_in(written: str) -> str | None:
    """Give the wall in inches, as the table prints it, of "14 ga", "14 gauge" or "14 BWG".

    None for what is no gauge at all. ValueError for a number that the table doesn't have, and for
    another gauge's name.
    """
    match = _GAUGE.fullmatch(" ".join(written.lower().split()))
    if match is None:
        return None
    if "swg" in written.lower():
        raise ValueError("SWG is another gauge than tube's BWG; write the wall as 2 mm or 0.083 in")
    number = str(int(match[1]))
    if number not in BIRMINGHAM_IN:
        raise ValueError(f"there is no wall of {number} ga; write 0 to 24, or the wall as 0.083 in")
    return BIRMINGHAM_IN[number]


def gauge_mm(written: str) -> float | None:
    """Give the wall in mm of a gauge number, None for what is no gauge; errors of ``gauge_in``."""
    inches = gauge_in(written)
    return None if inches is None else float(Fraction(inches) * Fraction("25.4"))
