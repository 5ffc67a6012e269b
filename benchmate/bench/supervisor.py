"""Threads of the bench, watched over: a failure is told, and the work begun anew if it can be."""

import logging
import threading
from collections.abc import Callable

_log = logging.getLogger(__name__)


class Supervised:
    """One thread whose work may fail without anybody's being left in the dark."""

    def __init__(
        self,
        name: str,
        work: Callable[[], None],
        failed: Callable[[str], None],
        *,
        again_after_s: float | None = None,
    ) -> None:
        """Run ``work`` to its end; ``failed`` is told what went wrong, in this thread.

        ``again_after_s``: how long after a failure the work is begun anew; None: it isn't.
        """
        self.stopping = threading.Event()
        self._name = name
        self._work = work
        self._failed = failed
        self._again_after_s = again_after_s
        self._thread = threading.Thread(target=self._run, name=name, daemon=True)

    def start(self) -> None:
        """Begin."""
        self._thread.start()

    def stop(self, seconds: float = 2.0) -> None:
        """Ask it to end, and wait for so long at most."""
        self.stopping.set()
        if self._thread.is_alive():
            self._thread.join(seconds)

    @property
    def alive(self) -> bool:
        """Say whether it still runs."""
        return self._thread.is_alive()

    def _run(self) -> None:
        while guarded(self._name, self._work, self._failed):
            if self._again_after_s is None or self.stopping.wait(self._again_after_s):
                return


def guarded(name: str, work: Callable[[], None], failed: Callable[[str], None]) -> bool:
    """Do the work; say whether it failed, after telling ``failed`` what went wrong."""
    try:
        work()
    except Exception as error:  # noqa: BLE001 - the one place where any failure of a thread is told
        _log.exception("%s failed", name)
        failed(f"{type(error).__name__}: {error}")
        return True
    return False
