"""What the screen programs of a bench share: the bench behind them, the pull of its readings."""

from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.message import Message

from benchmate.clock import Clock, MonotonicClock
from benchmate.screen.client import (
    RESTARTS,
    BenchProcess,
    Ended,
    Happening,
    OpenBench,
    RunningBench,
)
from benchmate.screen.painted_app import PaintedApp
from benchmate.screen.remembered import Remembered
from benchmate.stream import Reading

PULLS_A_SECOND = 30
"""As often as the bench gives readings: with 20 the painted angle is older than it need be."""
LEAVE_AFTER_S = 30.0
"""A bench that has not ended so long after its input was closed is left to end by itself."""


class Happened(Message):
    """Something came from the bench; carried from its thread to the screen's."""

    def __init__(self, happening: Happening, of: object) -> None:
        super().__init__()
        self.happening = happening
        self.of = of
        """Which opening of a bench it belongs to."""


class LiveApp(PaintedApp[int]):
    """A client of a bench process. Subclasses draw; this starts it, hears it and leaves it."""

    RESTARTS: ClassVar[int] = RESTARTS
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("q,ctrl+q,ctrl+c", "leave", "quit", show=False),
        Binding("l", "theme", "day or night colours", show=False),
    ]

    def __init__(
        self,
        open_bench: OpenBench | None,
        clock: Clock | None,
        remembered: Remembered | None = None,
    ) -> None:
        super().__init__(remembered)
        self.clock: Clock = clock or MonotonicClock()
        self._open = open_bench or self._open_process
        self.bench: RunningBench | None = None
        self._opening: object = None
        self._leaving = False
        self.status = 0
        """What the program returns when it is left."""

    def open(self, argv: Callable[[], Sequence[str]]) -> None:
        """Start a bench process and listen to it."""
        opening = self._opening = object()

        def say(happening: Happening) -> None:
            self.post_message(Happened(happening, opening))

        self.bench = self._open(argv, say)
        self.bench.start()

    def on_mount(self) -> None:
        """Begin to pull readings."""
        self.set_interval(1 / PULLS_A_SECOND, self._pull)

    def on_happened(self, message: Happened) -> None:
        """Take what the bench said; leave when it has ended and that was wanted."""
        if message.of is not self._opening:
            # The last words of the bench of a job that is done with.
            return
        self.took(message.happening)
        if isinstance(message.happening, Ended) and self._leaving:
            self._close_down()

    def took(self, happening: Happening) -> None:
        """Fold and draw what happened."""

    def pulled(self, reading: Reading | None) -> None:
        """Fold and draw the newest reading; called PULLS_A_SECOND times a second."""

    def command(self, line: str) -> None:
        """Send the bench a command."""
        if self.bench is not None:
            self.bench.send(line)

    def running(self) -> bool:
        """Whether there is a bench to wait for before leaving."""
        return self.bench is not None

    def patience_s(self) -> float:
        """Give how long the bench is waited for when the screen is left [s]."""
        return LEAVE_AFTER_S

    def left(self) -> None:
        """Say that the screen is being closed."""

    def action_leave(self) -> None:
        """Close the bench's input and leave once it has ended; a second time: leave at once."""
        if self._leaving or self.bench is None or not self.running():
            self._close_down(at_once=self._leaving)
            return
        self._leaving = True
        self.left()
        self.bench.hang_up()
        self.set_timer(self.patience_s(), lambda: self._close_down(at_once=True))

    def last_words(self, *, at_once: bool) -> str:  # noqa: ARG002 - for those who have some
        """Give what is printed once the screen has closed, if anything; before the bench's end?"""
        return ""

    def _close_down(self, *, at_once: bool = False) -> None:
        self.exit(self.status, message=self.last_words(at_once=at_once) or None)

    def _pull(self) -> None:
        self.pulled(self.bench.latest() if self.bench is not None else None)

    def _open_process(
        self, argv: Callable[[], Sequence[str]], say: Callable[[Happening], None]
    ) -> RunningBench:
        return BenchProcess(argv, say, self.clock, self.RESTARTS)
