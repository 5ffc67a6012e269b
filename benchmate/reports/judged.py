"""What the bends of the log came to: each judged anew with what was known before it."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

from benchmate.springback import Springback
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
IMPROBABLE = 3.29
"""Standard deviations that one good reading in a thousand exceeds (two-sided normal)."""


@dataclass(frozen=True, slots=True)
class Came:
    """A bend's angle as it is judged: degrees, one standard deviation; None where nobody knows."""

    angle: float | None
    sd: float | None
    result: Result
    """"good": in tolerance; "unsure": it may be, a protractor would tell."""


def judged_bends(
    log: "Log", *, withdrawn: bool, last: int | None = None
) -> "Iterator[tuple[LoggedBend, Came]]":
    """Give the bends of the log, oldest first, with what each came to; only the ``last`` of them.

    A bend is judged as it was at the bender: by its own readings and the bends before it.
    """
    for logged, knowledge in before_each(log, withdrawn=withdrawn, last=last):
        yield logged, came_to(logged, knowledge)


def judged_bend(log: "Log", logged: "LoggedBend") -> Came:
    """Give what one bend of the log came to."""
    return came_to(logged, knowledge_before(log, logged))


def knowledge_before(log: "Log", logged: "LoggedBend") -> "Knowledge":
    """Give what the log had taught before this bend."""
    return next(
        knowledge
        for each, knowledge in before_each(log, withdrawn=True, since=logged.seq)
        if each.seq == logged.seq
    )


def came_to(logged: "LoggedBend", knowledge: "Knowledge") -> Came:
    """Judge a bend by its hits; by the last reading alone where a fault may have hidden a peak."""
    record = logged.record
    aim = None if record.faults else _aim(logged, knowledge, len(record.hits))
    if aim is not None:
        angle, sd = aim.bend_angle, aim.sd
        unsure = aim.verdict == "measure"
    else:
        last = record.hits[-1] if record.hits else None
        if last is None or last.measured is None:
            return Came(None, None, "unknown")
        angle, sd, unsure = last.measured, _reading_sd(last.how_measured), False
    return Came(angle, sd, "unsure" if unsure else _result(record, angle))


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
    if abs(measured - aim.bend_angle) <= IMPROBABLE * sd:
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


def _result(record: "BendRecord", angle: float) -> Result:
    off = angle - record.bend_angle
    if abs(off) <= record.tolerance:
        return "good"
    return "over" if off > 0 else "short"
