"""The align screen: the arm's angle while it swings once, and what the swing was worth."""

import textwrap
from collections.abc import Callable, Mapping, Sequence
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import Screen

from benchmate.clock import Clock
from benchmate.screen.client import Ended, Happening, OpenBench
from benchmate.screen.instrument.answers import LargeNumber
from benchmate.screen.instrument.widgets import BigNumber, Lines
from benchmate.screen.live_app import LiveApp
from benchmate.screen.pages.footed import FootedScreen
from benchmate.screen.pages.typing_page import TypedQuestion, TypingPage
from benchmate.screen.state.alignment_state import AlignmentState, alignment_after, next_word, sent
from benchmate.screen.words.alignment import outcome
from benchmate.screen.words.cues import CAUTION
from benchmate.screen.words.ink import Ink, Line
from benchmate.stream import Reading
from benchmate.wording import printable

_SWING = {
    "before": "Take the tube out. Bring the arm to rest at the start of its way; then press Enter.",
    "moving": "Swing the arm once through its whole way, first the way of bending. Then Enter.",
    "working": "Working it out.",
    "over": "",
}
_TURN = {
    "before": "Hold the sensor's box still against something square; then press Enter.",
    "moving": "Turn the box once round in the swing plane, with a dozen stops of a second each. "
    "Then Enter.",
    "working": "Working it out.",
    "over": "",
}
_AGAINST = {
    "before": "Stand the bender's plane upright, with the {chip}'s box clamped tight to its arm. "
    "Bring the arm to rest; then press Enter.",
    "moving": "Take the arm through its whole way, or all round, with a dozen stops of two "
    "seconds each. Then Enter.",
    "working": "Working it out.",
    "over": "",
}
_ENTER = {"before": "begin", "working": "working it out"}


def header(state: AlignmentState) -> Line:
    """Give the top line."""
    title = " Calibrate the chip: one turn" if state.turn else " Align: one swing of the arm"
    if state.against:
        title = f" Calibrate the encoder: against the {state.against}"
    mark: Line = (("   ", "plain"), (" SIMULATED ", "mark")) if state.rehearsal else ()
    return ((title, "bold"), *mark)


def page(state: AlignmentState, now: float, width: int) -> list[Line]:
    """Give the lines under the angle: what to do, how far it has swept, the outcome."""
    lines = _wrapped(_to_do(state), "act", width)
    if state.turn and state.reading is not None and state.reading.stops is not None:
        covered = state.reading.coverage or 0.0
        count = f"{state.reading.stops} still {'stop' if state.reading.stops == 1 else 'stops'}"
        stops = f" {count} found, covering {covered:.0f} degrees"
        lines.append(((stops, "plain"),))
    elif state.swept is not None:
        low, high = state.swept
        lines.append(((f" swept {high - low:.1f} degrees", "plain"),))
    if state.up and state.reading is None:
        lines.append(((" waiting for the first reading", "dim"),))
    elif state.arm(now) is None and state.up and state.stage != "over":
        lines.append(((" no reading", "attend"),))
    if state.fault is not None:
        lines += _wrapped(printable(state.fault.detail, 300), "attend", width)
    if state.aligned is not None:
        for text, ink in outcome(state.aligned, turn=state.turn):
            lines += _wrapped(text, ink, width)
    elif state.ended is not None:
        lines += _wrapped(_why_not(state, state.ended), "attend", width)
    return [*lines, (("", "plain"),), *_wrapped(CAUTION, "dim", width)]


def _to_do(state: AlignmentState) -> str:
    if state.against:
        return _AGAINST[state.stage].format(chip=state.against)
    return (_TURN if state.turn else _SWING)[state.stage]


def _why_not(state: AlignmentState, ended: Ended) -> str:
    """Say that nothing was kept; the cause only where no fault has told it."""
    if state.fault is not None:
        return "Nothing was kept: what was known before still holds."
    said = printable(ended.complaint, 300) or f"exit {ended.status}"
    return f"Nothing was kept. The bench ended: {said}"


def enter_words(state: AlignmentState) -> str:
    """Say what Enter does now."""
    if state.stage == "over":
        return "close" if state.aligned is not None else "try again"
    if state.stage == "moving":
        return f"end of the {'turn' if state.turn else 'swing'}"
    return _ENTER[state.stage]


class AlignPage(FootedScreen[None]):
    """Draws a AlignmentState; Enter begins, ends, closes."""

    DEFAULT_CSS = """
    AlignPage { layout: vertical; overflow: hidden; }
    AlignPage Lines { width: 1fr; height: 1; }
    AlignPage BigNumber { width: 1fr; height: 7; }
    AlignPage #page { height: 1fr; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,space", "app.go_on", "begin, end, close", show=False),
        Binding("m", "measured", "measured", show=False),
    ]

    def __init__(self, send: Callable[[str], None], *, by_hand: bool) -> None:
        """``by_hand``: a protractor's angles may be typed in."""
        super().__init__()
        self._send = send
        self._by_hand = by_hand
        self._header = Lines("header")
        self._angle = BigNumber("angle")
        self._page = Lines("page")
        self._words: dict[str, str] = {}
        self._width = 80

    def compose(self) -> ComposeResult:
        """Put the parts together."""
        yield self._header
        yield self._angle
        yield self._page
        yield self.footer()

    def on_resize(self, event: events.Resize) -> None:
        """Give the digits their share, and what is to be done its words."""
        self._angle.styles.height = max(1, min(14, event.size.height // 2 - 2))
        self._width = event.size.width

    def show_state(self, state: AlignmentState, now: float) -> None:
        """Draw the state."""
        arm = state.arm(now)
        text = "--.-" if arm is None else f"{arm:.1f}"
        self._header.put([header(state)])
        self._angle.put(LargeNumber(("ARM",), text, 4))
        self._page.put(page(state, now, self._width))
        words = {"go_on": enter_words(state)}
        if state.turn and not state.against and state.stage == "moving":
            words["measured"] = "arm angle at this stop (encoder)"
        if words != self._words:
            self._words = words
            self.refresh_bindings()

    def key_words(self) -> Mapping[str, str]:
        """Give what Enter does now, and m where an angle may be typed in."""
        return self._words

    def action_measured(self) -> None:
        """Take down a protractor's angle at a stop, where one is asked for."""
        if self._by_hand:
            question = TypedQuestion("Arm angle at this stop", "deg", -360.0, 360.0)
            self.app.push_screen(TypingPage(question), self._send_angle)

    def _send_angle(self, angle: float | None) -> None:
        if angle is not None:
            self._send(f"measured {angle:g}")


class AlignApp(LiveApp):
    """The screen program of ``align``; its return value is the exit status.

    ``start()`` gives the command line of ``align --plain``.
    """

    RESTARTS = 0

    def __init__(
        self,
        start: Callable[[], Sequence[str]],
        turn: bool = False,
        rehearsal: bool = False,
        *,
        against: str = "",
        open_bench: OpenBench | None = None,
        clock: Clock | None = None,
    ) -> None:
        super().__init__(open_bench, clock)
        self._start = start
        self._align_page = AlignPage(self.command, by_hand=turn and not against)
        self.state = AlignmentState(turn=turn, against=against, rehearsal=rehearsal)
        """The alignment as the stream has told it."""

    def get_default_screen(self) -> Screen[None]:
        """Give the one screen."""
        return self._align_page

    def on_mount(self) -> None:
        """Start the bench once the screen stands."""
        super().on_mount()
        self._draw()
        self.call_after_refresh(self.open, self._start)

    def took(self, happening: Happening) -> None:
        """Fold what happened and draw."""
        self.state = alignment_after(self.state, happening, self.clock.now())
        if isinstance(happening, Ended):
            self.status = 0 if self.state.aligned is not None else 1
        self._draw()

    def pulled(self, reading: Reading | None) -> None:
        """Fold the newest reading and draw; a lost one is seen by its age."""
        if reading is not None:
            self.state = alignment_after(self.state, reading, self.clock.now())
        self._draw()

    def running(self) -> bool:
        """Whether there is a bench to wait for before leaving."""
        return self.state.up

    def action_go_on(self) -> None:
        """Do what is due: begin, end, close, or begin anew after one that wasn't kept."""
        if self.state.stage == "over":
            self._close_or_try_again()
            return
        word = next_word(self.state)
        if word:
            self.command(word)
            self.state = sent(self.state, word)
            self._draw()

    def _close_or_try_again(self) -> None:
        if self.state.aligned is not None or self.state.up:
            self.action_leave()
            return
        self.state = AlignmentState(
            turn=self.state.turn, against=self.state.against, rehearsal=self.state.rehearsal
        )
        self._draw()
        self.open(self._start)

    def _draw(self) -> None:
        self._align_page.show_state(self.state, self.clock.now())


def _wrapped(text: str, ink: Ink, width: int) -> list[Line]:
    return [((" " + row, ink),) for row in textwrap.wrap(text, max(width - 2, 10))]
