"""Pages of text over the bend: cautions at the start, help, the summary at the end."""

import textwrap
from collections.abc import Callable, Sequence
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen

from benchmate.screen.ink import Line
from benchmate.screen.widgets import Lines
from benchmate.screen.words import CAUTIONS
from benchmate.wording import printable

Writes = Callable[[int], list[Line]]
"""Gives a page's lines for a width."""

KEYS = (
    ("Enter, space", "what is due: take zero, next bend, press again (the bottom line says which)"),
    ("a", "press this bend again, whatever the verdict"),
    ("m", "type the bend angle that a protractor shows, then Enter"),
    ("t, k", "type the turn that was made, or where this bend's mark really is"),
    ("c", "what planning the part anew from what is bent has changed"),
    ("v", "the part drawn: as bent so far over as planned (between hits)"),
    ("b", "bite: the pin is moved to the next hole, the tube stays"),
    ("s", "skip: leave this bend unbent"),
    ("u", "undo the last zero, verdict or logged bend"),
    ("p, r", "in a rehearsal: pump on or off; open the valve"),
    ("q", "quit; a hit under way is finished and logged first"),
    ("?", "this page"),
)


class Page(ModalScreen[None]):
    """Lines over the whole terminal; Enter, space, q or Esc goes on, arrows scroll."""

    DEFAULT_CSS = """
    Page { overflow: hidden; background: $background; }
    Page Lines { width: 1fr; height: 1fr; }
    Page #last { height: 1; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,space,escape,q,question_mark", "close", "go on", show=False),
        Binding("down,pagedown,j", "scroll_rows(1)", "down", show=False),
        Binding("up,pageup,k", "scroll_rows(-1)", "up", show=False),
    ]

    def __init__(
        self, writes: Writes, last: str = "Enter: go on", *, rehearsal: bool = False
    ) -> None:
        super().__init__()
        self._writes = writes
        self._last = last
        self._mark: Line = ((" SIMULATED ", "mark"),) if rehearsal else ()
        self._from = 0
        self._page = Lines("page")
        self._bottom = Lines("last")

    def compose(self) -> ComposeResult:
        """Put the page over its last line."""
        yield self._page
        yield self._bottom

    def on_mount(self) -> None:
        """Draw it."""
        self._draw(self.app.size.width, self.app.size.height)

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
        lines = self._writes(max(width, 20))
        self._from = min(self._from, max(len(lines) - (height - 1), 0))
        more = "   (arrows: more)" if len(lines) > height - 1 else ""
        self._page.put(lines[self._from :])
        self._bottom.put([((f" {self._last}{more}   ", "act"), *self._mark)])


def help_lines(width: int) -> list[Line]:
    """Give the help page: keys and cautions."""
    lines: list[Line] = [((" Keys", "bold"),)]
    for key, does in KEYS:
        rows = textwrap.wrap(does, max(width - 18, 12))
        lines.append((("  ", "plain"), (key.ljust(14), "key"), (" " + rows[0], "plain")))
        lines += [((" " * 17 + row, "plain"),) for row in rows[1:]]
    return [*lines, (("", "plain"),), *caution_lines(width)]


def change_lines(changes: Sequence[str], width: int) -> list[Line]:
    """Give what planning anew has changed, a sentence each, wrapped."""
    lines: list[Line] = [((" Planned anew from what is bent", "bold"),)]
    for change in changes:
        rows = textwrap.wrap(printable(change, 400), max(width - 4, 12))
        lines += [((("  - " if not at else "    ") + row, "plain"),) for at, row in enumerate(rows)]
    return lines


def caution_lines(width: int, cautions: Sequence[str] = CAUTIONS) -> list[Line]:
    """Give the cautions, wrapped."""
    lines: list[Line] = [((" Before you pump", "attend"),)]
    for caution in cautions:
        rows = textwrap.wrap(caution, max(width - 4, 12))
        lines += [
            ((("  - " if at == 0 else "    ") + row, "plain"),) for at, row in enumerate(rows)
        ]
    return lines
