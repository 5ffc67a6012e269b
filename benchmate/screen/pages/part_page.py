"""The page that shows the part: three views, or one that arrows turn."""

from collections.abc import Callable, Mapping
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType

from benchmate.screen.instrument.part_drawing import ISOMETRIC_DEG, Part, part_lines, three_fit
from benchmate.screen.instrument.widgets import Lines
from benchmate.screen.pages.footed import FootedScreen
from benchmate.screen.words.amounts import turn_words
from benchmate.screen.words.ink import Line
from benchmate.units import show_on_tape
from benchmate.wording import printable

STEP_DEG = 15.0


class PartPage(FootedScreen[None]):
    """The part over the whole terminal; v, Enter, space, q or Esc goes back, arrows turn it."""

    DEFAULT_CSS = """
    PartPage Lines { width: 1fr; height: 1; }
    PartPage #drawing { height: 1fr; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,v,space,escape,q", "close", "back", show=False),
        Binding("right", "turn(1)", "turn it", show=False),
        Binding("left", "turn(-1)", "turn it back", show=False),
        Binding("up,down", "views", "three views or one", show=False),
        Binding("question_mark", "close", "back", show=False),
    ]

    def __init__(self, part: Callable[[], Part], *, rehearsal: bool) -> None:
        super().__init__()
        self._part = part
        self._turn_deg: float | None = None
        self._mark: Line = ((" SIMULATED ", "mark"),) if rehearsal else ()
        self._head, self._drawing = Lines("head"), Lines("drawing")
        self._columns, self._rows = 80, 24
        self.add_class("-due")

    def compose(self) -> ComposeResult:
        """Put the drawing between its two edges."""
        yield self._head
        yield self._drawing
        yield self.footer()

    def on_mount(self) -> None:
        """Draw it."""
        self._columns, self._rows = self.app.size
        self.draw()

    def on_resize(self, event: events.Resize) -> None:
        """Draw it anew to the new size."""
        self._columns, self._rows = event.size
        self.draw()

    def action_close(self) -> None:
        """Go back."""
        self.dismiss(None)

    def action_turn(self, steps: int) -> None:
        """Turn the part about its upright."""
        now = ISOMETRIC_DEG if self._turn_deg is None else self._turn_deg
        self._turn_deg = (now + steps * STEP_DEG) % 360.0
        self.draw()

    def action_views(self) -> None:
        """Change from three views to the turned one, or back."""
        self._turn_deg = ISOMETRIC_DEG if self._turn_deg is None else None
        self.draw()

    def draw(self) -> None:
        """Draw the part as it is now."""
        width, height = self._columns, max(self._rows - 2, 1)
        part = self._part()
        self._head.put([(*heading(part), *self._mark)])
        self._drawing.put(part_lines(part, width, height, self._turn_deg))
        self.refresh_bindings()

    def key_words(self) -> Mapping[str, str]:
        """Give what Enter does, and the arrows."""
        words = {"close": "back", "turn(1)": "turn it", "turn(-1)": "back"}
        if three_fit(self._columns, self._rows - 2):
            words["views"] = "one view" if self._turn_deg is None else "three views"
        return {**words, "help": "", "leave": ""}


def heading(part: Part) -> Line:
    """Name the job, and the bend in work with its mark and turn."""
    target, count = part.target, len(part.plan.bends)
    if target is None:
        told = f"{count} {'bend' if count == 1 else 'bends'}"
    else:
        mark = "" if target.mark is None else f"  mark {show_on_tape(target.mark, part.unit)}"
        turn = "" if target.turn is None else f"  {turn_words(target.turn)}"
        told = f"bend {target.bend} of {target.bends}{mark}{turn}"
    return ((f" {printable(part.plan.job)}  ", "bold"), (told, "plain"))
