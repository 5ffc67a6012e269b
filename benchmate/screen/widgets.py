"""The two things that the screens are made of: lines of inked text, and a large number."""

from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from benchmate.screen.digits import Cut, cut_to, runs
from benchmate.screen.ink import Line, lamp_of, style_of
from benchmate.stream import Cue

LABEL_COLUMNS = 3


def laid(widget: Widget, segments: list[Segment]) -> Strip:
    """Lay a row's segments over the widget's own style, its background above all."""
    return Strip(segments).adjust_cell_length(widget.size.width).apply_style(widget.rich_style)


class Lines(Widget):
    """Lines of text in their inks, drawn as they are: no markup is ever read from them."""

    def __init__(self, part: str) -> None:
        super().__init__(id=part)
        self._lines: list[Line] = []

    def put(self, lines: list[Line]) -> None:
        """Show these lines from now on; equal ones cost nothing."""
        if lines != self._lines:
            self._lines = list(lines)
            self.refresh()

    def render_line(self, y: int) -> Strip:
        """Draw one row."""
        line = self._lines[y] if y < len(self._lines) else ()
        named = self.app.native_ansi_color
        return laid(self, [Segment(text, style_of(ink, named=named)) for text, ink in line])


class Lamps(Widget):
    """A row of lamps in fixed places; the lit one is filled with its colour.

    A blank row above keeps the filling apart from the digits; where there is but one row, the lit
    lamp is coloured letters instead.
    """

    def __init__(self, part: str) -> None:
        super().__init__(id=part)
        self._lamps: list[tuple[Cue, str, bool]] = []

    def put(self, lamps: list[tuple[Cue, str, bool]]) -> None:
        """Show these lamps - cue, text filling its cells, lit - from left to right."""
        if lamps != self._lamps:
            self._lamps = lamps
            self.refresh()

    def render_line(self, y: int) -> Strip:
        """Draw one row; the words stand in the middle of the filled ones."""
        named, height = self.app.native_ansi_color, self.size.height
        if height > 1 and y == 0:
            return laid(self, [])
        worded = y == height // 2
        segments = []
        for cue, text, lit in self._lamps:
            style = style_of("dim", named=named)
            if lit:
                style = lamp_of(cue, named=named, filled=height > 1)
            segments.append(Segment(text if worded else " " * len(text), style))
        return laid(self, segments)


class BigNumber(Widget):
    """One number in digits as large as the box lets them be, in the same place whatever it is.

    The room is cut for ``digits`` digits with one behind the point, so that the number neither
    jumps nor changes size while it moves; a box too small for digits shows it as text.
    """

    def __init__(self, part: str, label: str) -> None:
        super().__init__(id=part)
        self.labelled = True
        """Whether ``label`` stands down the left edge, a letter a row."""
        self._label = label
        self._text = "--.-"
        self._digits = 3
        self._cue: Cue = "wait"
        self._cut: Cut | None = None
        self._rows: list[list[tuple[bool, int]]] = []

    def put(self, text: str, digits: int, cue: Cue) -> None:
        """Show this number, in the colour of that cue."""
        if (text, digits, cue) != (self._text, self._digits, self._cue):
            self._text, self._digits, self._cue = text, digits, cue
            self._build()
            self.refresh()

    def on_resize(self) -> None:
        """Cut the digits anew."""
        self._build()
        self.refresh()

    def render_line(self, y: int) -> Strip:
        """Draw one row: reversed spaces where a digit is lit."""
        width, height = self.size
        if self._cut is None:
            text = self._text.rjust(6).center(width) if y == height // 2 else ""
            return laid(self, [Segment(text, style_of("bold", named=self.app.native_ansi_color))])
        named = self.app.native_ansi_color
        label = Segment(
            f" {self._label[y : y + 1]:1} "[: self._edge()], style_of("dim", named=named)
        )
        top = (height - self._cut.height) // 2
        if not 0 <= y - top < self._cut.height:
            return laid(self, [label])
        lit = lamp_of(self._cue, named=named)
        row = self._rows[y - top]
        # Right against the end of the room that the digits may take, itself in the middle.
        room = self._cut.width(self._digits)
        left = max((width - self._edge() - room) // 2 + room - sum(cells for _, cells in row), 0)
        segments = [label, Segment(" " * left)]
        segments += [Segment(" " * cells, lit if on else None) for on, cells in row]
        return laid(self, segments)

    def _edge(self) -> int:
        return LABEL_COLUMNS if self.labelled else 0

    def _build(self) -> None:
        fits = max(self._digits, sum(character != "." for character in self._text))
        self._cut = cut_to(fits, self.size.width - self._edge(), self.size.height)
        self._rows = [] if self._cut is None else runs(self._text, self._cut)
