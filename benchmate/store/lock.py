"""One writing process at a time: a lock beside the store, held for the writer's whole life."""

import fcntl
import os
import time
from contextlib import suppress
from pathlib import Path
from types import TracebackType
from typing import Self

from benchmate import files
from benchmate.errors import Failure

PATIENCE_S = 0.3


class WriterLock:
    """The right to write a store; the kernel takes it back however the process ends."""

    def __init__(self, store: Path) -> None:
        """Take the lock of ``store``; Failure when another process has it or it can't be made."""
        path = store.with_name(store.name + ".lock")
        try:
            self._fd = files.create(path, 0)
        except OSError as error:
            raise Failure(f"{path}: the store's lock can't be made ({error.strerror})") from error
        try:
            self._take()
        except OSError as error:
            holder = os.pread(self._fd, 20, 0).decode("ascii", "replace").strip()
            os.close(self._fd)
            who = f" (process {holder})" if holder.isdigit() else ""
            raise Failure(
                f"{store}: another benchmate{who} is writing this store; end it first, or name"
                " another store with --store"
            ) from error
        os.ftruncate(self._fd, 0)
        os.pwrite(self._fd, str(os.getpid()).encode(), 0)

    def _take(self) -> None:
        """Take the lock; wait a moment for one that is about to be given back."""
        until = time.monotonic() + PATIENCE_S
        while time.monotonic() < until:
            with suppress(BlockingIOError):
                return fcntl.flock(self._fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
            time.sleep(0.01)
        return fcntl.flock(self._fd, fcntl.LOCK_EX | fcntl.LOCK_NB)

    def release(self) -> None:
        """Give the right back; a second call does nothing."""
        if self._fd >= 0:
            os.ftruncate(self._fd, 0)
            os.close(self._fd)
            self._fd = -1

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.release()
