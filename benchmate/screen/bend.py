"""The bend screen: three numbers to read from the pump handle, and what goes with them."""

from collections.abc import Callable
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.screen import Screen

from benchmate.screen import panels, telling
from benchmate.screen.sizes import Sizes, share
from benchmate.screen.snapshot import BenchState
from benchmate.screen.typing_line import BottomLine, Question
from benchmate.screen.widgets import BigNumber, Lamps, Lines
from benchmate.screen.words import RESTART, due
from benchmate.units import length_mm


class BendScreen(Screen[None]):
    """Draws a BenchState, and turns keys into commands."""

    DEFAULT_CSS = """
    BendScreen { layout: vertical; overflow: hidden; }
    BendScreen Lines, BendScreen Lamps, BendScreen BigNumber { width: 1fr; height: 1; }
    BendScreen #upper, BendScreen #pair { height: auto; overflow: hidden; }
    BendScreen #numbers { width: 1fr; height: auto; overflow: hidden; }
    """
    AUTO_FOCUS = ""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,space", "due", "what is due", show=False),
        Binding("a", "say('again')", "press again", show=False),
        Binding("m", "measured", "measured", show=False),
        Binding("t", "turned", "turn as made", show=False),
        Binding("k", "marked", "mark as it is", show=False),
        Binding("c", "app.changes", "what changed in the plan", show=False),
        Binding("v", "app.part", "the part drawn", show=False),
        Binding("b", "say('bite')", "bite", show=False),
        Binding("s", "say('skip')", "skip", show=False),
        Binding("u", "say('undo')", "undo", show=False),
        Binding("p", "rehearse('pump')", "pump on or off", show=False),
        Binding("r", "rehearse('release')", "open the valve", show=False),
        Binding("question_mark", "app.help", "help", show=False),
    ]

    def __init__(
        self,
        send: Callable[[str], None],
        restart: Callable[[], None],
        state: BenchState,
        now: float,
        *,
        bites: bool = False,
    ) -> None:
        super().__init__()
        self._send = send
        self._restart = restart
        self._state = state
        self._now = now
        self._bites = bites
        self._width, self._sizes = 80, share(80, 24)
        self._header = Lines("header")
        self._live = BigNumber("live", "ARM")
        self._lamps = Lamps("lamps")
        self._labels = Lines("labels")
        self._stop = BigNumber("stop", "STOP")
        self._to_go = BigNumber("to-go", "TO GO")
        self._pair = Horizontal(self._stop, self._to_go, id="pair")
        self._side = Lines("side")
        self._status = Lines("status")
        self._told = Lines("told")
        self._bottom = BottomLine("footer")

    def compose(self) -> ComposeResult:
        """Put the parts together; ``_share`` gives them their rows."""
        yield self._header
        with Horizontal(id="upper"):
            yield Vertical(self._live, self._lamps, self._labels, self._pair, id="numbers")
            yield self._side
        yield self._status
        yield self._told
        yield self._bottom

    def on_mount(self) -> None:
        """Place the parts, so that the first frame is a whole one."""
        self._share(self.app.size.width, self.app.size.height)

    def on_resize(self, event: events.Resize) -> None:
        """Share the terminal out anew."""
        self._share(event.size.width, event.size.height)

    def show_state(self, state: BenchState, now: float) -> None:
        """Draw the state as it is at ``now``; parts that would look the same are left alone."""
        self._state, self._now = state, now
        width, sizes = self._width, self._sizes
        cue = state.cue(now)
        arm, stop, to_go = panels.numbers(state, now)
        digits = panels.digit_count(state)
        with self.app.batch_update():
            self._live.put(arm, digits, cue)
            self._lamps.put(panels.lamps(state, now, width - sizes.side))
            if sizes.pair > 1:
                self._stop.put(stop, digits, "pump")
                self._to_go.put(to_go, digits, cue)
            self._labels.put(panels.label_lines(state, now, width - sizes.side, sizes))
            on_top = sizes.status == 0
            self._header.put([panels.header(state, now, width, with_status=on_top)])
            self._status.put([panels.status(state, now)])
            aside = sizes.side > 0
            self._told.put(telling.told_lines(state, now, width, sizes.told, rest_elsewhere=aside))
            self._bottom.put_keys(
                panels.bottom(state, now, width, bites=self._bites, telling=sizes.told == 0)
            )
            if sizes.side:
                said = telling.said(state, width, sizes.told)
                self._side.put(panels.side(state, sizes.side, _side_rows(sizes), said))

    def action_due(self) -> None:
        """Do what is due."""
        command = due(self._state).command
        if command == RESTART:
            self._restart()
        elif command:
            self._send(command)

    def action_say(self, command: str) -> None:
        """Send a command as it is."""
        self._send(command)

    def action_rehearse(self, command: str) -> None:
        """Send a command that only a simulated bench hears."""
        if self._state.by_hand:
            self._send(command)

    def action_measured(self) -> None:
        """Take down a measured bend angle."""
        self._ask("Measured bend angle", "\u00b0", lambda angle: f"measured {angle}")

    def action_turned(self) -> None:
        """Take down the turn that was really made before this bend."""
        self._ask("Turn made before this bend", "\u00b0", lambda angle: f"turned {angle}")

    def action_marked(self) -> None:
        """Take down where this bend's mark really is."""
        unit = "mm" if self._state.unit == "mm" else "in"
        self._ask(
            "This bend's mark really is at",
            f" {unit}",
            lambda length: f"marked {length_mm(f'{length} {unit}'):.2f}",
        )

    def _ask(self, words: str, unit: str, command: Callable[[str], str]) -> None:
        def then(typed: str) -> None:
            try:
                self._send(command(typed))
            except ValueError:
                # Not a number at all, as a single point is: nothing to send.
                self.app.bell()

        self._bottom.ask(Question(words, unit, then))

    def _draw(self) -> None:
        self.show_state(self._state, self._now)

    def _share(self, width: int, height: int) -> None:
        self._width, self._sizes = width, share(width, height)
        sizes = self._sizes
        rows = {
            self._live: sizes.live,
            self._lamps: sizes.cue,
            self._labels: 1 if sizes.label or sizes.pair == 1 else 0,
            self._pair: sizes.pair if sizes.pair > 1 else 0,
            self._stop: sizes.pair,
            self._to_go: sizes.pair,
            self._side: _side_rows(sizes),
            self._status: sizes.status,
            self._told: sizes.told,
        }
        for part, count in rows.items():
            part.styles.height = count
            part.display = count > 0
        for number in (self._stop, self._to_go):
            number.labelled = sizes.label == 0
        self._side.styles.width = sizes.side
        self._side.display = sizes.side > 0
        self._draw()


def _side_rows(sizes: Sizes) -> int:
    return sizes.live + sizes.cue + sizes.label + sizes.pair
