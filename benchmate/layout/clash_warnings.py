"""What the tube runs into, in plain words, with the ways of bending that clear it."""

from itertools import groupby

from benchmate.layout.bend_order import MOST_BENDS, BendOrder, other_orders
from benchmate.layout.clash import Clash, clashes
from benchmate.layout.tube_layout import TubeLayout
from benchmate.shop.keep_out import KeepOut

LONGEST_DIAMETERS = 20_000.0
"""No tube is this long; checking one would take a computer's whole memory."""


def clash_warnings(part: TubeLayout, od_mm: float, keep_out: KeepOut) -> tuple[str, ...]:
    """Give a sentence for each bend that runs into something, and one that proposes what clears."""
    if part.cut_length_mm > LONGEST_DIAMETERS * od_mm:
        return ("the tube is too long for its diameter to check what it runs into",)
    found = clashes(part, od_mm, keep_out)
    said = [_at(bend, list(met)) for bend, met in groupby(found, key=lambda clash: clash.bend)]
    if any(clash.bend for clash in found):
        way = next(other_orders(part, od_mm, keep_out), None)
        said.append(_none(len(part.angles_deg)) if way is None else f"it clears {_way(way)}")
    return tuple(said)


def _at(bend: int, met: list[Clash]) -> str:
    if bend == 0:
        return "the finished part runs into itself: its ends cross within the tube's own thickness"
    things = [
        clash.what if clash.at_deg is None else f"{clash.what} at about {clash.at_deg:.0f} deg"
        for clash in met
    ]
    return f"bend {bend}: the tube runs into {' and '.join(things)} as it swings"


def _none(bends: int) -> str:
    if bends <= MOST_BENDS:
        return "no other end or order clears it"
    return "neither the other end nor the last bend first clears it; other orders were not tried"


def _way(way: BendOrder) -> str:
    along = tuple(range(1, len(way.order) + 1))
    if way.other_end and way.order == along[::-1]:
        return (
            "bent from the other end, its last bend first: plan JOB --other-end shows those marks,"
            " and other_end: yes in the job's file makes them the job's"
        )
    if not way.other_end and way.order == along[::-1]:
        return "with the last bend made first, and the others back from there"
    end = "with the other end in the bender, " if way.other_end else ""
    if way.order == along:
        return f"{end}bend 1 made first"
    order = ", ".join(map(str, way.order))
    return (
        f"{end}with the bends made in the order {order}: marks as planned, turns added up from bend"
        " to bend along the tube"
    )
