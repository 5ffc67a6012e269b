"""The bend screen: three numbers to read from the pump handle, and what goes with them."""

from collections.abc import Callable
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.screen import Screen

from benchmate.screen import panels, telling
from benchmate.screen.allowed import Key, why_not
from benchmate.screen.amounts import SEEN_FROM
from benchmate.screen.sizes import Sizes, share
from benchmate.screen.snapshot import BenchState
from benchmate.screen.typing_line import DEGREE, BottomLine, Question
from benchmate.screen.widgets import BigNumber, Lamps, Lines
from benchmate.screen.words import RESTART, TYPE_ANGLE, due

_KEY_OF: dict[str, Key] = {
    "again": "a",
    "bite": "b",
    "skip": "s",
    "undo": "u",
    "pump": "p",
    "release": "r",
}
LONGEST_TUBE_MM = 1e5


class BendScreen(Screen[None]):
    """Draws a BenchState, and turns keys into commands."""

    DEFAULT_CSS = """
    BendScreen { layout: vertical; overflow: hidden; }
    BendScreen Lines, BendScreen Lamps, BendScreen BigNumber { width: 1fr; height: 1; }
    BendScreen #upper, BendScreen #pair, BendScreen #top { height: auto; overflow: hidden; }
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
        Binding("n", "unmeasured", "go on unmeasured", show=False),
        Binding("p", "say('pump')", "pump on or off", show=False),
        Binding("r", "say('release')", "open the valve", show=False),
        Binding("question_mark", "app.help", "help", show=False),
    ]

    def __init__(
        self,
        send: Callable[[str], None],
        restart: Callable[[], None],
        tell: Callable[[str], None],
        state: BenchState,
        now: float,
    ) -> None:
        """``send`` takes commands for the bench, ``tell`` sentences for the person."""
        super().__init__()
        self._send = send
        self._restart = restart
        self._tell = tell
        self._state = state
        self._now = now
        self._width, self._height, self._sizes = 80, 24, share(80, 24)
        self._header = Lines("header")
        self._live = BigNumber("live", "ARM")
        self._lamps = Lamps("lamps")
        self._under = Lines("under")
        self._labels = Lines("labels")
        self._stop = BigNumber("stop", "STOP")
        self._to_go = BigNumber("to-go", "TO GO")
        self._words = Lines("words")
        self._pair = Horizontal(self._stop, self._to_go, self._words, id="pair")
        self._stop_beside = BigNumber("stop-beside", "STOP")
        self._top = Horizontal(self._live, self._stop_beside, id="top")
        self._side = Lines("side")
        self._status = Lines("status")
        self._told = Lines("told")
        self._bottom = BottomLine("footer")

    def compose(self) -> ComposeResult:
        """Put the parts together; ``_share`` gives them their rows."""
        yield self._header
        with Horizontal(id="upper"):
            parts = (self._top, self._under, self._lamps, self._labels, self._pair)
            yield Vertical(*parts, id="numbers")
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
        turned = state.steering != self._state.steering
        self._state, self._now = state, now
        with self.app.batch_update():
            if turned:
                self._place()
            self._draw_numbers(state, now)
            self._draw_words(state, now)

    def _draw_numbers(self, state: BenchState, now: float) -> None:
        width, sizes = self._width - self._sizes.side, self._sizes
        cue = state.cue(now)
        arm, stop, to_go = panels.numbers(state, now)
        digits = panels.digit_count(state)
        self._live.put(arm, digits, cue)
        # Another colour than the arm's at its side: the two must not read as one number.
        self._stop_beside.put(stop, digits, "wait")
        self._lamps.put(panels.lamps(state, now, width))
        if sizes.pair:
            self._stop.put(stop, digits, "pump")
            self._to_go.put(to_go, digits, cue)
        labels = panels.label_lines(state, now, width, sizes, to_go=state.steering)
        (self._under if sizes.beside else self._labels).put(labels)

    def _draw_words(self, state: BenchState, now: float) -> None:
        """Draw the lines of text: sentences that find no row go where the to-go digits aren't."""
        width, sizes, steering = self._width, self._sizes, state.steering
        self._header.put([panels.header(state, now, width, sizes)])
        self._status.put([panels.status(state, now, stop=sizes.label == 0)])
        narrow = sizes.side == 0
        boxed = sizes.pair > 0 and not steering
        aside = boxed or sizes.side > 0
        rows = telling.told_lines(
            state, now, width, sizes.told, rest_elsewhere=aside, narrow=narrow
        )
        self._told.put(rows)
        self._bottom.put_keys(
            panels.bottom(state, now, width, telling=sizes.told == 0 and not boxed)
        )
        said = telling.said(state, width, sizes.told, narrow=narrow)
        if boxed:
            box = (width - sizes.side) // 2, sizes.pair
            if sizes.told:
                self._words.put(telling.rest_lines(said, *box))
            else:
                self._words.put(telling.told_lines(state, now, *box, narrow=narrow))
            said = said._replace(rest="")
        if sizes.side:
            self._side.put(panels.side(state, sizes.side, _side_rows(sizes), said))

    def action_due(self) -> None:
        """Do what is due."""
        command = due(self._state).command
        if command == RESTART:
            self._restart()
        elif command == TYPE_ANGLE:
            self.action_measured()
        elif command:
            self._send(command)

    def action_say(self, command: str) -> None:
        """Send a command as it is."""
        if self._may(_KEY_OF[command]):
            self._send(command)

    def action_unmeasured(self) -> None:
        """Go on from a bend that asks to be measured, without that."""
        if self._may("n"):
            self._send("next")

    def action_measured(self) -> None:
        """Take down a measured bend angle."""
        if self._may("m"):
            self._ask(
                Question(
                    "Measured bend angle",
                    DEGREE,
                    lambda angle: self._send(f"measured {angle:.6g}"),
                    short="Bend angle",
                    least=0.0,
                    most=360.0,
                )
            )

    def action_turned(self) -> None:
        """Take down the turn that was really made before this bend."""
        if self._may("t"):
            self._ask(
                Question(
                    f"Turn made (clockwise {SEEN_FROM})",
                    DEGREE,
                    lambda angle: self._send(f"turned {angle:.6g}"),
                    short="Turn",
                    least=-180.0,
                    most=180.0,
                )
            )

    def action_marked(self) -> None:
        """Take down where this bend's mark really is."""
        if self._may("k"):
            self._ask(
                Question(
                    "Mark really at",
                    " mm" if self._state.unit == "mm" else " in",
                    lambda length: self._send(f"marked {length:.2f}"),
                    short="Mark",
                    least=0.0,
                    most=LONGEST_TUBE_MM,
                )
            )

    def _may(self, key: Key) -> bool:
        """Say whether a key can be used now; tell the person why it can't."""
        why = why_not(self._state, key)
        if why:
            self._tell(why)
        return not why

    def _ask(self, question: Question) -> None:
        self._bottom.ask(question._replace(told=self._tell))

    def _draw(self) -> None:
        self.show_state(self._state, self._now)

    def _share(self, width: int, height: int) -> None:
        self._width, self._height = width, height
        self._place()
        self._draw()

    def _place(self) -> None:
        """Give every part its rows, and the place beside the stop angle to digits or to words."""
        steering = self._state.steering
        sizes = self._sizes = share(self._width, self._height, steering=steering)
        rows = {
            self._live: sizes.live,
            self._stop_beside: sizes.live if sizes.beside else 0,
            self._lamps: sizes.cue,
            self._under: sizes.label if sizes.beside else 0,
            self._labels: 0 if sizes.beside else sizes.label,
            self._pair: sizes.pair,
            self._stop: sizes.pair,
            self._to_go: sizes.pair if steering else 0,
            self._words: 0 if steering else sizes.pair,
            self._side: _side_rows(sizes),
            self._status: sizes.status,
            self._told: sizes.told,
        }
        for part, count in rows.items():
            part.styles.height = count
            part.display = count > 0
        for number in (self._stop, self._to_go):
            number.labelled = sizes.label == 0
        self._live.labelled = sizes.beside == 0
        self._stop_beside.labelled = False
        self._stop_beside.styles.width = sizes.beside
        self._side.styles.width = sizes.side
        self._side.display = sizes.side > 0


def _side_rows(sizes: Sizes) -> int:
    return sizes.live + sizes.cue + sizes.label + sizes.pair
