"""The bench process, put together: shop, store, sensor, session, whoever is at the pump."""

import logging
import math
import threading
import uuid
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Protocol

import msgspec

from benchmate import stream
from benchmate.bench.following import followed
from benchmate.bench.inputs import Asked, Closed, Durable, Notice
from benchmate.bench.live import LineWriter, Live, read_commands
from benchmate.bench.piece import Model
from benchmate.bench.pins import Pins
from benchmate.bench.session import Output, Session
from benchmate.bench.supply import SupplyWatch
from benchmate.bench.task import Task
from benchmate.checks.power import Voltage
from benchmate.clock import MonotonicClock
from benchmate.errors import Failure, Refusal
from benchmate.layout.as_bent import AsBent
from benchmate.layout.distances import Distance
from benchmate.layout.plan import Plan, is_laid_out, plan_job
from benchmate.layout.plan_update import PlanUpdate, update_plan
from benchmate.runtime.hardware import (
    AlignedSensor,
    Hardware,
    caution,
    real_hardware,
    simulated_hardware,
)
from benchmate.runtime.shutdown_signals import end_on_signals
from benchmate.runtime.simulation import Hand, Person, PersonThread, learned_sensor, worked_by_hand
from benchmate.runtime.stored_alignment import NotAligned, stored_sensor
from benchmate.runtime.trial_store import found_for
from benchmate.runtime.watchdog import Watchdog
from benchmate.screen.state.bench_state import BenchState, after
from benchmate.screen.text.stream_lines import Teller, summary
from benchmate.sensing.sample import ArmEstimate
from benchmate.shop import Shop
from benchmate.shop.parts import Die, Job, Signals, Tube
from benchmate.sim.clock import QuickClock
from benchmate.sim.operator import Operator
from benchmate.springback import Springback
from benchmate.store import BendRecord, Log, Store
from benchmate.store.learning import model_for

_log = logging.getLogger(__name__)
QUICK_S = 4 * 3600.0
"""A rehearsal that takes longer by its own clock has got stuck."""
Emit = Callable[[stream.Event], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchRequest:
    """What ``watch`` was asked to do."""

    shop: Shop
    store: Path
    job: Job
    first_bend: int = 1
    simulate: bool = False
    operator: bool = False
    quick: bool = False
    seed: int = 1
    as_planned: bool = False
    """Keep the first plan, whatever comes out."""


def watch_plain(wish: WatchRequest, lines: IO[str], out: IO[str]) -> int:
    """Run as the plain stream: events to ``out``, commands from ``lines``."""
    if wish.quick:
        return rehearse_quickly(wish, lambda event: _write(out, event), {})
    return _live(wish, lines, lambda gone: LineWriter(out, gone))


def watch_as_text(wish: WatchRequest, lines: IO[str], out: IO[str]) -> int:
    """Run with the events told in plain sentences, for where there is no terminal."""
    told = TextWriter(out, wish)
    truth: dict[int, float] = {}
    status = (
        rehearse_quickly(wish, told, truth)
        if wish.quick
        else _live(wish, lines, lambda _gone: told)
    )
    told.sum_up(truth)
    return status


class Writer(Protocol):
    """Takes events for whoever reads."""

    def __call__(self, event: stream.Event) -> None:
        """Write one event."""
        ...

    def close(self) -> None:
        """Write what waits."""
        ...


class TextWriter:
    """Writes events as sentences; keeps what a summary needs."""

    def __init__(self, out: IO[str], wish: WatchRequest) -> None:
        self._out = out
        self._teller = Teller(wish.job.unit or wish.shop.bench.unit)
        self._state = BenchState(job=wish.job.job, rehearsal=wish.simulate)

    def __call__(self, event: stream.Event) -> None:
        """Write one event, if it is worth a line."""
        self._state = after(self._state, event, 0.0)
        if (line := self._teller.tell(event)) is not None:
            self._out.write(line + "\n")
            self._out.flush()

    def close(self) -> None:
        """Nothing waits."""

    def sum_up(self, truth: Mapping[int, float]) -> None:
        """Write what the job came to; ``truth``: what a simulated tube was really bent to."""
        self._out.write(summary(self._state) + "\n")
        if truth:
            bends = ", ".join(f"{number} {angle:.2f}" for number, angle in truth.items())
            self._out.write(f"What the simulated tube was really bent to: {bends} degrees.\n")


def _live(
    wish: WatchRequest, lines: IO[str], writer: Callable[[Callable[[], None]], Writer]
) -> int:
    bench = wish.shop.bench
    rig = (
        simulated_hardware(bench, MonotonicClock(), wish.seed)
        if wish.simulate
        else real_hardware(bench)
    )
    clock = rig.clock
    ended: list[Live[ArmEstimate]] = []
    out = writer(lambda: ended[0].put(Closed(clock.now())) if ended else None)
    try:
        learned = _sensor(wish, out)
        with Store.open(wish.store, clock) as store:
            session = _session(wish, rig, learned, store)
            person: PersonThread | None = None
            hand: Hand | None = None

            def emit(event: stream.Event) -> None:
                out(event)
                if person is not None:
                    person.hear(event)
                elif hand is not None:
                    hand.hear(event, clock.now())

            live = Live(
                session, rig.estimator(learned), clock, _keep_in(store), emit, pulse=rig.transfers
            )
            ended.append(live)
            if rig.world is not None:
                _load(wish, rig)
                if wish.operator:
                    person = PersonThread(Operator(rig.world, wish.seed), clock, live.put)
                else:
                    hand = Hand(rig.world)
            known = stream.BEND_COMMANDS + (stream.REHEARSAL_COMMANDS if hand else ())
            asked: Iterator[Notice] = read_commands(stream.lines_in(lines), known, clock)
            if hand is not None:
                asked = worked_by_hand(asked, hand)
            end_on_signals(live, clock)
            # A rehearsal touches no pins: the real bench may be in use beside it.
            pins = Pins(Signals() if wish.simulate else bench.signals, live.press)
            supply = SupplyWatch(_tells_nothing if wish.simulate else Voltage(), clock, live.put)
            supply.start()
            with Watchdog(rig.transfers):
                live.run(rig.sampler(learned).turns(), asked, pins)
            supply.stop()
            if person is not None:
                person.stop()
            _all_kept(session, wish.store)
    finally:
        out.close()
    return 0


def _tells_nothing() -> None:
    """Give what a simulated bench says of its supply."""


def rehearse_quickly(wish: WatchRequest, emit: Emit, truth: dict[int, float]) -> int:
    """Rehearse without waiting: one thread, time as fast as it can be worked out.

    ``truth`` takes what each bend really came to, which nobody on the bench is told.
    """
    clock = QuickClock()
    rig = simulated_hardware(wish.shop.bench, clock, wish.seed)
    learned = learned_sensor(wish.shop.bench, wish.seed)
    world = rig.world
    if world is None:
        raise Failure("a quick run needs a simulated bench")
    estimator = rig.estimator(learned)
    _load(wish, rig)
    person: Person = Operator(world, wish.seed)
    with Store.open(wish.store) as store:
        session = _session(wish, rig, learned, store)
        keep = _keep_in(store)

        def deal(outputs: list[Output]) -> None:
            for output in outputs:
                if isinstance(output, BendRecord):
                    failure = _kept(keep, output)
                    deal(session.step(Durable(clock.now(), output.bend_id, output.bend, failure)))
                else:
                    emit(output)
                    person.hear(output, clock.now())
                    if isinstance(output, stream.Verdict):
                        truth[output.bend] = world.true_bend_angle

        deal(session.open())
        until = clock.now() + QUICK_S
        for told in rig.sampler(learned).turns():
            if told is not None:
                deal(session.step(followed(estimator, told)))
            now = clock.now()
            for word in person.act(now):
                deal(session.step(Asked(now, stream.read_command(word))))
            if session.finished:
                _all_kept(session, wish.store)
                return 0
            if now > until:
                raise Failure(f"{wish.job.job}: not done in {QUICK_S / 3600:g} simulated hours")
    return 0


def _session(wish: WatchRequest, rig: Hardware, learned: AlignedSensor, store: Store) -> Session:
    calibration, mounts = learned.calibration, learned.mounts
    shop, job = wish.shop, wish.job
    die, tube = shop.die(job.die), shop.tube(job.tube)
    with Log.open(wish.store) as log:
        model = model_for(log, shop.bench, die, tube, job.lot, simulated=wish.simulate, store=store)
    model = replace(model, over_limit=job.over_chance_pct / 100)
    plan = _plan(wish, die, tube, model)
    angles = tuple(bend.bend_angle_deg for bend in plan.bends)
    if not 1 <= wish.first_bend <= len(angles):
        raise Refusal(f"{job.job} has no bend {wish.first_bend}; it has bends 1 to {len(angles)}")
    task = Task(
        job=job.job,
        die=die,
        tube=tube,
        lot=job.lot,
        tolerance_deg=job.tolerance_deg,
        bend_angles=angles,
        first_bend=wish.first_bend,
        follows_tube=shop.bench.arm.follows_tube,
        bites=shop.bench.arm.bites,
        simulated=wish.simulate,
        caution=caution(shop.bench),
        setup={
            "bench": msgspec.to_builtins(shop.bench),
            "die": msgspec.to_builtins(die),
            "tube": msgspec.to_builtins(tube),
        },
        sensor={
            "chip": rig.chip.kind,
            "address": rig.chip.address,
            "rate_hz": rig.chip.rate_hz,
            "mount": mounts.arm.to_plain(),
            "frame": None if mounts.frame is None else mounts.frame.to_plain(),
            "calibration": None if calibration is None else calibration.to_plain(),
        },
    )

    def replanned(done: Sequence[AsBent], taped: Sequence[Distance], learned: Model) -> PlanUpdate:
        return update_plan(
            plan,
            done,
            (die, tube, learned),
            distances=taped,
            unit=job.unit or shop.bench.unit,
            angles_within_deg=_angles_within_deg(job),
            keep=wish.as_planned,
        )

    # A bend asked for on the command line has no tube to be marked.
    on = replanned if is_laid_out(job) else None
    return Session(task, model, lambda: str(uuid.uuid4()), on)


def _angles_within_deg(job: Job) -> float:
    """Give how far planning anew may move a bend angle from the drawing's.

    A drawing's angle and tolerance stand, unless the job says which points matter instead.
    """
    return math.inf if job.fit else job.tolerance_deg / 2.0


def _plan(wish: WatchRequest, die: Die, tube: Tube, model: Springback) -> Plan:
    """Lay the job out as ``plan`` does: by what trial pieces showed, where there were any."""
    with Log.open(wish.store) as log:
        found = found_for(log, die, tube)
    return plan_job(wish.job, die, tube, model, found=found)


def _sensor(wish: WatchRequest, emit: Emit) -> AlignedSensor:
    if wish.simulate:
        return learned_sensor(wish.shop.bench, wish.seed)
    try:
        return stored_sensor(wish.shop.bench, wish.store)
    except NotAligned as failure:
        emit(stream.Fault(what="alignment", detail=str(failure)))
        raise


def _load(wish: WatchRequest, rig: Hardware) -> None:
    if rig.world is not None:
        job = wish.job
        rig.world.load(wish.shop.die(job.die), wish.shop.tube(job.tube), job.lot)


def _keep_in(store: Store) -> Callable[[BendRecord, Callable[[str], None]], None]:
    def keep(record: BendRecord, done: Callable[[str], None]) -> None:
        promise = store.append(record)
        promise.add_done_callback(lambda kept: done(str(kept.exception() or "")))

    return keep


def _kept(keep: Callable[[BendRecord, Callable[[str], None]], None], record: BendRecord) -> str:
    answered = threading.Event()
    answers: list[str] = []

    def done(failure: str) -> None:
        answers.append(failure)
        answered.set()

    keep(record, done)
    answered.wait()
    return answers[0]


def _all_kept(session: Session, store: Path) -> None:
    if session.unkept:
        raise Failure(f"{store}: {session.failure}")
    if session.failure:
        raise Failure(session.failure)


def _write(out: IO[str], event: stream.Event) -> None:
    out.write(stream.write_event(event) + "\n")
    out.flush()
