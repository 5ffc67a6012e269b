"""A rehearsal: the simulated bench, aligned like a real one, and whoever stands at its pump."""

import functools
import queue
import threading
from collections.abc import Callable, Iterable, Iterator
from typing import Protocol

from benchmate import stream
from benchmate.bench.aligning import AlignSession, Gathering, Learned
from benchmate.bench.inputs import Asked, Notice
from benchmate.bench.sampler import Told
from benchmate.clock import Clock
from benchmate.errors import Failure
from benchmate.runtime.hardware import AlignedSensor as Known
from benchmate.runtime.hardware import Hardware, simulated_hardware
from benchmate.sensing.calibration.error_model import Calibration
from benchmate.sensing.calibration.multi_position import MultiPositionCalibration
from benchmate.shop.parts import Bench
from benchmate.sim.bench import SimBench
from benchmate.sim.clock import QuickClock

ACT_EVERY_S = 0.02


class Person(Protocol):
    """Who stands at the simulated pump."""

    def hear(self, event: stream.Event, now: float) -> None:
        """Take one event of the stream."""
        ...

    def act(self, now: float) -> tuple[str, ...]:
        """Do what is due; give the commands to send."""
        ...


class PumpHandle:
    """The simulated pump worked by a real person's keys: they say pump and release, no more."""

    def __init__(self, world: SimBench) -> None:
        self._world = world
        self._bend = 0
        self._tube = (0, 0)
        self._pumping = False

    def hear(self, event: stream.Event, now: float) -> None:  # noqa: ARG002 - a Person's shape
        """Follow the job along the tube, and pump gently when the cue says slow."""
        match event:
            case stream.Target(bend=bend, tube=tube, scrapped=scrapped):
                same_tube = (tube, scrapped) == self._tube
                if self._bend and same_tube and bend != self._bend:
                    self._world.next_place()
                self._bend, self._tube = bend, (tube, scrapped)
            case stream.Reading(cue=cue):
                self._world.pace = "slow" if cue in ("slow", "stop", "over") else "normal"
            case _:
                pass

    def act(self, now: float) -> tuple[str, ...]:  # noqa: ARG002 - a Person's shape
        """Do nothing unasked."""
        return ()

    def work(self, word: str) -> None:
        """Start or stop pumping, or open the valve."""
        if word == "release":
            self._pumping = False
            self._world.open_valve()
        else:
            self._pumping = not self._pumping
            self._world.pump(self._pumping)


@functools.lru_cache(maxsize=4)
def learned_sensor(bench: Bench, seed: int) -> Known:
    """Calibrate and align a twin of the simulated bench on a quick clock, as ``align`` does it.

    The same bench and seed always learn the same, so what was learned is kept for the next run.
    Failure when the simulated sensor can't be aligned (a level plane without an encoder).
    """
    rig = simulated_hardware(bench, QuickClock(), seed)
    sampler = rig.sampler().turns()
    turn = _learn(
        rig,
        sampler,
        lambda: MultiPositionCalibration(bench.sensor, rig.chip.identity),
        SimBench.turn_box,
    )
    return Known(turn, _learn(rig, sampler, lambda: rig.swing(turn), SimBench.swing))


def learned_chip(bench: Bench, seed: int) -> Calibration:
    """Calibrate a twin of the simulated bench's chip on a quick clock, as ``align --turn`` does."""
    rig = simulated_hardware(bench, QuickClock(), seed)
    turns = rig.sampler().turns()
    return _learn(
        rig,
        turns,
        lambda: MultiPositionCalibration(bench.sensor, rig.chip.identity),
        SimBench.turn_box,
    )


class ArmProtractor:
    """Who reads the simulated arm off a protractor at each still stop of an encoder's turn."""

    def __init__(self, world: SimBench) -> None:
        self._world = world
        self._stops = 0

    def read(self, events: Iterable[stream.Event]) -> stream.Command | None:
        """Give what is to be said after these events; None when no new stop was found."""
        for event in events:
            if isinstance(event, stream.Reading) and event.stops is not None:
                # Fewer than before: the turn was begun anew.
                before, self._stops = self._stops, event.stops
                if self._stops > before:
                    return stream.Command("measured", (self._world.measure_arm(),))
        return None


def worked_by_hand(asked: Iterator[Notice], hand: PumpHandle) -> Iterator[Notice]:
    """Take the pump's commands out of what is asked; the rest goes on to the bench."""
    for given in asked:
        if isinstance(given, Asked) and given.command.word in stream.REHEARSAL_COMMANDS:
            hand.work(given.command.word)
        else:
            yield given


class PersonThread:
    """Lets a simulated person hear and act in a thread of their own, on a real clock."""

    def __init__(self, person: Person, clock: Clock, ask: Callable[[Notice], None]) -> None:
        self._person = person
        self._clock = clock
        self._ask = ask
        self._heard: queue.SimpleQueue[stream.Event] = queue.SimpleQueue()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="person", daemon=True)
        self._thread.start()

    def hear(self, event: stream.Event) -> None:
        """Hand an event on."""
        self._heard.put(event)

    def stop(self) -> None:
        """End it."""
        self._stopping.set()
        self._thread.join(1.0)

    def _run(self) -> None:
        while not self._stopping.wait(ACT_EVERY_S):
            while not self._heard.empty():
                self._person.hear(self._heard.get(), self._clock.now())
            now = self._clock.now()
            for word in self._person.act(now):
                self._ask(Asked(now, stream.read_command(word)))


def _learn(
    rig: Hardware,
    turns: Iterator[Told | None],
    gather: Callable[[], Gathering[Learned]],
    move: Callable[[SimBench], None],
) -> Learned:
    session = AlignSession(gather)
    said: list[stream.Event] = []
    world = rig.world
    protractor = ArmProtractor(world) if world is not None and rig.chip.facts.is_encoder else None
    begun = False
    for told in turns:
        if world is None or told is None:
            continue
        events = session.step(told)
        if protractor is not None and (reads := protractor.read(events)):
            events += session.step(Asked(rig.clock.now(), reads))
        said += events
        if not begun:
            begun = True
            said += session.step(Asked(rig.clock.now(), stream.Command("begin")))
            move(world)
        elif world.standing:
            said += session.step(Asked(rig.clock.now(), stream.Command("end")))
        spoilt = any(isinstance(e, stream.Fault) and e.what == "alignment" for e in events)
        if session.finished or spoilt:
            break
    if session.learned is None:
        faults = [event.detail for event in said if isinstance(event, stream.Fault)]
        raise Failure(f"the simulated bench can't be aligned: {'; '.join(faults)}")
    return session.learned
