"""What the bends of the log came to: the row's own verdict, and the angle that it was given on."""

import math
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from benchmate.measurement import IMPROBABLE_SDS
from benchmate.springback import Springback
from benchmate.springback.limits import limits, verdict_of
from benchmate.springback.noise import GAUGE_SD, READING_SD
from benchmate.store.learning import as_bend, before_each

if TYPE_CHECKING:
    from benchmate.springback import Knowledge
    from benchmate.springback.bend import Aim
    from benchmate.store import BendRecord, Log, LoggedBend
    from benchmate.store.record import HowMeasured

Result = Literal["good", "over", "short", "unsure", "unknown"]
PAST_PEAK_DEG = 1.0
"""How far past the arm's furthest a sound reading may lie: zero, arm and protractor together."""
_RESULTS: dict[str, Result] = {
    "accept": "good",
    "over": "over",
    "again": "short",
    "measure": "unsure",
}


@dataclass(frozen=True, slots=True)
class Came:
    """A bend's angle as it was judged: degrees, one standard deviation; None where nobody knows."""

    angle: float | None
    sd: float | None
    result: Result
    """By the row's verdict. "good": in tolerance; "unsure": a protractor would tell."""
    right: float
    """The bend angle that the tolerance is counted from [deg]."""

    @property
    def off(self) -> float:
        """Give how far past the right angle the bend is, less than 0 where it is short [deg]."""
        return 0.0 if self.angle is None else self.angle - self.right


def judged_bends(
    log: "Log", *, withdrawn: bool, last: int | None = None
) -> "Iterator[tuple[LoggedBend, Came]]":
    """Give the bends of the log, oldest first, with what each came to; only the ``last`` of them.

    In rows of layout 1 the angle isn't kept: it is worked out anew, from the bend's own readings
    and the bends before it.
    """
    bends = log.bends(withdrawn=withdrawn, traces=False)
    if all(_tells(logged.record) for logged in (deque(bends, maxlen=last) if last else bends)):
        again = log.bends(withdrawn=withdrawn, traces=False)
        for logged in deque(again, maxlen=last) if last else again:
            yield logged, came_to(logged, None)
        return
    for logged, knowledge in before_each(log, withdrawn=withdrawn, last=last):
        yield logged, came_to(logged, knowledge)


def judged_bend(log: "Log", logged: "LoggedBend") -> Came:
    """Give what one bend of the log came to."""
    knowledge = None if _tells(logged.record) else knowledge_before(log, logged)
    return came_to(logged, knowledge)


def knowledge_before(log: "Log", logged: "LoggedBend") -> "Knowledge":
    """Give what the log had taught before this bend."""
    return next(
        knowledge
        for each, knowledge in before_each(log, withdrawn=True, since=logged.seq)
        if each.seq == logged.seq
    )


def came_to(logged: "LoggedBend", knowledge: "Knowledge | None") -> Came:
    """Give a bend's verdict and angle as its row has them.

    ``knowledge``, what was taught before it, serves rows that don't have the angle.
    """
    record = logged.record
    right = limits(record.drawn, record.bend_angle, record.tolerance).middle
    angle, sd = record.came_to, record.came_to_sd
    if angle is None:
        aim = None if record.faults or not knowledge else _aim(logged, knowledge, len(record.hits))
        if aim is not None:
            angle, sd = aim.bend_angle, aim.sd
        elif record.hits and (measured := record.hits[-1].measured) is not None:
            angle, sd = measured, _reading_sd(record.hits[-1].how_measured)
    result = _RESULTS[record.verdict]
    if (angle is None and result == "unsure") or not record.hits:
        result = "unknown"
    return Came(angle, sd, result, right)


def amended(record: "BendRecord", hit: int, measured: float, how: "HowMeasured") -> "BendRecord":
    """Give a bend's record with its angle measured after hit number ``hit`` (from 1) [deg].

    After the last hit the measured angle is what the bend came to, and the verdict is by it.
    """
    hits = list(record.hits)
    hits[hit - 1] = replace(hits[hit - 1], measured=measured, how_measured=how)
    record = replace(record, hits=tuple(hits))
    if hit < len(hits):
        return record
    within = limits(record.drawn, record.bend_angle, record.tolerance)
    return replace(
        record,
        verdict=verdict_of(measured, within),
        came_to=measured,
        came_to_sd=_reading_sd(how),
    )


def doubt_about(
    logged: "LoggedBend", knowledge: "Knowledge", hit: int, measured: float
) -> tuple[Literal["impossible", "improbable"], str] | None:
    """Say what speaks against a reading after hit number ``hit`` (from 1); None: nothing does.

    Impossible is what no tube can do: bend further than the arm went. Improbable is what fewer than
    one good reading in a thousand would give, after all that is known of this bend and its setup.
    """
    record = logged.record
    reached = max(each.peak for each in record.hits[:hit])
    if measured > reached + PAST_PEAK_DEG:
        told = f"the arm went no further than {reached:.1f} deg, and no tube bends further than it"
        # A fault may have hidden how far the arm really went.
        return ("improbable" if record.faults else "impossible"), told
    hits = list(record.hits)
    hits[hit - 1] = replace(hits[hit - 1], measured=None, how_measured=None)
    unread = replace(logged, record=replace(record, hits=tuple(hits)))
    aim = None if record.faults else _aim(unread, knowledge, hit)
    if aim is None:
        return None
    sd = math.hypot(aim.sd, _reading_sd(None))
    if abs(measured - aim.bend_angle) <= IMPROBABLE_SDS * sd:
        return None
    rest = record.hits[hit - 1].rest
    rested = f", the arm rested at {rest:.1f}" if rest is not None else ""
    return "improbable", (
        f"the bend should have come to {aim.bend_angle:.1f} deg, give or take"
        f" {2 * aim.sd:.1f}{rested}"
    )


def _aim(logged: "LoggedBend", knowledge: "Knowledge", hits: int) -> "Aim | None":
    record = replace(logged.record, withdrawn=False, hits=logged.record.hits[:hits])
    bend = as_bend(replace(logged, record=record))
    if bend is None or bend.bench is None:
        return None
    model = Springback(bend.bench, bend.die, bend.tube, bend.lot, knowledge)
    return model.aim(record.bend_angle, record.tolerance, bend.hits, arm_sd=bend.arm_sd)


def _reading_sd(how: "HowMeasured | None") -> float:
    return math.hypot(READING_SD[how or "protractor"], GAUGE_SD)


def _tells(record: "BendRecord") -> bool:
    """Say whether the row has all that is shown of it, or nothing could be added."""
    return record.came_to is not None or bool(record.faults) or not record.hits or bool(record.run)
