"""What the screens draw by hand: lines of inked text, a large number, a large word, a bar."""

from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from benchmate.screen.instrument.answers import NOTHING, LargeNumber
from benchmate.screen.instrument.approach_bar import BarPiece
from benchmate.screen.instrument.lettering import Cut, cut_to, runs, word_cut
from benchmate.screen.instrument.palette import NAMED, NIGHT, Palette
from benchmate.screen.words.cues import LargeWord
from benchmate.screen.words.ink import Line

DOUBLE_LINE = "\u2550"
LABEL_COLUMNS = 7
"""Kept free for the words at a number's left, so that all numbers are cut alike."""
FLANK = 2
"""Columns between a word and the solid blocks at its sides."""


class Drawn(Widget):
    """Ground of what is drawn by hand: it is painted from the program's palette."""

    def __init__(self, part: str) -> None:
        super().__init__(id=part)

    @property
    def palette(self) -> Palette:
        """The palette of the theme in use."""
        found = getattr(self.app, "palette", None)
        if isinstance(found, Palette):
            return found
        return NAMED if self.app.native_ansi_color else NIGHT

    def laid(self, segments: list[Segment]) -> Strip:
        """Lay a row's segments over the widget's own style, its background above all."""
        return Strip(segments).adjust_cell_length(self.size.width).apply_style(self.rich_style)


class Lines(Drawn):
    """Lines of text in their inks, drawn as they are: no markup is ever read from them."""

    def __init__(self, part: str) -> None:
        super().__init__(part)
        self._lines: list[Line] = []

    def put(self, lines: list[Line]) -> None:
        """Show these lines from now on; equal ones cost nothing."""
        if lines != self._lines:
            self._lines = list(lines)
            self.refresh()

    def render_line(self, y: int) -> Strip:
        """Draw one row."""
        line = self._lines[y] if y < len(self._lines) else ()
        return self.laid([Segment(text, self.palette.of(ink)) for text, ink in line])


class ProgressBar(Drawn):
    """A bar of pieces side by side, in its middle row.

    ``thin``, its filled cells are double lines, which keep clear of what stands above and below.
    """

    def __init__(self, part: str) -> None:
        super().__init__(part)
        self.thin = False
        self._pieces: tuple[BarPiece, ...] = ()

    def put(self, pieces: tuple[BarPiece, ...]) -> None:
        """Show these pieces."""
        if pieces != self._pieces:
            self._pieces = pieces
            self.refresh()

    def render_line(self, y: int) -> Strip:
        """Draw one row."""
        if y != (self.size.height - 1) // 2 or not self._pieces:
            return self.laid([])
        palette = self.palette
        segments = []
        for piece in self._pieces:
            thin = self.thin and piece.filled
            text = piece.text.replace(" ", DOUBLE_LINE) if thin else piece.text
            filled = piece.filled and not self.thin
            segments.append(Segment(text, palette.of(piece.ink, filled=filled)))
        return self.laid(segments)


class WordBand(Drawn):
    """A word as large as the box lets it be, in its middle, with its sign before it.

    What is to be done this moment has solid blocks on both sides, so that its face, not its colour
    alone, tells it from what merely is so.
    """

    def __init__(self, part: str) -> None:
        super().__init__(part)
        self._word = LargeWord(("WAIT",), "", "dim")
        self._lit = True
        self._cut: Cut | None = None
        self._text = ""
        self._rows: list[list[tuple[bool, int]]] = []

    def put(self, word: LargeWord, *, lit: bool) -> None:
        """Show this word; unlit, its face is dark for a moment."""
        if (word, lit) != (self._word, self._lit):
            again = word.texts != self._word.texts or word.sign != self._word.sign
            self._word, self._lit = word, lit
            if again:
                self._build()
            self.refresh()

    def on_resize(self) -> None:
        """Cut the letters anew."""
        self._build()
        self.refresh()

    @property
    def drawn_rows(self) -> int:
        """Rows of cells that the letters take; 0 where they are text."""
        return 0 if self._cut is None else self._cut.height

    def render_line(self, y: int) -> Strip:
        """Draw one row."""
        width, height = self.size
        filled = self.palette.of(self._word.ink, filled=True)
        if self._cut is None:
            text = self._word.texts[-1].center(width) if y == height // 2 else ""
            return self.laid([Segment(text, self.palette.of(self._word.ink))])
        cells = self._cut.word_width(self._text)
        left = max((width - cells) // 2, 0)
        row = self._rows[y] if y < len(self._rows) else [(False, cells)]
        flank = filled if self._word.filled and self._lit and y < len(self._rows) else None
        right = width - left - cells
        gap = min(FLANK, left, right)
        segments = [Segment(" " * (left - gap), flank), Segment(" " * gap)]
        segments += [Segment(" " * count, filled if on else None) for on, count in row]
        segments += [Segment(" " * gap), Segment(" " * (right - gap), flank)]
        return self.laid(segments)

    def _build(self) -> None:
        width, height = self.size
        sign = f"{self._word.sign} " if self._word.sign else ""
        texts = self._word.texts
        self._cut, self._rows = None, []
        for text in (*(sign + text for text in texts), *texts):
            if (cut := word_cut(text, width - 2 * FLANK, height)) is not None:
                self._text, self._cut, self._rows = text, cut, runs(text, cut)
                return


class BigNumber(Drawn):
    """One number in digits as large as the box lets them be, in the same place whatever it is.

    The room is cut for its ``digits`` with one behind the point, so that it neither jumps nor
    changes size while it moves; a box too small for digits shows it as text.
    """

    def __init__(self, part: str) -> None:
        super().__init__(part)
        self.clear = 0
        """Rows left blank above the digits."""
        self.bare = False
        """Whether its words stand elsewhere, so that it has all the room."""
        self._number = NOTHING
        self._cut: Cut | None = None
        self._room = 0
        self._rows: list[list[tuple[bool, int]]] = []

    def put(self, number: LargeNumber) -> None:
        """Show this number."""
        if number != self._number:
            again = number._replace(ink="bold") != self._number._replace(ink="bold")
            self._number = number
            if again:
                self._build()
            self.refresh()

    def on_resize(self) -> None:
        """Cut the digits anew."""
        self._build()
        self.refresh()

    @property
    def drawn_rows(self) -> int:
        """Rows of cells that the digits take; 0 where they are text."""
        return 0 if self._cut is None else self._cut.height

    def render_line(self, y: int) -> Strip:
        """Draw one row: reversed spaces where a digit is lit."""
        width, height = self.size
        palette, edge = self.palette, self._edge()
        label = self._label_row(y, edge)
        if self._cut is None:
            text = self._number.text.rjust(6).center(width - edge) if y == height // 2 else ""
            return self.laid([label, Segment(text, palette.of("bold"))])
        top = self.clear + (height - self.clear - self._cut.height) // 2
        if not 0 <= y - top < self._cut.height:
            return self.laid([label])
        shown = palette.of(self._number.ink, filled=True)
        row = self._rows[y - top]
        # Right against the end of the room that the digits may take, itself in the middle.
        cells = sum(count for _, count in row)
        left = max((width - edge - self._room) // 2 + self._room - cells, 0)
        segments = [label, Segment(" " * left)]
        segments += [Segment(" " * count, shown if on else None) for on, count in row]
        return self.laid(segments)

    def _label_row(self, y: int, edge: int) -> Segment:
        label = self._number.label
        first = max((self.size.height - len(label)) // 2, 0)
        word = label[y - first] if first <= y < first + len(label) and not self.bare else ""
        return Segment(f" {word}".ljust(edge)[:edge], self.palette.of("dim"))

    def _edge(self) -> int:
        label = self._number.label
        if self.bare:
            return 1
        return 2 + max(map(len, label)) if label and self._number.text else 0

    def _build(self) -> None:
        self._cut, self._rows = None, []
        least = 1 if self.bare else LABEL_COLUMNS
        text, width = self._number.text, self.size.width - max(self._edge(), least)
        if not text:
            return
        if set(text) <= set("0123456789.-+ "):
            digits = max(self._number.digits, sum(character != "." for character in text))
            cut = cut_to(digits, width, self.size.height - self.clear)
            self._room = 0 if cut is None else cut.width(digits)
        else:
            cut = word_cut(text, width, self.size.height - self.clear)
            self._room = 0 if cut is None else cut.word_width(text)
        if cut is not None:
            self._cut, self._rows = cut, runs(text, cut)
