"""One line to type an angle or a length into, over the bend."""

from typing import ClassVar, NamedTuple

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import Input, Label

from benchmate.units import angle_deg, length_mm

LONGEST = 24
_ANGLES = "No angle: write 90 or 22.5 deg."
_LENGTHS = "No length: write 12-3/4 in or 305 mm."


class TypedQuestion(NamedTuple):
    """A quantity asked for: its words, the unit of a bare number ("deg", "mm", "in"), its span."""

    words: str
    unit: str
    least: float
    most: float


class TypingPage(ModalScreen[float | None]):
    """Asks a question; its answer is degrees or mm, None for none."""

    DEFAULT_CSS = """
    TypingPage { align: center middle; background: $background; }
    TypingPage Label { width: 100%; height: auto; padding: 0 1; }
    TypingPage Input, TypingPage Input:focus {
        border: solid $primary; background: $background; height: 3; }
    TypingPage #refused { color: $warning; text-style: bold; min-height: 2; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,ctrl+c", "leave", "leave it")]

    def __init__(self, question: TypedQuestion) -> None:
        super().__init__()
        self._question = question
        self._refused = Label("", id="refused", markup=False)

    def compose(self) -> ComposeResult:
        """Put the question over its line."""
        unit = "degrees" if self._question.unit == "deg" else self._question.unit
        yield Label(f"{self._question.words}, in {unit}:", markup=False)
        yield Input(max_length=LONGEST, id="typed")
        yield self._refused
        yield Label("Enter: send   Esc: leave it", markup=False)

    @on(Input.Submitted)
    def take(self, event: Input.Submitted) -> None:
        """Close with what was typed; what can't be read is refused and kept."""
        if not event.value.strip():
            self.dismiss(None)
            return
        try:
            amount = read_amount(event.value, self._question)
        except ValueError as error:
            self._refused.update(str(error))
            return
        self.dismiss(amount)

    @on(Input.Changed)
    def changed(self, _event: Input.Changed) -> None:
        """Forget why the last one was refused."""
        self._refused.update("")

    def action_leave(self) -> None:
        """Close without an answer."""
        self.dismiss(None)


def read_amount(typed: str, asked: TypedQuestion) -> float:
    """Read what was typed as the shop files read it; a bare number is in the unit asked for.

    ValueError with one sentence for what can't be read or can't be meant.
    """
    # A comma is the point of half the world's keypads.
    typed = typed.replace(",", ".")
    amount = _angle(typed) if asked.unit == "deg" else _length(typed, asked.unit)
    if not asked.least <= amount <= asked.most:
        raise ValueError(f"That can't be: write {asked.least:g} to {asked.most:g}.")
    return amount


def _angle(typed: str) -> float:
    try:
        return angle_deg(typed)
    except ValueError as error:
        raise ValueError(_ANGLES) from error


def _length(typed: str, unit: str) -> float:
    """Read a length; one without a unit is inches where the shop writes these."""
    try:
        return length_mm(typed, "mm" if unit == "mm" else "in")
    except ValueError as error:
        raise ValueError(_LENGTHS) from error
