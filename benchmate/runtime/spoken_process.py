"""``watch --spoken``: the bench process told in sentences, a line at a time, worked by lines."""

import queue
import threading
from collections.abc import Callable
from typing import IO

from benchmate.clock import Clock, MonotonicClock
from benchmate.screen.client import Ended, Happening, RunningBench
from benchmate.screen.text.spoken import Speaker
from benchmate.screen.words.sentences import MEASURE, RESTART

TICK_S = 0.05
FIRST = "Enter does what is due; help tells the words."
HELP = (
    "Enter does what is due. again: press again. measured and a number: the protractor's angle. "
    "skip: keep the bend as it is, or leave it unbent. undo. quit."
)
LEAVE_AFTER_S = 30.0


class _Typed:
    """Lines from the person, and their end, read by a thread of their own."""

    def __init__(self, lines: IO[str]) -> None:
        self.waiting: queue.SimpleQueue[str | None] = queue.SimpleQueue()
        self._lines = lines
        threading.Thread(target=self._read, name="typed-lines", daemon=True).start()

    def _read(self) -> None:
        for line in self._lines:
            self.waiting.put(line.strip())
        self.waiting.put(None)


def watch_spoken(
    open_bench: Callable[[Callable[[Happening], None]], RunningBench],
    speaker: Speaker,
    lines: IO[str],
    out: IO[str],
    clock: Clock | None = None,
) -> int:
    """Open the bench and speak for it; give the exit status."""
    clock = clock or MonotonicClock()
    heard: queue.SimpleQueue[Happening] = queue.SimpleQueue()
    bench = open_bench(heard.put)
    typed = _Typed(lines)
    bench.start()
    speaker.tell(FIRST)
    status = None
    last = None
    while status is None or not _all_said(speaker, out, clock):
        now = clock.now()
        while not heard.empty():
            happening = heard.get()
            speaker.hear(happening, now)
            if isinstance(happening, Ended) and not happening.again:
                status = 0 if happening.status == 0 or speaker.state.done else happening.status
        reading = bench.latest()
        if reading is not None and reading is not last:
            last = reading
            speaker.hear(reading, now)
        speaker.tick(now)
        while not typed.waiting.empty():
            _act(typed.waiting.get(), bench, speaker, now)
        _say_next(speaker, out, now)
        clock.sleep(TICK_S)
    bench.wait(LEAVE_AFTER_S)
    return status


def _act(line: str | None, bench: RunningBench, speaker: Speaker, now: float) -> None:
    if line is None or line in {"q", "quit"}:
        speaker.leave()
        bench.hang_up()
        return
    if line in {"?", "help"}:
        speaker.tell(HELP)
        return
    command = line or speaker.command()
    if command == RESTART:
        bench.start()
        return
    if command == MEASURE or not command:
        speaker.tell("Type measured and the angle." if command else speaker.why_nothing())
        return
    if command == "zero":
        speaker.asked_zero(now)
    bench.send(command)


def _say_next(speaker: Speaker, out: IO[str], now: float) -> None:
    sentence = speaker.take(now)
    if sentence is not None:
        out.write(sentence + "\n")
        out.flush()


def _all_said(speaker: Speaker, out: IO[str], clock: Clock) -> bool:
    """Say what still waits, without waiting for its turn: the bench has ended."""
    while (sentence := speaker.take(clock.now() + 3600.0)) is not None:
        out.write(sentence + "\n")
    out.flush()
    return True
