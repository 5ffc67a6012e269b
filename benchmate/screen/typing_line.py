"""The bottom line of a screen, which also takes down a number."""

from collections.abc import Callable
from typing import NamedTuple

from textual import events

from benchmate.screen.ink import Line
from benchmate.screen.widgets import Lines

LONGEST = 7


class Question(NamedTuple):
    """A number asked for: its words, its unit, and who gets it as it was typed."""

    words: str
    unit: str
    then: Callable[[str], None]


class BottomLine(Lines, can_focus=True):
    """Shows the keys; once asked, takes every key for a number until Enter or Esc."""

    def __init__(self, part: str) -> None:
        """Show nothing yet."""
        super().__init__(part)
        self._keys: Line = ()
        self._asked: Question | None = None
        self._typed = ""

    def put_keys(self, keys: Line) -> None:
        """Show these keys whenever no number is being typed."""
        self._keys = keys
        self._show()

    def ask(self, question: Question) -> None:
        """Begin to take down a number."""
        self._asked, self._typed = question, ""
        self.focus()
        self._show()

    def on_key(self, event: events.Key) -> None:
        """Take one key for the number being typed; none of them is a command then."""
        asked = self._asked
        if asked is None:
            return
        event.stop()
        event.prevent_default()
        if event.key in {"enter", "space", "escape"}:
            self._asked = None
            self.screen.set_focus(None)
            if self._typed and event.key != "escape":
                asked.then(self._typed)
        elif event.key == "backspace":
            self._typed = self._typed[:-1]
        elif event.character is not None and belongs(self._typed, event.character):
            self._typed += event.character.replace(",", ".")
        self._show()

    def _show(self) -> None:
        if self._asked is None:
            self.put([self._keys])
            return
        told = f" {self._asked.words}: {self._typed}_{self._asked.unit} "
        self.put([((told, "act"), ("  Enter: send   Esc: leave it", "dim"))])


def belongs(typed: str, character: str) -> bool:
    """Say whether the character goes on with the number being typed."""
    if len(typed) >= LONGEST:
        return False
    if character == "-":
        return not typed
    if character in ".,":
        return "." not in typed
    return character.isascii() and character.isdigit()
