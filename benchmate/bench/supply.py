"""Supply and store copy watched beside a bend: what they want is told, and never waited for."""

import threading
from collections.abc import Callable
from typing import Literal

from benchmate.bench.inputs import Advised
from benchmate.clock import Clock

LOOK_EVERY_S = 2.0


class SupplyWatch:
    """Asks for the supply's state in a thread of its own, and hands on each change.

    ``ask`` gives one sentence of what is wrong, nothing while all is well, and None where the
    machine doesn't tell: then it isn't asked again.
    """

    def __init__(
        self,
        ask: Callable[[], str | None],
        clock: Clock,
        put: Callable[[Advised], None],
        about: Literal["supply", "store copy"] = "supply",
    ) -> None:
        self._about: Literal["supply", "store copy"] = about
        self._ask = ask
        self._clock = clock
        self._put = put
        self._said = ""
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._run, name=about, daemon=True)

    def start(self) -> None:
        """Begin to ask."""
        self._thread.start()

    def stop(self) -> None:
        """End it."""
        self._stopping.set()
        self._thread.join(1.0)

    def look(self) -> bool:
        """Ask once; False where there is nobody to ask."""
        said = self._ask()
        if said is None:
            return False
        if said != self._said:
            self._said = said
            self._put(Advised(self._clock.now(), said, self._about))
        return True

    def _run(self) -> None:
        while self.look() and not self._stopping.wait(LOOK_EVERY_S):
            pass
