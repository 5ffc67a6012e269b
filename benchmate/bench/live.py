"""The bench process: threads and queues around the session, which itself knows none.

One inbox, one consumer. Into it go good samples and faults (the sampler's thread), commands
(standard input's thread, the foot switch) and what became durable (the store's thread). The
consumer owns the session. What it says goes to a writer thread of its own, so that a reader that
hangs delays neither a sample nor a tone nor a commit.
"""

import logging
import queue
import sys
import threading
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import IO, Generic, Protocol, TypeVar

from benchmate import stream
from benchmate.bench.following import Estimator, followed
from benchmate.bench.inputs import Asked, Back, Closed, Durable, Lost, Notice, Tick, Wrong
from benchmate.bench.pins import Pins
from benchmate.bench.sampler import Told
from benchmate.bench.session import Output
from benchmate.bench.silence import HANGS_S, Silence
from benchmate.bench.sounding import lamp_test, signal
from benchmate.clock import Clock
from benchmate.errors import Refusal
from benchmate.sensing.sample import Sample
from benchmate.store.record import BendRecord

LOOK_S = 0.05
"""How often silence is looked at."""
BACKLOG = 256
"""Lines that may wait for a slow reader before live readings are dropped; nothing else ever is."""
SIGNAL_EVERY_S = 0.02
SWITCH_S = 0.0005

_log = logging.getLogger(__name__)


Seen = TypeVar("Seen")
"""What the session takes in the place of a sample: a reading, or the sample itself."""
Takes_contra = TypeVar("Takes_contra", contravariant=True)


class Session(Protocol[Takes_contra]):
    """What is run: ``benchmate.bench.session`` for bends, ``benchmate.bench.aligning`` too."""

    finished: bool

    def open(self) -> Sequence[Output]:
        """Give what is said before any input."""
        ...

    def step(self, given: Takes_contra | Notice) -> Sequence[Output]:
        """Take one input; give what it brings about."""
        ...


Keep = Callable[[BendRecord, Callable[[str], None]], None]
"""Sends a row to the store; calls back, from any thread, with "" or why it isn't durable."""


class LineWriter:
    """Writes events as lines from a thread of its own, flushed at once."""

    def __init__(self, out: IO[str], gone: Callable[[], None]) -> None:
        """Write to ``out``; ``gone`` is called once when nobody reads any more."""
        self._out = out
        self._gone = gone
        self._lines: deque[stream.Event] = deque()
        self._more = threading.Condition()
        self._closing = False
        self._thread = threading.Thread(target=self._run, name="stream", daemon=True)
        self._thread.start()

    def __call__(self, event: stream.Event) -> None:
        """Queue one event; a live reading is dropped while the reader is far behind."""
        with self._more:
            if isinstance(event, stream.Reading) and len(self._lines) >= BACKLOG:
                return
            self._lines.append(event)
            self._more.notify()

    def close(self, seconds: float = 2.0) -> None:
        """Write what waits, for so long at most."""
        with self._more:
            self._closing = True
            self._more.notify()
        self._thread.join(seconds)

    def _run(self) -> None:
        try:
            while (event := self._next()) is not None:
                self._out.write(stream.write_event(event) + "\n")
                self._out.flush()
        except (OSError, ValueError) as error:
            # A broken pipe, a full disk, a stream closed: the hit is finished all the same.
            _log.info("nobody reads the stream any more: %s", error)
            self._gone()

    def _next(self) -> stream.Event | None:
        with self._more:
            while not self._lines:
                if self._closing:
                    return None
                self._more.wait()
            return self._lines.popleft()


def read_commands(lines: Iterable[str], known: tuple[str, ...], clock: Clock) -> Iterator[Notice]:
    """Give what each line asks, then that nobody asks any more."""
    try:
        for line in lines:
            if line.strip():
                yield _asked(line, known, clock)
    except (OSError, ValueError) as error:
        _log.info("standard input can't be read any more: %s", error)
    yield Closed(clock.now())


def _asked(line: str, known: tuple[str, ...], clock: Clock) -> Notice:
    try:
        return Asked(clock.now(), stream.read_command(line, known))
    except Refusal as refusal:
        return Wrong(clock.now(), str(refusal))


class Live(Generic[Seen]):
    """Runs a session on real time until it is finished."""

    def __init__(
        self,
        session: Session[Seen],
        estimator: Estimator[Seen],
        clock: Clock,
        keep: Keep,
        emit: Callable[[stream.Event], None],
        *,
        pulse: Callable[[], int] = lambda: 0,
    ) -> None:
        """Run ``session``; ``pulse`` counts the transfers that the sampler has begun on the bus."""
        self._session = session
        self._estimator = estimator
        self._clock = clock
        self._keep = keep
        self._emit = emit
        self._inbox: queue.SimpleQueue[Told | Notice] = queue.SimpleQueue()
        self._stopping = threading.Event()
        self._pulse = pulse
        self._silence = Silence(clock.now())
        self._hung = False

    def put(self, given: Told | Notice) -> None:
        """Hand in an input from any thread, or from a signal handler."""
        self._inbox.put(given)

    def press(self, word: str) -> None:
        """Hand in a press of the foot switch."""
        self.put(Asked(self._clock.now(), stream.Command(word)))

    def run(self, turns: Iterator[Told | None], asked: Iterator[Notice], pins: Pins) -> None:
        """Run until the session is finished; threads end with it."""
        # A thread that works out an angle must not keep the cue waiting for a whole time slice.
        sys.setswitchinterval(SWITCH_S)
        lamps = _Lamps(pins, self._clock)
        threads = [
            threading.Thread(target=self._sample, args=(turns,), name="sampler", daemon=True),
            # Blocked in a read of standard input it can't be told to end, and needn't be.
            threading.Thread(target=self._ask, args=(asked,), name="commands", daemon=True),
        ]
        for thread in threads:
            thread.start()
        self._silence = Silence(self._clock.now())
        try:
            self._deal(self._session.open(), lamps)
            while not self._session.finished:
                for given in self._given():
                    self._deal(self._session.step(given), lamps)
                    if self._session.finished:
                        break
        finally:
            self._stopping.set()
            threads[0].join(2.0)
            lamps.close()

    def _given(self) -> Iterator[Seen | Notice]:
        try:
            told = self._inbox.get(timeout=LOOK_S)
        except queue.Empty:
            yield from self._unheard()
            return
        if isinstance(told, Sample | Lost | Back):
            yield from self._heard(told)
        else:
            yield told
            yield from self._unheard()

    def _heard(self, told: Told) -> Iterator[Seen | Notice]:
        self._silence.heard(self._clock.now(), fault=isinstance(told, Lost))
        if isinstance(told, Sample) and self._hung:
            # The sampler is heard again, with a good sample: what hung has let go.
            yield Back(told.t)
        self._hung = False
        yield followed(self._estimator, told)

    def _unheard(self) -> Iterator[Notice]:
        now = self._clock.now()
        match self._silence.look(now, self._pulse()):
            case "hangs":
                self._hung = True
                yield Lost(now, "bus", _HANGS)
            case "tick":
                yield Tick(now)

    def _deal(self, outputs: Sequence[Output], lamps: "_Lamps") -> None:
        for output in outputs:
            if isinstance(output, BendRecord):
                self._keep(output, self._written(output))
            else:
                lamps.hear(output)
                self._emit(output)

    def _written(self, record: BendRecord) -> Callable[[str], None]:
        def written(failure: str) -> None:
            self.put(Durable(self._clock.now(), record.bend_id, record.bend, failure))

        return written

    def _sample(self, turns: Iterator[Told | None]) -> None:
        for told in turns:
            if self._stopping.is_set():
                return
            if told is not None:
                self.put(told)

    def _ask(self, asked: Iterator[Notice]) -> None:
        for given in asked:
            self.put(given)


class _Lamps:
    """Sounds and lights what the stream says, from a thread of its own."""

    def __init__(self, pins: Pins, clock: Clock) -> None:
        self._pins = pins
        self._clock = clock
        self._cue: stream.Cue = "wait"
        self._to_go: float | None = None
        self._faults: frozenset[str] = frozenset()
        self._began = self._since = clock.now()
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name="signals", daemon=True)
        if pins.any:
            self._thread.start()

    def hear(self, event: stream.Event) -> None:
        match event:
            case stream.Reading(cue=cue, to_go=to_go):
                self._to_go = to_go
                if cue != self._cue:
                    self._cue, self._since = cue, self._clock.now()
            case stream.Fault(what=what) if what != "command":
                self._faults |= {what}
                self._since = self._clock.now()
            case stream.Cleared(what=what):
                self._faults -= {what}
            case _:
                pass

    def close(self) -> None:
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(1.0)
        self._pins.close()

    def _run(self) -> None:
        while not self._stopping.wait(SIGNAL_EVERY_S):
            now = self._clock.now()
            self._pins.show(
                lamp_test(now - self._began)
                or signal(
                    self._cue,
                    fault=bool(self._faults),
                    to_go=self._to_go,
                    age_s=now - self._since,
                )
            )


_HANGS = (
    f"no answer from the bus for {HANGS_S:g} s: a transfer hangs; stop pumping and unplug the "
    "sensor cable, then plug it in again"
)
