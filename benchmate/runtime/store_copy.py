"""The store's copy on a second medium, kept up beside the bench: made after each finished part.

What hinders it is told as advice and never waited for; what was missed is made up for when the
medium is there again.
"""

import logging
from pathlib import Path

from benchmate.clock import Clock
from benchmate.errors import Failure
from benchmate.shop.parts import Bench
from benchmate.store.second_copy import is_behind, second_copy

_log = logging.getLogger(__name__)
TRY_AGAIN_S = 60.0


class StoreCopy:
    """Makes the copy that bench.yaml names as store_copy; does nothing where it names none."""

    def __init__(self, store: Path, bench: Bench, clock: Clock) -> None:
        self._store = store
        self._folder = None if bench.store_copy is None else Path(bench.store_copy).expanduser()
        self._name = bench.bench
        self._clock = clock
        self._said = ""
        self._again_at: float | None = clock.now()

    def ask(self) -> str | None:
        """Make up for a copy that was missed, and say what hinders it; None: no copy is wanted."""
        if self._folder is None:
            return None
        now = self._clock.now()
        if self._again_at is not None and now >= self._again_at:
            try:
                if not self._store.exists() or not is_behind(self._store, self._folder, self._name):
                    self._made()
                else:
                    self.make()
            except Failure as failure:
                self._hindered(failure)
        return self._said

    def falls_due(self) -> None:
        """Have the copy made by whoever asks next: the bench's own loop mustn't wait for a disk."""
        self._again_at = self._clock.now()

    def make(self) -> None:
        """Bring the copy up to date; what hinders it is said, and tried again later."""
        if self._folder is None:
            return
        try:
            target = second_copy(self._store, self._folder, self._name)
        except Failure as failure:
            self._hindered(failure)
            return
        self._made()
        _log.info("store: a copy is kept in %s", target)

    def _made(self) -> None:
        self._said, self._again_at = "", None

    def _hindered(self, failure: Failure) -> None:
        if self._said != str(failure):
            _log.warning("store: %s", failure)
        self._said, self._again_at = str(failure), self._clock.now() + TRY_AGAIN_S
