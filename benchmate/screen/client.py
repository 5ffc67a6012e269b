"""The screen's line to the bench process: start it, hear it, tell it, notice its end.

Readings go into a one-slot box that the screen empties at its own pace; every other event is handed
on in order and none is lost. The bench process is never killed: closing its standard input makes it
finish the hit, log and end.
"""

import logging
import subprocess
import threading
from collections import deque
from collections.abc import Callable, Sequence
from typing import Protocol, TypeAlias

import msgspec

from benchmate.clock import Clock
from benchmate.errors import Refusal
from benchmate.stream import Event, Reading, read_event

RESTARTS = 3
"""Starts anew without being asked, at most so many within RESTART_WINDOW_S: a bench that dies at
once each time is left alone until the person asks."""
RESTART_WINDOW_S = 60.0

_log = logging.getLogger(__name__)


class Started(msgspec.Struct, frozen=True):
    """The bench process runs; ``again`` when it ran before and ended by itself."""

    again: bool


class Ended(msgspec.Struct, frozen=True):
    """The bench process is gone: exit status, the last line it complained with, what comes now."""

    status: int
    complaint: str
    again: bool
    """It is being started again at once."""


Happening: TypeAlias = Event | Started | Ended


class RunningBench(Protocol):
    """A bench process, or what stands for one in a test."""

    def start(self) -> None:
        """Start it; ``Started`` is said. Starting a running one does nothing."""
        ...

    def latest(self) -> Reading | None:
        """Give the newest reading; None before the first."""
        ...

    def send(self, command: str) -> None:
        """Send one command line; to a bench that has ended nothing is sent."""
        ...

    def hang_up(self) -> None:
        """Close its standard input, so that it finishes the hit, logs and ends."""
        ...

    def wait(self, seconds: float) -> bool:
        """Wait so long at most for its end; True when it has come."""
        ...


OpenBench: TypeAlias = Callable[
    [Callable[[], Sequence[str]], Callable[[Happening], None]], RunningBench
]
"""Makes a Bench from a function that gives the command line and one that is told what happens."""


class BenchProcess:
    """The bench process behind its three standard streams.

    ``argv`` is asked for the command line at every start, so that a bench that starts again can go
    on at the bend in work. ``say`` is called from a thread of this class, once an event, in order.
    """

    def __init__(
        self,
        argv: Callable[[], Sequence[str]],
        say: Callable[[Happening], None],
        clock: Clock,
        restarts: int = RESTARTS,
    ) -> None:
        self._argv = argv
        self._say = say
        self._clock = clock
        self._most = restarts
        self._box: Reading | None = None
        self._process: subprocess.Popen[str] | None = None
        self._thread: threading.Thread | None = None
        self._hung_up = threading.Event()
        self._restarts: deque[float] = deque(maxlen=restarts)
        self._stdin_lock = threading.Lock()
        self._heard = False
        """Whether the process now running has said anything."""

    def start(self) -> None:
        """Start the process and the thread that hears it; a running one is left as it is."""
        if self._thread is not None and self._thread.is_alive():
            return
        self._thread = threading.Thread(target=self._lives, name="bench-stream", daemon=True)
        self._thread.start()

    def latest(self) -> Reading | None:
        """Give the newest reading; None before the first and after the bench ended."""
        return self._box

    def send(self, command: str) -> None:
        """Send one command line."""
        with self._stdin_lock:
            process = self._process
            if process is None or process.stdin is None or process.stdin.closed:
                return
            try:
                process.stdin.write(command + "\n")
                process.stdin.flush()
            except (BrokenPipeError, OSError) as error:
                # Its end is noticed and said by the hearing thread.
                _log.info("the bench did not take '%s': %s", command, error)

    def hang_up(self) -> None:
        """Close the bench's standard input."""
        self._hung_up.set()
        with self._stdin_lock:
            self._close_stdin()

    def wait(self, seconds: float) -> bool:
        """Wait so long at most for the bench to end; True when it has. It is never killed."""
        if self._thread is not None:
            self._thread.join(seconds)
            return not self._thread.is_alive()
        return True

    def _close_stdin(self) -> None:
        process = self._process
        if process is not None and process.stdin is not None and not process.stdin.closed:
            try:
                process.stdin.close()
            except (BrokenPipeError, OSError) as error:
                _log.info("the bench was gone before its input was closed: %s", error)

    def _lives(self) -> None:
        again = False
        while True:
            ended = self._one_life(again=again)
            self._box = None
            self._say(ended)
            if not ended.again:
                return
            again = True

    def _one_life(self, *, again: bool) -> Ended:
        try:
            process = subprocess.Popen(
                list(self._argv()),
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.PIPE,
                encoding="utf-8",
                errors="replace",
                # Its own session: a hang-up of the terminal or Ctrl-C reaches the screen alone.
                start_new_session=True,
            )
        except OSError as error:
            return Ended(
                status=1, complaint=f"the bench could not be started: {error}", again=False
            )
        self._heard = False
        with self._stdin_lock:
            self._process = process
            if self._hung_up.is_set():
                self._close_stdin()
        self._say(Started(again=again))
        complaints: deque[str] = deque(maxlen=1)
        with process:
            listener = threading.Thread(
                target=_keep_last_line, args=(process.stderr, complaints), daemon=True
            )
            listener.start()
            for line in process.stdout or ():
                self._hear(line)
            status = process.wait()
            listener.join()
            with self._stdin_lock:
                self._close_stdin()
        complaint = complaints[0] if complaints else ""
        return Ended(status=status, complaint=complaint, again=self._starts_again(status))

    def _hear(self, line: str) -> None:
        try:
            event = read_event(line)
        except Refusal as error:
            _log.warning("%s", error)
            return
        self._heard = True
        if isinstance(event, Reading):
            self._box = event
        else:
            self._say(event)

    def _starts_again(self, status: int) -> bool:
        """Start again at once after a crash; not after a proper end, a refusal, or too many.

        Nor where it ended before it had anything to say: another bench may hold the sensor.
        """
        if status in {0, 2} or self._hung_up.is_set() or not self._heard:
            return False
        now = self._clock.now()
        recent = [at for at in self._restarts if now - at < RESTART_WINDOW_S]
        if len(recent) >= self._most:
            return False
        self._restarts.append(now)
        return True


def _keep_last_line(stream: "Sequence[str] | None", kept: deque[str]) -> None:
    for line in stream or ():
        if line.strip():
            kept.append(line.strip())
