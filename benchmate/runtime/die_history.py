"""What the store knows of a die: the tubes that it bent, what was done to it, whether it drifts."""

from collections.abc import Sequence
from typing import Any

import msgspec

from benchmate.errors import Refusal
from benchmate.layout.plan import centreline_of
from benchmate.runtime.trial_store import trials_of
from benchmate.shop import Shop
from benchmate.shop.parts import Bench, Die, Job, Tube
from benchmate.springback import Bend
from benchmate.springback.prior import Setup
from benchmate.store import Log
from benchmate.store.learning import DIE_RECORD, as_bend, learned
from benchmate.tooling.history import Event, History
from benchmate.tooling.load import Share, load_of
from benchmate.tooling.proven import LoadAsked, LoadCarried, asked
from benchmate.tooling.series import changed, share_of
from benchmate.wording import printable

WATCHED = 2000
"""The newest bends of the store in which a drift is looked for."""
RENEWS = ("core", "plates", "bolts", "groove")
"""Parts whose repair makes another die of it: what it carried before proves nothing."""


def history_of(log: Log, shop: Shop, name: str, *, drift: bool = True) -> History:
    """Gather what the store knows of the shop's die; without ``drift`` none is looked for."""
    die, bench = shop.die(name), shop.bench
    events = events_of(log, bench, die)
    renewed = max((each.after_place for each in events if _renews(each)), default=0)
    now: list[LoadCarried] = []
    before: list[LoadCarried] = []
    for found in log.carried(bench.bench, name):
        bent = _as_it_was(found.setup)
        if bent is None:
            continue
        then, tube = bent
        same = _same_make(then, die) and found.newest > renewed
        load = load_of(die, tube, min(found.bend_angle, die.max_angle_deg))
        carried = LoadCarried(tube, found.lot, found.bends, load, found.newest)
        (now if same else before).append(carried)
    knowledge = learned(log, simulated=False)
    bends, when = _bends(log, bench, name)
    watched_since = max((each.after_place for each in events if _restarts(each)), default=0)
    found_drift = (
        changed(bends, knowledge, settles=die.printed, since_seq=watched_since) if drift else None
    )
    return History(
        die=die,
        bench=bench,
        bends=bends,
        when=when,
        carried=tuple(now),
        before=tuple(before),
        events=events,
        trials=trials_of(log, die),
        changed=found_drift,
        knowledge=knowledge,
    )


def asked_of(history: History, shop: Shop, job: Job) -> LoadAsked:
    """Hold a job's largest bend against its die; Refusal when the job is for another die."""
    if job.die != history.die.die:
        raise Refusal(
            printable(f"job {job.job} is bent on die {job.die}, not on {history.die.die}", 300)
        )
    tube = shop.tube(job.tube)
    laid = centreline_of(job, tube.od_mm, history.die.centreline_radius_mm)
    angle = max(map(float, laid.angles_deg))

    def share(tube: Tube, lot: str) -> Share:
        return share_of(history.knowledge, Setup(history.bench, history.die, tube, lot))

    return asked(
        history.die, tube, angle, history.carried, shop.materials, share_of=share, lot=job.lot
    )


def events_of(log: Log, bench: Bench, die: Die) -> tuple[Event, ...]:
    """Give what was done to the die on this bench, oldest first."""
    events = []
    for entry in log.entries(DIE_RECORD, die.die):
        told = dict(entry.payload)
        if told.pop("bench", bench.bench) != bench.bench:
            continue
        after = told.pop("after_bend", None)
        place = log.place_of(after) if isinstance(after, str) else None
        what = str(told.pop("what", "inspect"))
        told.pop("learn_anew", None)
        events.append(
            Event(
                what=what,
                after_place=place or 0,
                wall_s=entry.wall_s,
                clock_synchronised=entry.clock_synchronised,
                told=told,
            )
        )
    return tuple(events)


def _renews(event: Event) -> bool:
    parts = event.told.get("parts", ())
    return event.what == "repair" and any(part in RENEWS for part in parts)


def _restarts(event: Event) -> bool:
    return event.what == "repair" or bool(event.told.get("after_drift"))


def _as_it_was(setup: dict[str, Any]) -> tuple[Die, Tube] | None:
    try:
        return msgspec.convert(setup["die"], Die), msgspec.convert(setup["tube"], Tube)
    except (KeyError, msgspec.ValidationError):
        return None


def _same_make(then: Die, now: Die) -> bool:
    """Say whether the die that bent then is the one that the file describes now.

    What wasn't written then may have been the same; what was written otherwise wasn't.
    """
    if abs(then.centreline_radius_mm - now.centreline_radius_mm) > 0.01 * now.centreline_radius_mm:
        return False
    pairs: Sequence[tuple[object, object]] = (
        (then.core, now.core),
        (then.plates, now.plates),
        (_kinds(then), _kinds(now)),
    )
    return all(not old or old == new for old, new in pairs)


def _kinds(die: Die) -> tuple[tuple[str, str, int, str], ...]:
    """Give what bolts there are; what they are tightened to makes no other die."""
    return tuple((each.size, each.grade, each.count, each.hold) for each in die.bolts)


def _bends(log: Log, bench: Bench, die: str) -> tuple[tuple[Bend, ...], dict[int, float]]:
    bends, when = [], {}
    newest = max(log.last_seq() - WATCHED, 0)
    for logged in log.bends(simulated=False, traces=False, after_place=newest):
        if logged.record.die != die or logged.bench != bench.bench:
            continue
        bend = as_bend(logged)
        if bend is not None:
            bends.append(bend)
            when[logged.seq] = logged.stamp.wall_s
    return tuple(bends), when
