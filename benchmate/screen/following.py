"""Looking on: a running bench found by its socket and heard, never told anything."""

import logging
import socket
import threading
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, NamedTuple

from benchmate.errors import Failure, Refusal
from benchmate.screen.client import Ended, Happening, Started
from benchmate.stream import Done, Reading, Watched, read_event

FIRST_WORD_S = 3.0
"""A bench says at once whose job it is; after so long there is none behind the socket."""
GONE = "the bench that was followed has ended"

_log = logging.getLogger(__name__)


class BenchFound(NamedTuple):
    """A bench that can be looked on at."""

    path: Path
    watched: Watched


def running_benches(folders: Iterable[Path]) -> list[BenchFound]:
    """Give the benches that run, those on real hardware first."""
    found = []
    for folder in folders:
        for path in sorted(folder.glob("bench-*.sock")):
            try:
                with _lines(path, FIRST_WORD_S) as lines:
                    first = read_event(lines.readline(10_000))
            except (OSError, ValueError, Refusal) as error:
                # Left by a bench that was killed, or one that is just ending.
                _log.info("%s: no bench answers: %s", path, error)
                continue
            if isinstance(first, Watched):
                found.append(BenchFound(path, first))
    return sorted(found, key=lambda bench: bench.watched.simulated)


def one_running(folders: Iterable[Path], job: str | None) -> BenchFound:
    """Give the bench to look on at: of ``job`` where that is named; a Failure when none runs."""
    benches = running_benches(folders)
    for bench in benches:
        if job in (None, bench.watched.job):
            return bench
    if benches:
        jobs = ", ".join(sorted({bench.watched.job for bench in benches}))
        raise Failure(f"no bench works on {job}: running is {jobs}; leave JOB out, or name that")
    raise Failure("no bench is running here under your name; start one with: benchmate watch JOB")


class FollowedBench:
    """A running bench as the screen knows one; it can't be told anything and isn't started."""

    def __init__(self, find: Callable[[], BenchFound], say: Callable[[Happening], None]) -> None:
        """``find`` is asked at each start which bench; ``say`` is called in a thread, in order."""
        self._find = find
        self._say = say
        self._box: Reading | None = None
        self._thread: threading.Thread | None = None
        self._connection: socket.socket | None = None
        self._left = threading.Event()

    def start(self) -> None:
        """Begin to listen, or look for a bench again."""
        if self._thread is None or not self._thread.is_alive():
            self._thread = threading.Thread(target=self._listen, name="followed", daemon=True)
            self._thread.start()

    def latest(self) -> Reading | None:
        """Give the newest reading; None before the first."""
        return self._box

    def send(self, command: str) -> None:
        """Send nothing: whoever looks on touches nothing."""
        _log.info("looking on, so '%s' was not sent", command)

    def hang_up(self) -> None:
        """Stop listening; the bench goes on."""
        self._left.set()
        if self._connection is not None:
            try:
                self._connection.shutdown(socket.SHUT_RDWR)
            except OSError as error:
                _log.info("the bench was gone before: %s", error)

    def wait(self, seconds: float) -> bool:
        """Wait so long at most until nothing is listened to any more; True when so."""
        if self._thread is not None:
            self._thread.join(seconds)
            return not self._thread.is_alive()
        return True

    def _listen(self) -> None:
        status, why = 1, GONE
        try:
            bench = self._find()
            with _connected(bench.path) as connection:
                self._connection = connection
                self._say(Started(again=False))
                with connection.makefile("r", encoding="utf-8") as lines:
                    status = self._hear(lines)
        except Failure as failure:
            why = str(failure)
        except (OSError, ValueError) as error:
            _log.info("the bench can't be heard any more: %s", error)
        self._connection, self._box = None, None
        left = self._left.is_set()
        self._say(Ended(status=0 if left else status, complaint="" if left else why, again=False))

    def _hear(self, lines: IO[str]) -> int:
        status = 1
        for line in lines:
            try:
                event = read_event(line)
            except Refusal as error:
                _log.warning("%s", error)
                continue
            if isinstance(event, Reading):
                self._box = event
            else:
                status = 0 if isinstance(event, Done) else status
                self._say(event)
        return status


@contextmanager
def _connected(path: Path) -> Iterator[socket.socket]:
    with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as connection:
        connection.connect(str(path))
        yield connection


@contextmanager
def _lines(path: Path, seconds: float) -> Iterator[IO[str]]:
    with _connected(path) as connection:
        connection.settimeout(seconds)
        with connection.makefile("r", encoding="utf-8") as lines:
            yield lines


def raw_lines(bench: BenchFound) -> Iterator[str]:
    """Give the plain stream as the bench writes it, until it ends."""
    with _connected(bench.path) as connection, connection.makefile("r", encoding="utf-8") as lines:
        yield from lines
