"""Threads and queues around a session: nothing lost, nothing blocked, an orderly end."""

import io
import threading
from collections.abc import Callable, Iterator
from typing import Any

from benchmate import stream
from benchmate.bench.event_loop import EventLoop, read_commands
from benchmate.bench.inputs import Asked, Back, Closed, Durable, Lost, Wrong
from benchmate.bench.pins import Pins
from benchmate.bench.writers import LineWriter
from benchmate.clock import MonotonicClock
from benchmate.sensing.sample import Sample
from benchmate.shop.parts import Signals
from benchmate.store.record import BendRecord

CLOCK = MonotonicClock()
READING = stream.Reading(t=1.0, arm=2.0, rate=0.0, sd=0.1, to_go=90.0, phase="ready", cue="pump")


class Heard:
    """A session that remembers what it was given and ends on Closed."""

    def __init__(self) -> None:
        self.finished = False
        self.given: list[Any] = []
        self.on_lost: Callable[[Any], None] = lambda _: None

    def open(self) -> list[stream.Event]:
        return []

    def step(self, given: Any) -> list[stream.Event]:
        self.given.append(given)
        if isinstance(given, Lost):
            self.on_lost(given)
        self.finished = isinstance(given, Closed)
        return [stream.Done()] if self.finished else []


class AsTheyAre:
    def __init__(self) -> None:
        self.resets = 0

    def step(self, sample: Sample) -> Sample:
        return sample

    def reset(self) -> None:
        self.resets += 1


def run(turns: Iterator[Any], asked: Callable[[threading.Event], Iterator[Any]]) -> Any:
    heard, told, estimator = Heard(), [], AsTheyAre()
    seen = threading.Event()
    live = EventLoop(heard, estimator, CLOCK, lambda *_: None, told.append)

    def turning() -> Iterator[Any]:
        yield from turns
        seen.set()

    live.run(turning, asked(seen), Pins(Signals(), live.press))
    return heard, told, estimator


def test_samples_and_commands_reach_the_session_in_order() -> None:
    samples = [Sample(float(k), (k,)) for k in range(50)]

    def asked(seen: threading.Event) -> Iterator[Any]:
        seen.wait(5.0)
        yield Asked(60.0, stream.Command("zero"))
        yield Closed(61.0)

    heard, told, _ = run(iter(samples), asked)
    assert heard.given == [*samples, Asked(60.0, stream.Command("zero")), Closed(61.0)]
    assert told == [stream.Done()]


def test_a_fault_and_its_end_reset_the_estimator() -> None:
    turns = [Lost(1.0, "bus", "gone"), Back(2.0)]

    def asked(seen: threading.Event) -> Iterator[Any]:
        seen.wait(5.0)
        yield Closed(3.0)

    heard, _, estimator = run(iter(turns), asked)
    assert heard.given[:2] == turns
    assert estimator.resets == 2


def test_a_sampler_that_falls_silent_is_a_bus_fault_and_its_next_sample_ends_it() -> None:
    hangs, told = threading.Event(), threading.Event()

    def turns() -> Iterator[Any]:
        yield Sample(1.0, (1,))
        hangs.wait(5.0)
        yield Sample(2.0, (2,))
        told.set()

    class Waiting(Heard):
        def step(self, given: Any) -> list[stream.Event]:
            if isinstance(given, Lost):
                hangs.set()
            return super().step(given)

    heard = Waiting()
    live = EventLoop(heard, AsTheyAre(), CLOCK, lambda *_: None, lambda _: None)

    def asked() -> Iterator[Any]:
        told.wait(5.0)
        yield Closed(3.0)

    live.run(turns, asked(), Pins(Signals(), live.press))
    kinds = [type(each) for each in heard.given if not isinstance(each, Closed)]
    assert kinds == [Sample, Lost, Back, Sample]
    assert heard.given[1].what == "bus"


def test_transfers_that_go_on_without_a_sample_are_no_hang_and_one_that_stops_is() -> None:
    """A chip is set up for as long as its transfers follow each other."""
    heard, hung = Heard(), threading.Event()
    beats = iter([1, 1, 2, 2, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 8, 8])
    at: list[float] = []

    def pulse() -> int:
        at.append(CLOCK.now())
        return next(beats, 8)

    def told(given: Any) -> None:
        hung.set()

    live = EventLoop(heard, AsTheyAre(), CLOCK, lambda *_: None, lambda _: None, pulse=pulse)
    heard.on_lost = told

    def asked() -> Iterator[Any]:
        hung.wait(5.0)
        yield Closed(3.0)

    live.run(lambda: iter([]), asked(), Pins(Signals(), live.press))
    assert [type(each) for each in heard.given] == [Lost, Closed]
    assert 0.9 < at[-1] - at[0] < 2.0


def test_events_are_written_a_line_each_and_flushed() -> None:
    out = io.StringIO()
    writer = LineWriter(out, lambda: None)
    writer(READING)
    writer(stream.Done())
    writer.close()
    first, second = out.getvalue().splitlines()
    assert stream.read_event(first) == READING
    assert second == '{"event": "done"}'


class Stuck(io.StringIO):
    """A reader that takes nothing until it is let go."""

    def __init__(self) -> None:
        super().__init__()
        self.go = threading.Event()

    def write(self, text: str) -> int:
        self.go.wait(5.0)
        return super().write(text)


def test_a_reader_far_behind_loses_live_readings_and_nothing_else() -> None:
    out = Stuck()
    writer = LineWriter(out, lambda: None)
    for _ in range(3000):
        writer(READING)
    for number in range(500):
        writer(stream.Logged(id=str(number), bend=1))
    out.go.set()
    writer.close(10.0)
    lines = out.getvalue().splitlines()
    assert sum('"logged"' in line for line in lines) == 500
    assert sum('"reading"' in line for line in lines) < 300


def test_a_reader_that_is_gone_is_told_once() -> None:
    class Broken(io.StringIO):
        def write(self, text: str) -> int:
            raise BrokenPipeError

    gone: list[bool] = []
    writer = LineWriter(Broken(), lambda: gone.append(True))
    for _ in range(3):
        writer(READING)
    writer.close()
    assert gone == [True]


def test_commands_are_read_a_line_each_and_the_end_is_told() -> None:
    lines = ["zero\n", "\n", "measured 89.5\n", "mesured 89.5\n", "measured ninety\n"]
    given = list(read_commands(lines, stream.BEND_COMMANDS, CLOCK))
    kinds = [type(each) for each in given]
    assert kinds == [Asked, Asked, Wrong, Wrong, Closed]
    assert given[1].command == stream.Command("measured", (89.5,))
    assert "measured" in given[2].detail


def test_what_became_durable_comes_back_to_the_session() -> None:
    record = BendRecord(
        bend_id="x",
        job="j",
        bend=1,
        die="d",
        tube="t",
        lot="",
        bend_angle=90.0,
        tolerance=0.5,
        hits=(),
        verdict="accept",
        setup={},
    )

    class Logging(Heard):
        def open(self) -> list[Any]:
            return [record]

        def step(self, given: Any) -> list[stream.Event]:
            super().step(given)
            self.finished = isinstance(given, Durable)
            return []

    heard = Logging()
    live: EventLoop[Any] = EventLoop(
        heard, AsTheyAre(), CLOCK, lambda _, done: done("disk full"), lambda _: None
    )
    live.run(lambda: iter([]), iter([]), Pins(Signals(), live.press))
    durable = [each for each in heard.given if isinstance(each, Durable)]
    assert [each.failure for each in durable] == ["disk full"]
