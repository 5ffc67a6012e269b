"""What the bench says, written for one reader from a thread of its own.

A reader that is slow, hangs or goes away delays neither a sample nor a tone nor a commit.
"""

import logging
import threading
from collections import deque
from collections.abc import Callable
from typing import Protocol

from benchmate import stream
from benchmate.bench.supervisor import Supervised

BACKLOG = 256
"""Lines that may wait for a slow reader before live readings are dropped;"""
MOST_WAITING = 20_000
"""so many of the others, and it counts as gone."""

_log = logging.getLogger(__name__)


def as_json(event: stream.Event) -> str:
    """Give an event as the plain stream has it."""
    return stream.write_event(event)


class Out(Protocol):
    """What lines are written to: a standard stream, a connection."""

    def write(self, text: str, /) -> object:
        """Write it."""
        ...

    def flush(self) -> object:
        """Have it go out at once."""
        ...


class LineWriter:
    """Writes events as lines, flushed at once."""

    def __init__(
        self,
        out: Out,
        gone: Callable[[], None],
        line_of: Callable[[stream.Event], str | None] = as_json,
    ) -> None:
        """Write to ``out``; ``gone`` is called once when nobody reads any more.

        ``line_of`` gives an event's line without its end, or None where it is worth none.
        """
        self._out = out
        self._gone = gone
        self._line_of = line_of
        self._waiting: deque[stream.Event] = deque()
        self._more = threading.Condition()
        self._closing = False
        self._left = False
        self._thread = Supervised("stream", self._run, self._failed)
        self._thread.start()

    def __call__(self, event: stream.Event) -> None:
        """Queue one event; a live reading is dropped while the reader is far behind."""
        with self._more:
            behind = len(self._waiting)
            if self._left or (isinstance(event, stream.Reading) and behind >= BACKLOG):
                return
            if behind >= MOST_WAITING:
                self._leave("it has not read for too long")
                return
            self._waiting.append(event)
            self._more.notify()

    def close(self, seconds: float = 2.0) -> bool:
        """Write what waits, for so long at most; say whether all of it was written."""
        with self._more:
            self._closing = True
            self._more.notify()
        self._thread.stop(seconds)
        return not (self._thread.alive or self._left)

    def _run(self) -> None:
        while (event := self._next()) is not None:
            line = self._line(event)
            if line is None:
                continue
            try:
                self._out.write(line + "\n")
                self._out.flush()
            except (OSError, ValueError) as error:
                # A broken pipe, a full disk, a stream closed: the hit is finished all the same.
                with self._more:
                    self._leave(str(error))
                return

    def _line(self, event: stream.Event) -> str | None:
        try:
            return self._line_of(event)
        except ValueError as error:
            what = type(event).__name__.lower()
            _log.error("%s can't be written: %s", event, error)
            detail = f"a {what} could not be told: it holds what no line can take ({error})"
            return self._line_of(stream.Fault(what="command", detail=detail))

    def _failed(self, why: str) -> None:
        with self._more:
            self._leave(why)

    def _leave(self, why: str) -> None:
        if self._left:
            return
        self._left = True
        self._waiting.clear()
        _log.info("nobody reads the stream any more: %s", why)
        self._gone()

    def _next(self) -> stream.Event | None:
        with self._more:
            while not self._waiting:
                if self._closing or self._left:
                    return None
                self._more.wait()
            return self._waiting.popleft()
