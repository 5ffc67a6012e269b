"""What the log has taught: the fold over its bends, continued from a snapshot instead of anew.

Bends teach in the order of their places, each by its newest version. A snapshot in the store's
cache says up to which place it folded and at which row; it holds as long as no later row touches a
bend at or before that place. A few snapshots are kept, ever further apart, so that a correction of
an old bend costs about as many bends again as lie after it, never the whole log.
"""

import struct
from collections import deque
from collections.abc import Iterator, Mapping
from contextlib import suppress
from typing import NamedTuple

import msgspec

from benchmate.errors import Failure
from benchmate.shop.parts import Bench, Die, Tube
from benchmate.springback import Bend, Knowledge, Springback
from benchmate.springback.bend import MOST_DEG
from benchmate.springback.prior import Setup
from benchmate.store.reader import Log
from benchmate.store.record import SENSOR_SD, LoggedBend
from benchmate.store.writer import Store

EVERY = 4
"""Places from one snapshot to the next."""
LONG_FOLD = 256
"""Bends folded without a snapshot from which on a mere reader keeps one."""
DIE_RECORD = "die"
"""Kind of the findings that say what was done to a die: where one says ``learn_anew``, what was
known of the die counts less from its next bend on."""
_SLOTS = 24
_HEAD = struct.Struct("<4sIQ")
_MAGIC = b"BMK1"


class _SetupAsItWas(msgspec.Struct, frozen=True):
    bench: Bench
    die: Die
    tube: Tube


class _Snapshot(NamedTuple):
    place: int
    """The newest bend folded in."""
    row_seq: int
    """The log's newest row when that was done."""
    knowledge: Knowledge


def as_bend(logged: LoggedBend) -> Bend | None:
    """Give the bend as the springback model takes it; None when it teaches nothing.

    Bends that were taken back, had a fault, have no hit or a setup that can't be read don't teach.
    """
    record = logged.record
    if record.withdrawn or record.faults or not record.hits:
        return None
    try:
        setup = msgspec.convert(record.setup, _SetupAsItWas)
    except msgspec.ValidationError:
        return None
    return Bend(
        bench=setup.bench,
        die=setup.die,
        tube=setup.tube,
        lot=record.lot,
        bend_angle=record.bend_angle,
        hits=tuple((hit.peak, hit.rest, hit.measured) for hit in record.hits),
        stop_angles=tuple(hit.stop_angle for hit in record.hits),
        how_measured=tuple(hit.how_measured for hit in record.hits),
        arm_sd=_sensor_sd(record.sensor.get(SENSOR_SD)),
        name=str(logged.seq),
    )


def _sensor_sd(told: object) -> float | None:
    """Give what a bend's sensor facts say, None when that is no standard deviation."""
    return float(told) if isinstance(told, int | float) and 0 < told <= MOST_DEG else None


def learned(log: Log, *, simulated: bool, store: Store | None = None) -> Knowledge:
    """Give what all bends of the log teach together: real ones, or rehearsals.

    With the store's writer given, snapshots are kept where they are due. Without it they are kept
    after a long fold only, if nobody is writing: else every command would have to fold it again.
    """
    now = _best(log, simulated=simulated)
    due: dict[int, _Snapshot] = {}
    folded = 0
    for step in _steps(log, now, simulated=simulated):
        folded += 1
        mark = step.place // EVERY
        if mark > now.place // EVERY:
            due[_slot(mark)] = step
        now = step
    named = {_name(slot, simulated=simulated): snapshot for slot, snapshot in due.items()}
    if store is not None:
        _keep(store, named)
    elif folded >= LONG_FOLD:
        with suppress(Failure), Store.open(log.path) as writer:
            _keep(writer, named)
    return now.knowledge


def before_each(
    log: Log, *, withdrawn: bool, last: int | None = None, since: int | None = None
) -> Iterator[tuple[LoggedBend, Knowledge]]:
    """Give bends of the log, oldest first, each with what was taught by those before it.

    Real bends come with what real ones taught, rehearsals with what rehearsals did. ``last`` gives
    only so many of the newest, ``since`` begins at that place or a little before it.
    """
    newest = log.last_seq()
    if last is not None:
        shown = log.bends(withdrawn=withdrawn, traces=False, until_seq=newest)
        places = deque((logged.seq for logged in shown), maxlen=last)
        since = places[0] if places else None
    starts = {kind: _best(log, simulated=kind, before=since or 0) for kind in (False, True)}
    known = {kind: start.knowledge for kind, start in starts.items()}
    first = min(start.place for start in starts.values())
    anew = _learnt_anew(log, newest)
    for logged in log.bends(after_place=first, withdrawn=True, traces=False, until_seq=newest):
        kind = logged.record.simulated
        wanted = withdrawn or not logged.record.withdrawn
        if wanted and (last is None or since is None or logged.seq >= since):
            yield logged, known[kind]
        if logged.seq > starts[kind].place:
            known[kind] = _taught(known[kind], logged, anew)


def learned_as_of(log: Log, seq: int, *, simulated: bool) -> Knowledge:
    """Give what the log taught when bend row ``seq`` was its newest, bit for bit."""
    now = _best(log, simulated=simulated, as_of=seq)
    for step in _steps(log, now, simulated=simulated, until=seq):
        now = step
    return now.knowledge


def model_for(
    log: Log,
    bench: Bench,
    die: Die,
    tube: Tube,
    lot: str,
    *,
    simulated: bool,
    store: Store | None = None,
) -> Springback:
    """Give the model of a setup with all that the log teaches; ``store`` as in ``learned``."""
    return Springback(bench, die, tube, lot, learned(log, simulated=simulated, store=store))


def _keep(store: Store, named: Mapping[str, _Snapshot]) -> None:
    for name, snapshot in named.items():
        store.cache(name, snapshot.row_seq, _packed(snapshot))


def _steps(
    log: Log, start: _Snapshot, *, simulated: bool, until: int | None = None
) -> Iterator[_Snapshot]:
    """Fold the bends after the snapshot, one at a time, as they stood at row ``until``."""
    newest = log.last_seq() if until is None else until
    knowledge = start.knowledge
    anew = _learnt_anew(log, newest)
    for logged in log.bends_as_of(newest, simulated=simulated, after_place=start.place):
        knowledge = _taught(knowledge, logged, anew)
        yield _Snapshot(logged.seq, newest, knowledge)


def _taught(knowledge: Knowledge, logged: LoggedBend, anew: frozenset[int]) -> Knowledge:
    bend = as_bend(logged)
    if bend is None or bend.bench is None:
        return knowledge
    setup = Setup(bend.bench, bend.die, bend.tube, bend.lot)
    if logged.seq in anew:
        knowledge = knowledge.loosened(setup)
    return knowledge.learn(setup, bend)


def _learnt_anew(log: Log, until_seq: int) -> frozenset[int]:
    """Give the places of real bends that were the first on a die after something was done to it.

    What was done names the newest bend of its time, so the order is the same in every store.
    """
    places = set()
    for die, told in log.recorded(DIE_RECORD):
        if not told.get("learn_anew"):
            continue
        after = told.get("after_bend")
        place = log.place_of(after) if isinstance(after, str) else 0
        bench = str(told.get("bench", ""))
        first = log.first_on(bench, die, after_place=place or 0, until_seq=until_seq)
        places |= set() if first is None else {first}
    return frozenset(places)


def _best(
    log: Log, *, simulated: bool, before: int | None = None, as_of: int | None = None
) -> _Snapshot:
    """Give the furthest snapshot that holds, or the beginning.

    ``before``: of those before that place; ``as_of``: that held when that row was the newest.
    """
    newest = log.last_seq()
    until = newest if as_of is None else as_of
    heads = log.cached_heads(_name("", simulated=simulated), _HEAD.size)
    for place, row_seq, name in sorted(((_place(h), s, n) for n, s, h in heads), reverse=True):
        changed = log.oldest_changed(min(row_seq, until), max(row_seq, until))
        if before is not None and place >= before:
            continue
        if (
            place < 1
            or place > until
            or row_seq > newest
            or (changed is not None and changed <= place)
        ):
            continue
        cached = log.cached(name)
        if cached is None or cached[0] != row_seq:
            # The writer has kept a newer one in its slot since.
            continue
        try:
            return _Snapshot(place, row_seq, Knowledge.load(cached[1][_HEAD.size :]))
        except Failure:
            # Of another version of the sums, or damaged: it is worked out anew.
            continue
    return _Snapshot(0, 0, Knowledge())


def _packed(snapshot: _Snapshot) -> bytes:
    head = _HEAD.pack(_MAGIC, Knowledge.VERSION, snapshot.place)
    return head + snapshot.knowledge.dump()


def _place(head: bytes) -> int:
    """Give the place of a packed snapshot, 0 when it is none of this version."""
    if len(head) < _HEAD.size:
        return 0
    magic, version, place = _HEAD.unpack_from(head)
    return int(place) if (magic, version) == (_MAGIC, Knowledge.VERSION) else 0


def _slot(mark: int) -> int:
    """Give how often 2 divides the mark: slot k holds the newest odd multiple of 2^k marks."""
    return min((mark & -mark).bit_length() - 1, _SLOTS - 1)


def _name(slot: int | str, *, simulated: bool) -> str:
    return f"knowledge/{'rehearsed' if simulated else 'real'}/{slot}"
