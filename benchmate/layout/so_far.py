"""The part as far as it is bent, to be drawn over the whole of it."""

from collections.abc import Sequence
from dataclasses import replace

from benchmate.errors import Refusal
from benchmate.layout.asbent import AsBent
from benchmate.layout.chain import Chain
from benchmate.layout.marked import Marked


def bent_so_far(part: Marked, done: Sequence[AsBent]) -> Chain:
    """Give the bends done, in order, as they came out, and the straight up to the next bend.

    What nobody measured is taken as planned; after the last bend the tail is the straight. Raises
    Refusal for more bends done than the part has.
    """
    count = len(done)
    if count > len(part.angles_deg):
        raise Refusal(f"{count} bends done, and the part has {len(part.angles_deg)}")
    starts, turns, angles = part.starts_mm.copy(), part.turns_deg.copy(), part.angles_deg.copy()
    for bend, came in enumerate(done):
        for values, value in (
            (starts, came.start_mm),
            (turns, came.turn_deg),
            (angles, came.angle_deg),
        ):
            if value is not None:
                values[bend] = value
    whole = replace(part, starts_mm=starts, turns_deg=turns, angles_deg=angles).chain
    return Chain(
        straights_mm=whole.straights_mm[: count + 1],
        turns_deg=whole.turns_deg[:count],
        angles_deg=whole.angles_deg[:count],
        radius_mm=whole.radius_mm,
    )
