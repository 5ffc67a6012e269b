"""The bottom line of a screen, which also takes down an angle or a length."""

from collections.abc import Callable
from typing import NamedTuple

from textual import events

from benchmate.screen.ink import Line
from benchmate.screen.widgets import Lines
from benchmate.units import angle_deg, length_mm

LONGEST = 24
DEGREE = "\u00b0"
NOTHING_TYPED = "Nothing typed, nothing taken."
HINTS = ("  Enter: send   Esc: leave it", "  Esc: leave it")
_ANGLES = "no angle; write 90 or 22.5 deg"
_LENGTHS = "no length; write 12-3/4 in, 305 mm"


class Question(NamedTuple):
    """A quantity asked for: its words, the unit of a bare number, and who gets it.

    ``unit`` is a degree sign, " mm" or " in"; ``then`` gets degrees, or mm.
    """

    words: str
    unit: str
    then: Callable[[float], None]
    short: str = ""
    """The words for a narrow terminal."""
    least: float = float("-inf")
    most: float = float("inf")
    told: Callable[[str], None] | None = None
    """Is given the word when the line closes with nothing typed."""


class BottomLine(Lines, can_focus=True):
    """Shows the keys; once asked, takes every key for what is being typed until Enter or Esc."""

    def __init__(self, part: str) -> None:
        """Show nothing yet."""
        super().__init__(part)
        self._keys: Line = ()
        self._asked: Question | None = None
        self._typed = ""
        self._refused = ""

    def put_keys(self, keys: Line) -> None:
        """Show these keys whenever nothing is being typed."""
        self._keys = keys
        self._show()

    def ask(self, question: Question) -> None:
        """Begin to take down a quantity."""
        self._asked, self._typed, self._refused = question, "", ""
        self.focus()
        self._show()

    def on_key(self, event: events.Key) -> None:
        """Take one key for what is being typed; none of them is a command then."""
        asked = self._asked
        if asked is None:
            return
        event.stop()
        event.prevent_default()
        if event.key == "enter":
            self._enter(asked)
        elif event.key in {"escape", "ctrl+c"}:
            self._close()
        elif event.key == "backspace":
            self._typed, self._refused = self._typed[:-1], ""
        elif event.character is not None and event.is_printable:
            self._take(event.character)
        self._show()

    def on_resize(self) -> None:
        """Fit the words anew."""
        self._show()

    def _take(self, character: str) -> None:
        if len(self._typed) >= LONGEST:
            self._refused = "that is as long as it gets"
            return
        # A comma is the point of half the world's keypads.
        self._typed += character.replace(",", ".")
        self._refused = ""

    def _enter(self, asked: Question) -> None:
        if not self._typed.strip():
            self._close()
            if asked.told is not None:
                asked.told(NOTHING_TYPED)
            return
        try:
            amount = read(self._typed, asked)
        except ValueError as error:
            self._refused = str(error)
            return
        self._close()
        asked.then(amount)

    def _close(self) -> None:
        self._asked = None
        self.screen.set_focus(None)

    def _show(self) -> None:
        self.put([self._keys if self._asked is None else self._asking(self._asked)])

    def _asking(self, asked: Question) -> Line:
        """Give the line: what is typed always, then why not, then the words, as far as they fit."""
        bare = all(letter in "0123456789.+-/ " for letter in self._typed)
        typed = f"{self._typed}_{asked.unit if bare else ''} "
        why = f"  {self._refused}" if self._refused else ""
        room = self.size.width - len(typed) - len(why)
        questions = (f" {asked.words}: ", f" {asked.short}: " if asked.short else " ")
        question = next((words for words in questions if len(words) <= room), " ")
        room -= len(question)
        hint = "" if why else next((hint for hint in HINTS if len(hint) <= room), "")
        return ((question + typed, "act"), (why, "attend"), (hint, "dim"))


def read(typed: str, asked: Question) -> float:
    """Read what was typed as the shop files read it; a bare number is in the unit asked for.

    ValueError with one short sentence for what can't be read or can't be meant.
    """
    amount = _angle(typed) if asked.unit == DEGREE else _length(typed, asked.unit)
    if not asked.least <= amount <= asked.most:
        raise ValueError(f"{asked.short.lower() or 'it'} can't be that")
    return amount


def _angle(typed: str) -> float:
    try:
        return angle_deg(typed)
    except ValueError as error:
        raise ValueError(_ANGLES) from error


def _length(typed: str, unit: str) -> float:
    """Read a length; one without a unit is inches where the shop writes these."""
    try:
        return length_mm(typed, "mm" if unit.strip() == "mm" else "in")
    except ValueError as error:
        raise ValueError(_LENGTHS) from error
