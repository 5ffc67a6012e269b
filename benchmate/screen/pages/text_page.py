"""Pages of text over the bend: cautions at the start, help, the summary at the end."""

import textwrap
from collections.abc import Callable, Mapping, Sequence
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from benchmate.screen.instrument.widgets import Lines
from benchmate.screen.pages.footed import FootedScreen
from benchmate.screen.words.cues import CAUTIONS
from benchmate.screen.words.ink import Line
from benchmate.wording import printable

Writes = Callable[[int], list[Line]]
"""Gives a page's lines for a width."""

KEYS = (
    ("Enter, space", "what is due: set zero, press again, next bend; the bottom line says which"),
    ("a", "press this bend again, whatever the verdict"),
    ("s", "after a hit: keep the bend as it is and go on; before one: leave it unbent"),
    ("m", "enter the bend angle that a protractor reads: up and down, or type it"),
    ("n", "go on unmeasured from a bend that is to be measured; begin a new part"),
    ("y", "the measured angle is right, though it looks wrong"),
    ("k", "type where this bend's mark really is, as 12-3/4 in or 305 mm"),
    ("t", "type the turn that was made: above 0 clockwise, seen from the last end"),
    ("c", "what working the part out again from the bends made has changed"),
    ("v", "the part drawn: as bent so far over as planned (between hits)"),
    ("d", "this bend in figures: its hits, and what a press again would do"),
    ("h", "the bends of this setup: springback learned, how far each was off"),
    ("i", "the sensor: angle, noise, faults"),
    ("b", "the ram is at its end: move the pin to the next hole, the tube stays; b again there"),
    ("u", "undo the last zero, verdict or logged bend"),
    ("X", "this tube is scrap: it is counted apart, and another one is begun"),
    ("l", "day or night colours"),
    ("p, r", "in a rehearsal: pump on or off; open the valve"),
    ("q", "quit; a hit under way is finished and logged first"),
    ("?", "this page"),
)

WORDS = (
    "A hit is one press and release. A bend takes one or more.",
    "Give or take, or \u00b1 behind an angle: how far off it may be, 19 times in 20.",
)
LOOK_ON = (
    "A simulated person sets zero, pumps, releases and measures: look on. q leaves.",
    "To work the pump yourself, start it with --hand (demo) or without --operator (watch).",
)
BY_HAND = (
    "Enter sets zero and goes on, as at a bender. In the pump's place: p pumps, p again stops, "
    "r opens the valve.",
)


class TextPage(FootedScreen[None]):
    """Lines over the whole terminal; Enter goes on, arrows scroll."""

    DEFAULT_CSS = """
    TextPage Lines { width: 1fr; height: 1fr; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,space,escape,q,question_mark", "close", "go on"),
        Binding("down,pagedown,j", "scroll_rows(1)", "down"),
        Binding("up,pageup,k", "scroll_rows(-1)", "up"),
    ]

    def __init__(self, writes: Writes, last: str = "go on", *, rehearsal: bool = False) -> None:
        """``writes`` gives the lines for a width; ``last`` says what Enter does."""
        super().__init__()
        self._writes = writes
        self._last = last
        self._mark: Line = ((" SIMULATED ", "mark"),) if rehearsal else ()
        self._from = 0
        self._more = False
        self._page = Lines("page")
        self.add_class("-due")

    def compose(self) -> ComposeResult:
        """Put the page over the footer."""
        yield self._page
        yield self.footer()

    def key_words(self) -> Mapping[str, str]:
        """Give what Enter does, and the arrows where there is more."""
        more = {"scroll_rows(1)": "more", "scroll_rows(-1)": "back"} if self._more else {}
        return {"close": self._last, **more, "help": "", "leave": ""}

    def on_mount(self) -> None:
        """Draw it."""
        self._draw(self.app.size.width, self.app.size.height)

    def draw(self) -> None:
        """Draw it anew: what it tells of has changed."""
        self._draw(self.size.width, self.size.height)

    def on_resize(self, event: events.Resize) -> None:
        """Wrap it anew."""
        self._draw(event.size.width, event.size.height)

    def action_close(self) -> None:
        """Go on."""
        self.dismiss(None)

    def action_scroll_rows(self, rows: int) -> None:
        """Move the page under the window."""
        self._from = max(0, self._from + rows)
        self._draw(self.size.width, self.size.height)

    def _draw(self, width: int, height: int) -> None:
        mark: list[Line] = [self._mark] if self._mark else []
        lines = [*mark, *self._writes(max(width, 20))]
        rows = height - 1
        self._from = min(self._from, max(len(lines) - rows, 0))
        if (more := len(lines) > rows) != self._more:
            self._more = more
            self.refresh_bindings()
        self._page.put(lines[self._from :])


def help_lines(width: int, now: str = "") -> list[Line]:
    """Give the help page: what is told ``now`` in full, keys and cautions."""
    lines: list[Line] = []
    if now:
        rows = textwrap.wrap(now, max(width - 4, 12))
        blank: Line = (("", "plain"),)
        lines = [((" Now", "bold"),), *(((f"  {row}", "plain"),) for row in rows), blank]
    lines.append(((" Keys", "bold"),))
    for key, does in KEYS:
        rows = textwrap.wrap(does, max(width - 18, 12))
        lines.append((("  ", "plain"), (key.ljust(14), "key"), (" " + rows[0], "plain")))
        lines += [((" " * 17 + row, "plain"),) for row in rows[1:]]
    gap: Line = (("", "plain"),)
    head: Line = ((" Words", "bold"),)
    return [*lines, gap, head, *_items(WORDS, width), gap, *caution_lines(width)]


def change_lines(changes: Sequence[str], width: int, *, further: bool = False) -> list[Line]:
    """Give what working the part out again has changed, a sentence each, wrapped.

    ``further``: nothing of this tube is bent, and they are changes since the last one.
    """
    why = "Changed since the last tube" if further else "Worked out again from the bends made"
    head: Line = ((f" {why}", "bold"),)
    return [head, *_items([printable(change, 400) for change in changes], width)]


def caution_lines(width: int, cautions: Sequence[str] = CAUTIONS) -> list[Line]:
    """Give the cautions, wrapped."""
    return [((" Before you pump", "attend"),), *_items(cautions, width)]


def opening_lines(width: int, *, rehearsal: bool, by_hand: bool) -> list[Line]:
    """Give the first page: how a rehearsal goes, if it is one, and the cautions."""
    if not rehearsal:
        return caution_lines(width)
    how = BY_HAND if by_hand else LOOK_ON
    blank: Line = (("", "plain"),)
    head: Line = ((" A rehearsal: nothing is connected or bent", "bold"),)
    return [head, *_items(how, width), blank, *caution_lines(width)]


def _items(sentences: Sequence[str], width: int) -> list[Line]:
    lines: list[Line] = []
    for sentence in sentences:
        rows = textwrap.wrap(sentence, max(width - 4, 12))
        lines += [((("  - " if not at else "    ") + row, "plain"),) for at, row in enumerate(rows)]
    return lines
