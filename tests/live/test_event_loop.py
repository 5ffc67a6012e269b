"""Threads and queues around a session: nothing lost, nothing blocked, an orderly end."""

import io
import threading
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from benchmate import stream
from benchmate.bench.event_loop import EventLoop, read_commands
from benchmate.bench.inputs import Asked, Back, Closed, Durable, Lost, Tick, Wrong
from benchmate.bench.pins import Pins
from benchmate.bench.writers import MOST_WAITING, LineWriter
from benchmate.clock import MonotonicClock
from benchmate.errors import Failure
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


def test_a_sampler_that_fails_is_a_fault_with_its_words_and_is_begun_again() -> None:
    begun: list[int] = []
    back = threading.Event()

    def turns() -> Iterator[Any]:
        begun.append(1)
        yield Sample(float(len(begun)), (1,))
        if len(begun) == 1:
            raise ZeroDivisionError("a driver's mistake")
        back.set()

    def asked() -> Iterator[Any]:
        back.wait(10.0)
        yield Closed(3.0)

    heard = Heard()
    live: EventLoop[Any] = EventLoop(heard, AsTheyAre(), CLOCK, lambda *_: None, lambda _: None)
    live.run(turns, asked(), Pins(Signals(), live.press))
    kinds = [type(each) for each in heard.given if not isinstance(each, Closed | Tick)]
    assert kinds == [Sample, Lost, Back, Sample]
    assert "a driver's mistake" in heard.given[1].detail


def test_commands_that_can_t_be_read_any_more_are_told_and_the_run_ends_orderly() -> None:
    def asked() -> Iterator[Any]:
        yield Asked(1.0, stream.Command("zero"))
        raise RuntimeError("torn")

    heard = Heard()
    live: EventLoop[Any] = EventLoop(heard, AsTheyAre(), CLOCK, lambda *_: None, lambda _: None)
    live.run(lambda: iter([]), asked(), Pins(Signals(), live.press))
    assert [type(each) for each in heard.given] == [Asked, Wrong, Closed]
    assert "torn" in heard.given[1].detail


def test_a_session_that_fails_ends_as_a_failure_after_a_fault_that_says_so() -> None:
    class Failing(Heard):
        def step(self, given: Any) -> list[stream.Event]:
            raise KeyError("mistake")

    told: list[stream.Event] = []
    live: EventLoop[Any] = EventLoop(Failing(), AsTheyAre(), CLOCK, lambda *_: None, told.append)
    with pytest.raises(Failure, match="what was logged is kept"):
        live.run(lambda: iter([Sample(1.0, (1,))]), iter([]), Pins(Signals(), live.press))
    assert [type(event) for event in told] == [stream.Fault]


def test_an_error_meant_for_a_person_ends_the_loop_as_it_is() -> None:
    class Refusing(Heard):
        def open(self) -> list[stream.Event]:
            raise Failure("the disk is gone")

    live: EventLoop[Any] = EventLoop(
        Refusing(), AsTheyAre(), CLOCK, lambda *_: None, lambda _: None
    )
    with pytest.raises(Failure, match="the disk is gone"):
        live.run(lambda: iter([]), iter([]), Pins(Signals(), live.press))


class FailingPins:
    """A buzzer whose driver fails once."""

    any = True
    missing = ("foot switch on GPIO17: busy",)

    def __init__(self) -> None:
        self.shown: list[Any] = []
        self.again = threading.Event()

    def show(self, signal: Any) -> None:
        self.shown.append(signal)
        if len(self.shown) == 1:
            raise OSError("the pin is gone")
        self.again.set()

    def close(self) -> None:
        pass


def test_pins_that_fail_or_can_t_be_had_are_faults_that_leave_the_angle_alone() -> None:
    pins, told = FailingPins(), []

    def asked() -> Iterator[Any]:
        pins.again.wait(10.0)
        yield Closed(3.0)

    live: EventLoop[Any] = EventLoop(Heard(), AsTheyAre(), CLOCK, lambda *_: None, told.append)
    live.run(lambda: iter([]), asked(), pins)  # type: ignore[arg-type]  # stands for Pins
    faults = [event for event in told if isinstance(event, stream.Fault)]
    assert {fault.what for fault in faults} == {"signals"}
    assert "GPIO17" in faults[0].detail
    assert "the pin is gone" in faults[1].detail
    assert "signals" not in stream.BLINDING
    assert len(pins.shown) > 1


def test_a_number_that_no_line_can_take_is_told_and_the_reader_stays() -> None:
    out, gone = io.StringIO(), []
    writer = LineWriter(out, lambda: gone.append(True))
    writer(stream.Peak(arm=float("nan")))
    writer(stream.Done())
    assert writer.close()
    fault, done = map(stream.read_event, out.getvalue().splitlines())
    assert isinstance(fault, stream.Fault)
    assert "peak" in fault.detail
    assert (done, gone) == (stream.Done(), [])


def test_a_blocked_reader_of_text_holds_up_nobody() -> None:
    out = Stuck()
    writer = LineWriter(out, lambda: None, lambda event: type(event).__name__)
    began = CLOCK.now()
    for number in range(100):
        writer(stream.Logged(id=str(number), bend=1))
    assert CLOCK.now() - began < 1.0
    out.go.set()
    assert writer.close(10.0)
    assert out.getvalue().count("Logged") == 100


def test_a_reader_that_never_reads_counts_as_gone_in_the_end() -> None:
    out, gone = Stuck(), []
    writer = LineWriter(out, lambda: gone.append(True))
    for _ in range(MOST_WAITING + 10):
        writer(stream.Done())
    assert gone == [True]
    out.go.set()
