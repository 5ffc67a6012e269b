"""What the screen programs share: our look, the bench behind them, and the pull of its readings."""

import os
from collections.abc import Callable, Sequence
from typing import ClassVar

from textual.app import App
from textual.binding import Binding, BindingType
from textual.message import Message
from textual.theme import Theme

from benchmate.clock import Clock, MonotonicClock
from benchmate.screen.client import RESTARTS, Bench, BenchProcess, Ended, Happening, OpenBench
from benchmate.screen.instrument.palette import DAY, NAMED, NIGHT, NO_COLOUR, Palette
from benchmate.screen.remembered import Remembered
from benchmate.stream import Reading

PULLS_A_SECOND = 30
"""As often as the bench gives readings: with 20 the painted angle is older than it need be."""
KEY_NAMES = {"enter": "Enter", "question_mark": "?", "space": "Space", "escape": "Esc"}
LEAVE_AFTER_S = 30.0
"""A bench that has not ended so long after its input was closed is left to end by itself."""


def _theme(name: str, palette: Palette, *, dark: bool) -> Theme:
    colours = {ink: style.color.name for ink, style in palette.styles.items() if style.color}
    return Theme(
        name=name,
        primary=colours["act"],
        warning=colours["attend"],
        error=colours["bad"],
        success=colours["good"],
        foreground=colours["plain"],
        background=palette.background,
        surface=palette.background,
        panel=palette.background,
        dark=dark,
    )


PALETTES: dict[str, Palette] = {"bench-night": NIGHT, "bench-day": DAY, "bench-bare": NO_COLOUR}
THEMES = tuple(
    _theme(name, palette, dark=name != "bench-day") for name, palette in PALETTES.items()
)
SWITCHED = {"bench-night": "bench-day", "bench-day": "bench-night"}


class Happened(Message):
    """Something came from the bench; carried from its thread to the screen's."""

    def __init__(self, happening: Happening, of: object) -> None:
        super().__init__()
        self.happening = happening
        self.of = of
        """Which opening of a bench it belongs to."""


class LiveApp(App[int]):
    """A client of a bench process. Subclasses draw; this starts it, hears it and leaves it."""

    ENABLE_COMMAND_PALETTE = False
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
        # Textual takes NO_COLOR out of the environment once it has read it.
        bare = "NO_COLOR" in os.environ
        super().__init__()
        self.title = "benchmate"
        self._remembered = remembered or Remembered(None)
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = theme_for(os.environ, self._remembered.get("theme"), no_colour=bare)
        self.clock: Clock = clock or MonotonicClock()
        self._open = open_bench or self._open_process
        self.bench: Bench | None = None
        self._opening: object = None
        self._leaving = False
        self.status = 0
        """What the program returns when it is left."""

    @property
    def palette(self) -> Palette:
        """The palette that the hand-drawn parts are painted from."""
        return PALETTES.get(self.theme, NAMED if self.native_ansi_color else NIGHT)

    def action_theme(self) -> None:
        """Change between day and night colours, and remember it."""
        other = SWITCHED.get(self.theme)
        if other is None:
            self.bell()
            return
        self.theme = other
        self._remembered.put("theme", other)
        self.screen.refresh(layout=True)

    def get_key_display(self, binding: Binding) -> str:
        """Give a key's name in letters that every console's font has."""
        return KEY_NAMES.get(binding.key) or super().get_key_display(binding)

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
        self.set_timer(LEAVE_AFTER_S, lambda: self._close_down(at_once=True))

    def last_words(self, *, at_once: bool) -> str:  # noqa: ARG002 - for those who have some
        """Give what is printed once the screen has closed, if anything; before the bench's end?"""
        return ""

    def _close_down(self, *, at_once: bool = False) -> None:
        self.exit(self.status, message=self.last_words(at_once=at_once) or None)

    def _pull(self) -> None:
        self.pulled(self.bench.latest() if self.bench is not None else None)

    def _open_process(
        self, argv: Callable[[], Sequence[str]], say: Callable[[Happening], None]
    ) -> Bench:
        return BenchProcess(argv, say, self.clock, self.RESTARTS)


def theme_for(
    environment: "os._Environ[str] | dict[str, str]",
    remembered: str | None = None,
    *,
    no_colour: bool = False,
) -> str:
    """Give the theme's name: the terminal's own colours on a bare console, else ours.

    ``remembered`` is the one that the person switched to.
    """
    if no_colour:
        return "bench-bare"
    if asked := environment.get("TEXTUAL_THEME"):
        return asked
    if environment.get("TERM", "") in {"linux", "vt100", "vt220", "ansi", "xterm-mono"}:
        return "ansi-dark"
    return remembered if remembered in SWITCHED else "bench-night"
