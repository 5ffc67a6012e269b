"""The bench process, put together: shop, store, sensor, session, whoever is at the pump."""

import threading
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import IO, Any, Literal

from benchmate import places, stream
from benchmate.bench.estimation import estimated
from benchmate.bench.event_loop import EventLoop, Keep, WhenKept, read_commands
from benchmate.bench.followers import Followers
from benchmate.bench.inputs import Asked, Closed, Durable, Notice
from benchmate.bench.pins import Pins
from benchmate.bench.session import Row, Run, Session, Told, UnfinishedRun
from benchmate.bench.session.bend import row as bend_row
from benchmate.bench.supply import SupplyWatch
from benchmate.bench.writers import LineWriter
from benchmate.checks.power import Voltage
from benchmate.clock import Clock, MonotonicClock
from benchmate.errors import Failure, Refusal
from benchmate.runtime.hardware import (
    AlignedSensor,
    Hardware,
    real_hardware,
    simulated_hardware,
)
from benchmate.runtime.run_setup import (
    RunSetup,
    another_tube,
    new_run,
    setup_for,
    unfinished_run,
)
from benchmate.runtime.shutdown_signals import end_on_signals
from benchmate.runtime.simulation import (
    Person,
    PersonThread,
    PumpHandle,
    learned_sensor,
    worked_by_hand,
)
from benchmate.runtime.store_copy import StoreCopy
from benchmate.runtime.stored_alignment import NotAligned, stored_sensor
from benchmate.runtime.watchdog import Watchdog
from benchmate.screen.state.bench_state import BenchState, after
from benchmate.screen.text.stream_lines import Teller, summary
from benchmate.sensing.reach import Reach
from benchmate.sensing.sample import ArmEstimate
from benchmate.shop import Shop
from benchmate.shop.parts import Job, Signals
from benchmate.sim.bench import SimBench
from benchmate.sim.clock import QuickClock
from benchmate.sim.operator import Operator
from benchmate.store import BendRecord, RowRefused, RunRecord, Store
from benchmate.store.validation import check

QUICK_S = 4 * 3600.0
"""A rehearsal that takes longer by its own clock has got stuck."""
Emit = Callable[[stream.Event], None]


@dataclass(frozen=True, slots=True, kw_only=True)
class WatchRequest:
    """What ``watch`` was asked to do."""

    shop: Shop
    store: Path
    job: Job
    first_bend: int | None = None
    """None: the first, or where an unfinished part stands."""
    answer: Literal["go_on", "new"] | None = None
    """What is to be done with an unfinished part; None: it is asked."""
    simulate: bool = False
    operator: bool = False
    quick: bool = False
    seed: int = 1
    as_planned: bool = False
    """Keep the first plan, whatever comes out."""
    caution: str = ""
    """What to know before the first pump, in sentences; else empty."""


def watch_plain(wish: WatchRequest, lines: IO[str], out: IO[str]) -> int:
    """Run as the plain stream: events to ``out``, commands from ``lines``."""
    if wish.quick:
        return rehearse_quickly(wish, lambda event: _write(out, event), {})
    writers: list[LineWriter] = []

    def writer(gone: Callable[[], None]) -> Emit:
        writers.append(LineWriter(out, gone))
        return writers[0]

    try:
        return _live(wish, lines, writer)
    finally:
        for each in writers:
            each.close()


def watch_as_text(wish: WatchRequest, lines: IO[str], out: IO[str]) -> int:
    """Run with the events told in plain sentences, for where there is no terminal."""
    teller = Teller(wish.job.unit or wish.shop.bench.unit)
    so_far = [BenchState(job=wish.job.job, rehearsal=wish.simulate)]
    truth: dict[int, float] = {}

    def follow(event: stream.Event) -> None:
        so_far[0] = after(so_far[0], event, 0.0)

    if wish.quick:

        def tell(event: stream.Event) -> None:
            follow(event)
            if (line := teller.tell(event)) is not None:
                out.write(line + "\n")
                out.flush()

        status = rehearse_quickly(wish, tell, truth)
        _sum_up(out, so_far[0], truth)
        return status
    writers: list[LineWriter] = []

    def writer(gone: Callable[[], None]) -> Emit:
        writers.append(LineWriter(out, gone, teller.tell))

        def write(event: stream.Event) -> None:
            follow(event)
            writers[0](event)

        return write

    heard = True
    try:
        status = _live(wish, lines, writer)
    finally:
        for each in writers:
            heard = each.close()
    if heard:
        _sum_up(out, so_far[0], truth)
    return status


def _sum_up(out: IO[str], state: BenchState, truth: Mapping[int, float]) -> None:
    """Write what the job came to; ``truth``: what a simulated tube was really bent to."""
    out.write(summary(state) + "\n")
    if truth:
        bends = ", ".join(f"{number} {angle:.2f}" for number, angle in truth.items())
        out.write(f"What the simulated tube was really bent to: {bends} degrees.\n")


def _live(wish: WatchRequest, lines: IO[str], writer: Callable[[Callable[[], None]], Emit]) -> int:
    bench = wish.shop.bench
    rig = (
        simulated_hardware(bench, MonotonicClock(), wish.seed)
        if wish.simulate
        else real_hardware(bench)
    )
    clock = rig.clock
    ended: list[EventLoop[ArmEstimate]] = []
    out = writer(lambda: ended[0].put(Closed(clock.now())) if ended else None)
    learned = _sensor(wish, out)
    with Store.open(wish.store, clock) as store, _followers(wish) as followers:
        copied = StoreCopy(wish.store, bench, clock)
        opened = _opened(wish, rig, learned, store, clock, part_done=copied.falls_due)
        session = opened.session
        person: PersonThread | None = None
        hand: PumpHandle | None = None

        def emit(event: stream.Event) -> None:
            opened.set_up(event)
            out(event)
            followers.hear(event)
            if person is not None:
                person.hear(event)
            elif hand is not None:
                hand.hear(event, clock.now())

        live = EventLoop(
            session,
            rig.estimator(learned, _reach(wish)),
            clock,
            _keep_in(store),
            emit,
            pulse=rig.transfers,
        )
        ended.append(live)
        if rig.world is not None:
            if wish.operator:
                person = PersonThread(Operator(rig.world, wish.seed), clock, live.put)
            else:
                hand = PumpHandle(rig.world)
        known = stream.BEND_COMMANDS + (stream.REHEARSAL_COMMANDS if hand else ())
        asked: Iterator[Notice] = read_commands(stream.lines_in(lines), known, clock)
        if hand is not None:
            asked = worked_by_hand(asked, hand)
        end_on_signals(live, clock)
        for word in opened.answers:
            live.put(Asked(clock.now(), stream.Command(word)))
        # A rehearsal touches no pins: the real bench may be in use beside it.
        pins = Pins(Signals() if wish.simulate else bench.signals, live.press)
        voltage = _tells_nothing if wish.simulate else Voltage()
        watches = (
            SupplyWatch(voltage, clock, live.put),
            SupplyWatch(copied.ask, clock, live.put, "store copy"),
        )
        for watch in watches:
            watch.start()
        with Watchdog(rig.transfers):
            live.run(rig.sampler(learned, _reach(wish)).turns, asked, pins)
        for watch in watches:
            watch.stop()
        if person is not None:
            person.stop()
        if session.state.run.over:
            copied.make()
        _all_kept(session, wish.store)
    return 0


def _followers(wish: WatchRequest) -> Followers:
    shop, job = wish.shop, wish.job
    first = stream.Watched(
        job=job.job,
        simulated=wish.simulate,
        bites=shop.bench.arm.bites,
        unit=job.unit or shop.bench.unit,
        shop=str(shop.path),
        store=str(wish.store),
    )
    return Followers(places.runtime_folders(), first)


def _reach(wish: WatchRequest) -> Reach:
    return Reach.of_die(wish.shop.die(wish.job.die).max_angle_deg)


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
    estimator = rig.estimator(learned, _reach(wish))
    person: Person = Operator(world, wish.seed)
    with Store.open(wish.store) as store:
        opened = _opened(wish, rig, learned, store, MonotonicClock())
        session = opened.session
        keep = _keep_in(store)

        def deal(outputs: list[Told]) -> None:
            for output in outputs:
                if isinstance(output, stream.Event):
                    opened.set_up(output)
                    emit(output)
                    person.hear(output, clock.now())
                    if isinstance(output, stream.Verdict):
                        truth[output.bend] = world.true_bend_angle
                else:
                    deal(session.step(_kept(keep, output, clock)))

        deal(session.open())
        for word in opened.answers:
            deal(session.step(Asked(clock.now(), stream.Command(word))))
        until = clock.now() + QUICK_S
        for told in rig.sampler(learned, _reach(wish)).turns():
            if told is not None:
                deal(session.step(estimated(estimator, told)))
            now = clock.now()
            for word in person.act(now):
                deal(session.step(Asked(now, stream.read_command(word))))
            if session.finished:
                _all_kept(session, wish.store)
                return 0
            if now > until:
                raise Failure(f"{wish.job.job}: not done in {QUICK_S / 3600:g} simulated hours")
    return 0


@dataclass(slots=True)
class _Opened:
    """A session as it begins, and what has to follow when it goes on with an unfinished part."""

    session: Session
    setup: RunSetup
    unfinished: UnfinishedRun | None
    answers: tuple[str, ...]
    """What answers the question about the unfinished part beforehand."""
    world: SimBench | None
    _in_bench: str = ""
    """The run whose tube the simulated bench holds."""

    def set_up(self, event: stream.Event) -> None:
        """Have the simulated bench stand as the run's tube did, before its first target is told."""
        run = self.session.state.run
        if self.world is None or not isinstance(event, stream.Target):
            return
        if self._in_bench == run.task.run_id:
            return
        self._in_bench = run.task.run_id
        self.world.load(self.setup.die, self.setup.tube, self.setup.job.lot)
        if run.sitting > 1:
            peaks = [hit.peak for hit in run.bend.hits]
            self.world.stand(run.bend.number - run.task.first_bend, peaks)


def _opened(
    wish: WatchRequest,
    rig: Hardware,
    learned: AlignedSensor,
    store: Store,
    clock: Clock,
    *,
    part_done: Callable[[], None] = lambda: None,
) -> _Opened:
    """Open the session; ``part_done`` is called after each tube that another follows."""
    seed = wish.seed if wish.simulate else None
    setup = setup_for(
        wish.shop,
        wish.job,
        wish.store,
        first_bend=wish.first_bend or 1,
        as_planned=wish.as_planned,
        caution=wish.caution,
        seed=seed,
    )
    sensor = _sensor_facts(rig, learned)
    unfinished = unfinished_run(setup, wish.store, sensor, clock)
    # Whoever begins a new tube leaves the unfinished one as scrap.
    left = int(unfinished is not None)
    tubes = replace(setup.tubes, scrapped=setup.tubes.scrapped + left)
    run = new_run(replace(setup, tubes=tubes), wish.store, store, sensor)
    check(run.task.record(), bend_row(run.bend, run.task))
    answers = _answers(wish, unfinished)

    def another() -> Run | None:
        following = another_tube(setup, wish.store, store, sensor)
        if following is not None:
            part_done()
        return following

    return _Opened(Session(run, unfinished, another), setup, unfinished, answers, rig.world)


def _answers(wish: WatchRequest, unfinished: UnfinishedRun | None) -> tuple[str, ...]:
    """Give the commands that answer for an unfinished part, and lead to the bend asked for."""
    if wish.answer is None or unfinished is None:
        return ()
    if wish.answer == "new" or wish.first_bend is None:
        return (wish.answer,)
    at = unfinished.run.bend.number
    if wish.first_bend < at:
        raise Refusal(
            f"bend {wish.first_bend} of this part is done and bend {at} is at hand: leave --bend"
            " out to go on there, or say --new to begin another part"
        )
    return ("go_on", *("skip",) * (wish.first_bend - at))


def _sensor_facts(rig: Hardware, learned: AlignedSensor) -> dict[str, Any]:
    calibration, mounts = learned.calibration, learned.mounts
    return {
        "chip": rig.chip.kind,
        "address": rig.chip.address,
        "rate_hz": rig.chip.rate_hz,
        "mount": mounts.arm.to_plain(),
        "frame": None if mounts.frame is None else mounts.frame.to_plain(),
        "calibration": None if calibration is None else calibration.to_plain(),
    }


def _sensor(wish: WatchRequest, emit: Emit) -> AlignedSensor:
    if wish.simulate:
        return learned_sensor(wish.shop.bench, wish.seed)
    try:
        return stored_sensor(wish.shop.bench, wish.store)
    except NotAligned as failure:
        emit(stream.Fault(what="alignment", detail=str(failure)))
        raise


def _keep_in(store: Store) -> Keep:
    def keep(row: Row, done: WhenKept) -> None:
        match row:
            case BendRecord():
                promise: Any = store.append(row)
            case RunRecord():
                promise = store.begin_run(row)
            case _:
                promise = store.keep_input(row)

        def answered(kept: Any) -> None:
            failure = kept.exception()
            done(str(failure or ""), for_good=isinstance(failure, RowRefused))

        promise.add_done_callback(answered)

    return keep


def _kept(keep: Keep, row: Row, clock: Clock) -> Durable:
    """Wait until the row is durable, or can't be."""
    answered = threading.Event()
    answers: list[Durable] = []

    def done(failure: str, *, for_good: bool = False) -> None:
        answers.append(Durable(clock.now(), failure, for_good))
        answered.set()

    keep(row, done)
    answered.wait()
    return answers[0]


def _all_kept(session: Session, store: Path) -> None:
    state = session.state
    if state.unkept:
        raise Failure(f"{store}: {state.failure}")
    if state.failure:
        raise Failure(state.failure)


def _write(out: IO[str], event: stream.Event) -> None:
    out.write(stream.write_event(event) + "\n")
    out.flush()
