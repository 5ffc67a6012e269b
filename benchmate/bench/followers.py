"""Those who look on: the plain stream on a unix socket of the user's own, read-only.

A follower that is slow, hangs or goes away costs the bench nothing: each has a bounded queue and a
thread of its own, and nothing that a follower sends is read.
"""

import io
import logging
import os
import socket
import stat
import threading
from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from benchmate import stream
from benchmate.bench.supervisor import Supervised
from benchmate.bench.writers import LineWriter

MOST_FOLLOWERS = 8
MOST_KEPT = 1000
"""Events of the run so far that are kept for whoever comes late."""
CLOSE_S = 0.2
"""So long the end waits for a follower to read what is left."""

_log = logging.getLogger(__name__)


class RunSoFar:
    """What somebody who comes late is told first: all but the readings, then the newest of them."""

    def __init__(self, most: int = MOST_KEPT) -> None:
        """Keep so many events at most; older ones go, standing faults stay."""
        self._most = most
        self._kept: list[stream.Event] = []
        self._reading: stream.Reading | None = None

    def hear(self, event: stream.Event) -> None:
        """Take one event."""
        match event:
            case stream.Reading():
                self._reading = event
            case stream.Fault(what="command") | stream.Foot():
                pass
            case _:
                self._kept.append(event)
                if len(self._kept) > self._most:
                    self._shorten()

    def events(self) -> tuple[stream.Event, ...]:
        """Give what brings a newcomer to where everybody is."""
        return (*self._kept, *(() if self._reading is None else (self._reading,)))

    def _shorten(self) -> None:
        """Leave out the older half, up to where a target begins the rest."""
        half = len(self._kept) // 2
        targets = (
            place
            for place in range(half, len(self._kept))
            if isinstance(self._kept[place], stream.Target)
        )
        cut = next(targets, half)
        self._kept = [*_standing(self._kept[:cut]), *self._kept[cut:]]


def _standing(events: Sequence[stream.Event]) -> list[stream.Event]:
    """Give the faults that were not cleared, and the target that stood last."""
    faults: dict[str, stream.Event] = {}
    target: stream.Event | None = None
    for event in events:
        match event:
            case stream.Fault(what=what):
                faults[what] = event
            case stream.Cleared(what=what):
                faults.pop(what, None)
            case stream.Target():
                target = event
            case _:
                pass
    return [*(() if target is None else (target,)), *faults.values()]


class _Line(io.TextIOBase):
    """A connection to write lines to."""

    def __init__(self, connection: socket.socket) -> None:
        self._connection = connection

    def write(self, text: str) -> int:
        self._connection.sendall(text.encode("ascii"))
        return len(text)


class Followers:
    """Tells everybody who connects what the bench says."""

    def __init__(self, folders: Sequence[Path], first: stream.Watched) -> None:
        """Listen in the first of the folders that can be had; ``first`` is said to each newcomer.

        Where none can be had nobody can look on, and the bench works as ever: ``path`` is None.
        """
        self.path: Path | None = None
        self._first = first
        self._so_far = RunSoFar()
        self._lock = threading.Lock()
        """Held for as long as events are put into queues, never while one is written."""
        self._following: dict[LineWriter, socket.socket] = {}
        self._gone: list[LineWriter] = []
        self._socket = self._listening(folders)
        self._thread = Supervised("followers", self._accept, self._failed, again_after_s=1.0)
        if self._socket is not None:
            self._thread.start()

    def hear(self, event: stream.Event) -> None:
        """Tell everybody; never waits for any of them. Called by one thread, the bench's."""
        if self._socket is None:
            return
        with self._lock:
            self._so_far.hear(event)
            for writer in self._following:
                writer(event)
            while self._gone:
                self._drop(self._gone.pop(0))

    def close(self) -> None:
        """Take the socket away and let everybody go."""
        self._thread.stopping.set()
        if self._socket is not None:
            with suppress(OSError):
                self._socket.shutdown(socket.SHUT_RDWR)
            self._socket.close()
        if self.path is not None:
            self.path.unlink(missing_ok=True)
        with self._lock:
            for writer in list(self._following):
                writer.close(CLOSE_S)
                self._drop(writer)

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _accept(self) -> None:
        while self._socket is not None and not self._thread.stopping.is_set():
            try:
                connection, _ = self._socket.accept()
            except OSError:
                if self._thread.stopping.is_set():
                    return
                raise
            with self._lock:
                self._take(connection)

    def _take(self, connection: socket.socket) -> None:
        """Take a newcomer in, told first what happened so far."""
        if self._thread.stopping.is_set() or len(self._following) >= MOST_FOLLOWERS:
            connection.close()
            return
        writer = LineWriter(_Line(connection), lambda: self._gone.append(writer))
        self._following[writer] = connection
        for event in (self._first, *self._so_far.events()):
            writer(event)

    def _drop(self, writer: LineWriter) -> None:
        connection = self._following.pop(writer, None)
        if connection is not None:
            # Wakes a thread that is blocked in a write to somebody who doesn't read.
            with suppress(OSError):
                connection.shutdown(socket.SHUT_RDWR)
            connection.close()

    def _failed(self, why: str) -> None:
        _log.warning("nobody new can look on: %s", why)

    def _listening(self, folders: Sequence[Path]) -> socket.socket | None:
        for folder in folders:
            path = folder / f"bench-{os.getpid()}.sock"
            listening = socket.socket(socket.AF_UNIX, socket.SOCK_STREAM)
            try:
                own_folder(folder)
                sweep(folder)
                # No moment at which others could connect: the folder is the user's alone.
                listening.bind(str(path))
                path.chmod(0o600)
                listening.listen(MOST_FOLLOWERS)
            except OSError as error:
                _log.info("%s: nobody can look on from there: %s", path, error)
                listening.close()
                continue
            self.path = path
            return listening
        return None


def own_folder(folder: Path) -> None:
    """Make the folder, for this user alone; OSError when it is somebody else's."""
    folder.mkdir(mode=0o700, parents=True, exist_ok=True)
    found = folder.lstat()
    if not stat.S_ISDIR(found.st_mode) or found.st_uid != os.getuid():
        raise PermissionError(f"{folder} is not a folder of this user's own")
    folder.chmod(0o700)


def sweep(folder: Path) -> None:
    """Take away the sockets of benches that are gone."""
    for path in folder.glob("bench-*.sock"):
        with socket.socket(socket.AF_UNIX, socket.SOCK_STREAM) as probe:
            probe.settimeout(0.2)
            try:
                probe.connect(str(path))
            except (ConnectionRefusedError, FileNotFoundError):
                path.unlink(missing_ok=True)
            except OSError as error:
                _log.info("%s: left as it is: %s", path, error)
