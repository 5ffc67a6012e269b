"""The measured angle, entered with gloves on: what the arm believes, nudged up or down."""

from collections.abc import Callable
from typing import ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import ModalScreen
from textual.widgets import Input, Label

from benchmate.screen.instrument.answers import LargeNumber
from benchmate.screen.instrument.widgets import BigNumber, Lines
from benchmate.screen.pages.typing_page import TypedQuestion, read_amount
from benchmate.screen.words.amounts import shown_deg
from benchmate.screen.words.ink import Ink, Line

FINE_DEG = 0.1
COARSE_DEG = 1.0
MOST_DEG = 360.0
CHOICES = ("take it", "+0.1", "-0.1", "+1", "-1", "leave")
"""In the order in which the mark moves; Enter, or the foot's short press, does the marked one."""


class NudgePage(ModalScreen[float | None]):
    """Asks for the measured angle; up and down, plus and minus, or digits change it.

    Its answer is degrees, None for none.
    """

    DEFAULT_CSS = """
    NudgePage { layout: vertical; overflow: hidden; background: $background; }
    NudgePage Lines { width: 1fr; height: 1; }
    NudgePage BigNumber { width: 1fr; height: 1fr; }
    NudgePage Input, NudgePage Input:focus {
        border: none; background: $surface; height: 1; padding: 0 1; display: none; }
    NudgePage.-typing Input { display: block; }
    NudgePage Label { width: 100%; height: auto; padding: 0 1; }
    """
    AUTO_FOCUS = ""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "choose", "take it"),
        Binding("space", "choose", "take it"),
        Binding("up,plus,greater_than_sign", "nudge(1)", "up"),
        Binding("down,minus,less_than_sign", "nudge(-1)", "down"),
        Binding("pageup", "nudge(10)", "a degree up"),
        Binding("pagedown", "nudge(-10)", "a degree down"),
        Binding("right,tab", "move(1)", "next choice"),
        Binding("left,shift+tab", "move(-1)", "choice before"),
        Binding("escape,ctrl+c,m", "leave", "leave it"),
    ]

    def __init__(self, angle: float) -> None:
        super().__init__()
        self.angle = round(angle, 1)
        """What would be taken [deg]."""
        self._at = 0
        self._head = Lines("head")
        self._number = BigNumber("measured")
        self._choices = Lines("choices")
        self._typed = Input(max_length=12, id="typed", select_on_focus=False)
        self._keys = Label("", markup=False, id="keys")

    def compose(self) -> ComposeResult:
        """Put the number between the question and the choices."""
        yield self._head
        yield self._number
        yield self._typed
        yield self._choices
        yield self._keys

    def on_mount(self) -> None:
        """Draw it."""
        self._draw()

    def on_resize(self) -> None:
        """Fit the choices anew."""
        self._draw()

    def on_key(self, event: events.Key) -> None:
        """Begin to type with the first digit; no other key is a command of the bend."""
        typing = self.has_class("-typing")
        if not typing and event.character is not None and event.character.isdigit():
            self.add_class("-typing")
            self._typed.value = event.character
            self._typed.focus()
            self._typed.cursor_position = 1
            event.prevent_default()
            event.stop()

    @on(Input.Submitted)
    def take_typed(self, event: Input.Submitted) -> None:
        """Take what was typed; what can't be read is refused and kept."""
        if not event.value.strip():
            self._stop_typing()
            return
        try:
            angle = read_amount(event.value, TypedQuestion("", "deg", 0.0, MOST_DEG))
        except ValueError as error:
            self._keys.update(str(error))
            return
        self.dismiss(angle)

    def action_nudge(self, tenths: int) -> None:
        """Change the angle by tenths of a degree."""
        self._stop_typing()
        self.angle = min(max(round(self.angle + tenths * FINE_DEG, 1), 0.0), MOST_DEG)
        self._draw()

    def action_move(self, steps: int) -> None:
        """Move the mark to another choice."""
        self._at = (self._at + steps) % len(CHOICES)
        self._draw()

    def action_choose(self) -> None:
        """Do what is marked."""
        doings: dict[str, Callable[[], object]] = {
            "take it": lambda: self.dismiss(self.angle),
            "+0.1": lambda: self.action_nudge(1),
            "-0.1": lambda: self.action_nudge(-1),
            "+1": lambda: self.action_nudge(10),
            "-1": lambda: self.action_nudge(-10),
            "leave": lambda: self.dismiss(None),
        }
        doings[CHOICES[self._at]]()

    def action_leave(self) -> None:
        """Close without an answer; what is being typed is left first."""
        if self.has_class("-typing"):
            self._stop_typing()
        else:
            self.dismiss(None)

    def foot(self, press: str) -> None:
        """Take a press of the foot switch: short chooses, double moves the mark, long goes back."""
        if press == "short":
            self.action_choose()
        elif press == "double":
            self.action_move(1)
        else:
            self.action_leave()

    def _stop_typing(self) -> None:
        if self.has_class("-typing"):
            self.remove_class("-typing")
            self._typed.value = ""
            self.set_focus(None)
            self._draw()

    def _draw(self) -> None:
        digits = max(sum(map(str.isdigit, shown_deg(self.angle))), 3)
        self._head.put([((" What does the protractor read on the tube?", "bold"),)])
        self._number.put(LargeNumber(("BENT",), shown_deg(self.angle), digits, "act"))
        self._choices.put([_choice_line(self._at, self.app.size.width)])
        self._keys.update("Up and down: 0.1 degree. Or type it. Esc: leave it.")


def _choice_line(at: int, width: int) -> Line:
    pieces: list[tuple[str, Ink]] = []
    gap = " " if width < 60 else "  "
    for place, choice in enumerate(CHOICES):
        marked = place == at
        words = choice if len(choice) <= 4 or width >= 44 else choice.split()[0]
        pieces += [
            (gap, "plain"),
            (f"[{words}]" if marked else f" {words} ", "mark" if marked else "plain"),
        ]
    return tuple(pieces)
