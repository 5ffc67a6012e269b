"""The yardstick: the least Textual program that repaints as many cells as the bend screen does.

    python tests/bench/bare_textual.py SECONDS [FILE]

Two numbers' worth of cells (61 by 10, 30 by 7) change between two pictures 30 times a second. After
SECONDS of that it writes the processor time [s] that they took into FILE and ends.
"""

import sys
import time
from pathlib import Path
from typing import ClassVar

from rich.segment import Segment
from rich.style import Style
from textual.app import App, ComposeResult
from textual.strip import Strip
from textual.widget import Widget

FRAMES_A_SECOND = 30
LIT = Style(color="#f2c230", reverse=True)
RUNS = 4


class Patch(Widget):
    """Alternates between two pictures made of runs of cells, as digits are."""

    def __init__(self, width: int, height: int) -> None:
        super().__init__()
        self.styles.width, self.styles.height = width, height
        self.cells = width // (2 * RUNS + 1)
        self.shift = 0

    def go_on(self) -> None:
        self.shift = 1 - self.shift
        self.refresh()

    def render_line(self, y: int) -> Strip:
        segments = [Segment(" " * (self.cells + self.shift))]
        for _ in range(RUNS):
            segments += [Segment(" " * self.cells, LIT), Segment(" " * self.cells)]
        return Strip(segments).adjust_cell_length(self.size.width).apply_style(self.rich_style)


class Bare(App[None]):
    """Paints, measures itself, ends."""

    ENABLE_COMMAND_PALETTE = False
    BINDINGS: ClassVar = [("q", "quit", "quit")]

    def __init__(self, seconds: float, file: Path | None) -> None:
        super().__init__()
        self.seconds, self.file = seconds, file
        self.used = 0.0

    def compose(self) -> ComposeResult:
        yield Patch(61, 10)
        yield Patch(30, 7)

    def on_mount(self) -> None:
        self.set_interval(1 / FRAMES_A_SECOND, self.frame)
        self.set_timer(1.0, self.begin)
        self.set_timer(1.0 + self.seconds, self.finish)

    def frame(self) -> None:
        for patch in self.query(Patch):
            patch.go_on()

    def begin(self) -> None:
        self.used = time.process_time()

    def finish(self) -> None:
        if self.file is not None:
            self.file.write_text(str(time.process_time() - self.used))
        self.exit()


if __name__ == "__main__":
    Bare(float(sys.argv[1]), Path(sys.argv[2]) if len(sys.argv) > 2 else None).run()
