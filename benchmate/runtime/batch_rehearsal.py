"""Bends at full speed: the closed loop of aim, press, reading and learning, in angles alone.

No chip, no bytes, no clock: the simulated tube answers the peak at once, and readings are off by
what sensor and protractor usually are. What is drawn comes from the seed and from nothing else.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from benchmate.shop.parts import Bench, Die, Tube
from benchmate.sim.draws import chance
from benchmate.sim.operator import Protractor
from benchmate.sim.truth import draw_piece, draw_truth
from benchmate.sim.tube import SimulatedBend
from benchmate.springback import Bend, Hit, Springback

STOP_SD_DEG, ARM_SD_DEG, PROTRACTOR_SD_DEG = 0.25, 0.08, 0.12
"""The person at the pump past the stop angle; the sensor at peak and rest; the protractor."""
ON_ONE_SETUP = 16
_MOST_HITS = 8


@dataclass(frozen=True, slots=True)
class RehearsedBend:
    """How one rehearsed bend came out. Degrees."""

    number: int
    """Which bend of its setup, from 1."""
    hits: int
    error: float
    """The tube's true bend angle less the one wanted."""
    first_z: float
    """The first hit's error in its predicted standard deviations."""
    last_z: float
    """The last estimate's error in its own."""


@dataclass(frozen=True, slots=True)
class BatchRequest:
    """What to rehearse."""

    bench: Bench
    die: Die
    tube: Tube
    lot: str
    angles: Sequence[float]
    tolerance: float
    over_limit: float
    bends: int
    seed: int
    protractor: Protractor


def rehearsed(wish: BatchRequest) -> Iterator[RehearsedBend]:
    """Bend so many, a few on each of ever new setups that nobody has bent on before."""
    setups = math.ceil(wish.bends / ON_ONE_SETUP)
    for setup in range(setups):
        count = min(ON_ONE_SETUP, wish.bends - setup * ON_ONE_SETUP)
        yield from _on_one_setup(wish, wish.seed * 1_000_003 + setup, count)


def _on_one_setup(wish: BatchRequest, seed: int, count: int) -> Iterator[RehearsedBend]:
    model = Springback(wish.bench, wish.die, wish.tube, wish.lot, over_limit=wish.over_limit)
    for number in range(1, count + 1):
        made, bend = _bend(wish, model, seed, number)
        model = model.learn((bend,))
        yield made


def _bend(
    wish: BatchRequest, model: Springback, seed: int, number: int
) -> tuple[RehearsedBend, Bend]:
    wanted = wish.angles[(number - 1) % len(wish.angles)]
    off = chance(seed, "bend", number)
    truth = draw_truth(seed, wish.die, wish.tube, wish.lot)
    own, share = draw_piece(seed, number)
    place = SimulatedBend(replace(truth, piece_deg=own, piece_share=share))
    aim = first = model.aim(wanted, wish.tolerance)
    hits: list[Hit] = []
    stops: list[float] = []
    after_first = 0.0
    while aim.verdict == "again" and len(hits) < _MOST_HITS:
        peak = aim.stop_angle + off.normal(0, STOP_SD_DEG)
        place = place.press(peak - off.normal(0, ARM_SD_DEG))
        rest = place.rest_deg + off.normal(0, ARM_SD_DEG)
        hits.append(Hit(float(peak), float(rest) if wish.bench.arm.follows_tube else None, None))
        stops.append(aim.stop_angle)
        after_first = after_first or place.bend_angle_deg
        aim = model.aim(wanted, wish.tolerance, tuple(hits))
        asked = aim.verdict == "measure" or aim.worth > 0
        if wish.protractor == "always" or (wish.protractor == "when asked" and asked):
            seen = place.bend_angle_deg + off.normal(0, PROTRACTOR_SD_DEG)
            hits[-1] = hits[-1]._replace(measured=float(seen))
            aim = model.aim(wanted, wish.tolerance, tuple(hits))
    now = place.bend_angle_deg
    made = RehearsedBend(
        number=number,
        hits=len(hits),
        error=now - wanted,
        first_z=(after_first - first.expected) / first.sd,
        last_z=(now - aim.bend_angle) / aim.sd,
    )
    return made, Bend(
        die=wish.die,
        tube=wish.tube,
        lot=wish.lot,
        bend_angle=wanted,
        hits=tuple(hits),
        stop_angles=tuple(stops),
    )
