"""What the tube runs into, in plain words, with the ways of bending that clear it."""

from itertools import groupby

from benchmate.layout.clash import Clash, Way, clashes, other_ways
from benchmate.layout.marked import Marked
from benchmate.shop.keep_out import KeepOut

LONGEST_DIAMETERS = 20_000.0
"""No tube is this long; checking one would take a computer's whole memory."""


def clash_warnings(part: Marked, od_mm: float, keep_out: KeepOut) -> tuple[str, ...]:
    """Give a sentence for each bend that runs into something, and one that proposes what clears."""
    if part.cut_length_mm > LONGEST_DIAMETERS * od_mm:
        return ("the tube is too long for its diameter to check what it runs into",)
    found = clashes(part, od_mm, keep_out)
    said = [_at(bend, list(met)) for bend, met in groupby(found, key=lambda clash: clash.bend)]
    if any(clash.bend for clash in found):
        ways = other_ways(part, od_mm, keep_out)
        said.append(f"it clears {_way(ways[0])}" if ways else "no other end or order clears it")
    return tuple(said)


def _at(bend: int, met: list[Clash]) -> str:
    if bend == 0:
        return "the finished part runs into itself: its ends cross within the tube's own thickness"
    things = [
        clash.what if clash.at_deg is None else f"{clash.what} at about {clash.at_deg:.0f} deg"
        for clash in met
    ]
    return f"bend {bend}: the tube runs into {' and '.join(things)} as it swings"


def _way(way: Way) -> str:
    if way.other_end and way.last_bend_first:
        return "with the other end in the bender, the last bend made first"
    if way.other_end:
        return "bent from the other end: turn the job round, its last bend first"
    return "with the last bend made first, and the others back from there"
