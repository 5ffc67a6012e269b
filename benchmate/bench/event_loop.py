"""The bench process: threads and queues around the session, which itself knows none.

One inbox, one consumer. Into it go good samples and faults (the sampler's thread), commands
(standard input's thread, the foot switch) and what became durable (the store's thread). The
consumer owns the session. What it says goes to writers with threads of their own. A thread that
fails is told of on the stream; the sampler's and the signals' are begun again.
"""

import logging
import queue
import sys
import threading
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Generic, NamedTuple, Protocol, TypeAlias, TypeVar

from benchmate import stream
from benchmate.bench.estimation import Estimator, estimated
from benchmate.bench.inputs import Asked, Back, Closed, Durable, Lost, Notice, Tick, Wrong
from benchmate.bench.pins import Pins
from benchmate.bench.sampler import Told as Sampled
from benchmate.bench.sampler_timeout import HANGS_S, SamplerTimeout
from benchmate.bench.session import Row, Told
from benchmate.bench.signalling import Signalling
from benchmate.bench.supervisor import Supervised, guarded
from benchmate.clock import Clock
from benchmate.errors import Failure, Refusal
from benchmate.sensing.sample import Sample
from benchmate.store.record import BendRecord, RunInput, RunRecord

LOOK_S = 0.05
"""How often silence is looked at."""
SAMPLER_AGAIN_S = 0.5
"""After its thread has failed."""
SWITCH_S = 0.0005

_log = logging.getLogger(__name__)


Seen = TypeVar("Seen")
"""What the session takes in the place of a sample: a reading, or the sample itself."""
Takes_contra = TypeVar("Takes_contra", contravariant=True)


class Consumer(Protocol[Takes_contra]):
    """What is run: ``benchmate.bench.session`` for bends, ``benchmate.bench.aligning`` too."""

    @property
    def finished(self) -> bool:
        """Say whether it is over."""
        ...

    def open(self) -> Sequence[Told]:
        """Give what is said before any input."""
        ...

    def step(self, given: Takes_contra | Notice) -> Sequence[Told]:
        """Take one input; give what it brings about."""
        ...


class Keep(Protocol):
    """Sends a row to the store."""

    def __call__(self, row: Row, done: "WhenKept") -> None:
        """Send it; ``done`` is called once it is durable or can't be."""
        ...


class WhenKept(Protocol):
    """Is told, in any thread, what became of a row."""

    def __call__(self, failure: str, *, for_good: bool = False) -> None:
        """``failure``: why it isn't durable, else ""; ``for_good``: to try again is of no use."""
        ...


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


class _Aside(NamedTuple):
    """Something to be said that the session needn't know."""

    event: stream.Event


class _SamplerFailed(NamedTuple):
    """The sampler's thread raised what it shouldn't."""

    t: float
    why: str


_Given: TypeAlias = Sampled | Notice | _Aside | _SamplerFailed


class EventLoop(Generic[Seen]):
    """Runs a session on real time until it is finished."""

    def __init__(
        self,
        session: Consumer[Seen],
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
        self._inbox: queue.SimpleQueue[_Given] = queue.SimpleQueue()
        self._stopping = threading.Event()
        self._pulse = pulse
        self._timeout = SamplerTimeout(clock.now())
        self._hung = False

    def put(self, given: Sampled | Notice) -> None:
        """Hand in an input from any thread, or from a signal handler."""
        self._inbox.put(given)

    def press(self, word: str) -> None:
        """Hand in a press of the foot switch."""
        self.put(Asked(self._clock.now(), stream.Command(word)))

    def run(
        self, turns: Callable[[], Iterator[Sampled | None]], asked: Iterator[Notice], pins: Pins
    ) -> None:
        """Run until the session is finished; threads end with it.

        ``turns`` gives what the sampler brings, and is asked anew when its thread has failed.
        Failure when the session itself failed.
        """
        # A thread that works out an angle must not keep the cue waiting for a whole time slice.
        sys.setswitchinterval(SWITCH_S)
        signals = Signalling(pins, self._clock, self._signals_failed)
        sampler = Supervised(
            "sampler",
            lambda: self._sample(turns()),
            self._sampler_failed,
            again_after_s=SAMPLER_AGAIN_S,
        )
        # Blocked in a read of standard input it can't be told to end, and needn't be.
        commands = Supervised("commands", lambda: self._ask(asked), self._commands_failed)
        for thread in (sampler, commands):
            thread.start()
        self._timeout = SamplerTimeout(self._clock.now())
        for missing in pins.missing:
            self._say(stream.Fault(what="signals", detail=missing))
        try:
            spoken: list[Failure | Refusal] = []
            failures: list[str] = []
            if guarded("session", lambda: self._consume(signals, spoken), failures.append):
                detail = f"the bench has failed and ends; what was logged is kept ({failures[0]})"
                self._emit(stream.Fault(what="sensor", detail=detail))
                raise Failure(detail)
            if spoken:
                raise spoken[0]
        finally:
            self._stopping.set()
            sampler.stop()
            signals.close()

    def _consume(self, signals: Signalling, spoken: list[Failure | Refusal]) -> None:
        """Run the session; an error that was meant for a person is put into ``spoken``."""
        try:
            self._deal(self._session.open(), signals)
            while not self._session.finished:
                for given in self._given():
                    self._deal(self._session.step(given), signals)
                    if self._session.finished:
                        break
        except (Failure, Refusal) as error:
            spoken.append(error)

    def _say(self, event: stream.Event) -> None:
        """Have something said that the session needn't know."""
        self._inbox.put(_Aside(event))

    def _sampler_failed(self, why: str) -> None:
        self._inbox.put(_SamplerFailed(self._clock.now(), why))

    def _commands_failed(self, why: str) -> None:
        self.put(Wrong(self._clock.now(), f"commands can't be read any more ({why})"))
        self.put(Closed(self._clock.now()))

    def _signals_failed(self, why: str) -> None:
        detail = f"buzzer and lights can't be driven ({why}); they are tried again"
        self._say(stream.Fault(what="signals", detail=detail))

    def _given(self) -> Iterator[Seen | Notice]:
        try:
            told = self._inbox.get(timeout=LOOK_S)
        except queue.Empty:
            yield from self._unheard()
            return
        match told:
            case Sample() | Lost() | Back():
                yield from self._heard(told)
            case _Aside(event):
                self._emit(event)
            case _SamplerFailed(t, why):
                self._timeout.heard(self._clock.now(), fault=True)
                self._hung = True
                detail = f"the sampler has failed ({why}) and is begun again"
                yield estimated(self._estimator, Lost(t, "sensor", detail))
            case _:
                yield told
                yield from self._unheard()

    def _heard(self, told: Sampled) -> Iterator[Seen | Notice]:
        self._timeout.heard(self._clock.now(), fault=isinstance(told, Lost))
        if isinstance(told, Sample) and self._hung:
            # The sampler is heard again, with a good sample: what hung has let go.
            yield Back(told.t)
        self._hung = False
        yield estimated(self._estimator, told)

    def _unheard(self) -> Iterator[Notice]:
        now = self._clock.now()
        match self._timeout.look(now, self._pulse()):
            case "hangs":
                self._hung = True
                yield Lost(now, "bus", _HANGS)
            case "tick":
                yield Tick(now)

    def _deal(self, outputs: Sequence[Told], signals: Signalling) -> None:
        for output in outputs:
            if isinstance(output, BendRecord | RunRecord | RunInput):
                self._keep(output, self._written)
            else:
                signals.hear(output)
                self._emit(output)

    def _written(self, failure: str, *, for_good: bool = False) -> None:
        self.put(Durable(self._clock.now(), failure, for_good))

    def _sample(self, turns: Iterator[Sampled | None]) -> None:
        for told in turns:
            if self._stopping.is_set():
                return
            if told is not None:
                self.put(told)

    def _ask(self, asked: Iterator[Notice]) -> None:
        for given in asked:
            self.put(given)


_HANGS = (
    f"no answer from the bus for {HANGS_S:g} s: a transfer hangs; stop pumping and unplug the "
    "sensor cable, then plug it in again"
)
