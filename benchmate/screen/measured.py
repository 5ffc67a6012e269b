"""The bottom line of the bend screen, which also takes down a measured angle."""

from collections.abc import Callable

from textual import events

from benchmate.screen.ink import Line
from benchmate.screen.widgets import Lines

LONGEST = 6


class BottomLine(Lines, can_focus=True):
    """Shows the keys; once asked, takes every key for an angle until Enter or Esc."""

    def __init__(self, part: str, send: Callable[[str], None]) -> None:
        """Show nothing yet; ``send`` gets the angle as it was typed."""
        super().__init__(part)
        self._send = send
        self._keys: Line = ()
        self._typed: str | None = None

    def put_keys(self, keys: Line) -> None:
        """Show these keys whenever no angle is being typed."""
        self._keys = keys
        self._show()

    def ask(self) -> None:
        """Begin to take down an angle."""
        self._typed = ""
        self.focus()
        self._show()

    def on_key(self, event: events.Key) -> None:
        """Take one key for the angle being typed; none of them is a command then."""
        if self._typed is None:
            return
        event.stop()
        event.prevent_default()
        if event.key in {"enter", "space"} and self._typed:
            self._send(self._typed)
        if event.key in {"enter", "space", "escape"}:
            self._typed = None
            self.screen.set_focus(None)
        elif event.key == "backspace":
            self._typed = self._typed[:-1]
        elif event.character is not None and belongs(self._typed, event.character):
            self._typed += event.character.replace(",", ".")
        self._show()

    def _show(self) -> None:
        if self._typed is None:
            self.put([self._keys])
            return
        self.put(
            [
                (
                    (f" Measured bend angle: {self._typed}_\u00b0 ", "act"),
                    ("  Enter: send   Esc: leave it", "dim"),
                )
            ]
        )


def belongs(typed: str, character: str) -> bool:
    """Say whether the character goes on with the number being typed."""
    if len(typed) >= LONGEST:
        return False
    if character in ".,":
        return "." not in typed
    return character.isascii() and character.isdigit()
