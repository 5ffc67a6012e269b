"""The bend screen: one large answer for whoever is at the pump, and what goes with it."""

from collections.abc import Callable, Mapping
from typing import ClassVar

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical

from benchmate.screen.instrument import answers
from benchmate.screen.instrument.arrangement import STROKE_ROWS, Arrangement, arranged
from benchmate.screen.instrument.side_panel import side, strokes_number
from benchmate.screen.instrument.widgets import BigNumber, Lines, ProgressBar, WordBand
from benchmate.screen.pages.footed import FootedScreen
from benchmate.screen.pages.nudge_page import NudgePage
from benchmate.screen.pages.typing_page import TypedQuestion, TypingPage
from benchmate.screen.state.bench_state import BenchState
from benchmate.screen.words.amounts import SEEN_FROM
from benchmate.screen.words.choices import Choice, choice_line, choices
from benchmate.screen.words.fitting import fitted, told_lines
from benchmate.screen.words.refusals import Key, why_not
from benchmate.screen.words.sentences import LOOKING_ON, MEASURE, RESTART, due
from benchmate.signal_patterns import signal

_KEY_OF: dict[str, Key] = {
    "again": "a",
    "bite": "b",
    "skip": "s",
    "undo": "u",
    "scrap": "X",
    "pump": "p",
    "release": "r",
}
LONGEST_TUBE_MM = 1e5
_LOOKED_AT = {"part": "part", "details": "figures", "history": "history", "sensor": "sensor"}
"""What whoever looks on may ask for."""


class BendPage(FootedScreen[None]):
    """Draws a BenchState, and turns keys into commands."""

    DEFAULT_CSS = """
    BendPage Lines, BendPage ProgressBar, BendPage BigNumber, BendPage WordBand {
        width: 1fr; height: 1; }
    BendPage #top, BendPage #lower { height: auto; overflow: hidden; }
    BendPage #aside { height: auto; overflow: hidden; }
    """
    AUTO_FOCUS = ""
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter,space", "due", "what is due"),
        Binding("a", "say('again')", "press again"),
        Binding("m", "measured", "measured"),
        Binding("t", "turned", "turn as made"),
        Binding("k", "marked", "mark as it is"),
        Binding("c", "app.changes", "what changed in the plan"),
        Binding("v", "app.part", "the part drawn"),
        Binding("d", "app.details", "this bend in figures"),
        Binding("h", "app.history", "bends of this setup"),
        Binding("i", "app.sensor", "the sensor"),
        Binding("b", "say('bite')", "bite"),
        Binding("s", "say('skip')", "skip"),
        Binding("u", "say('undo')", "undo"),
        Binding("X", "say('scrap')", "this tube is scrap: another one"),
        Binding("n", "unmeasured", "go on unmeasured, or a new part"),
        Binding("y", "insist", "the number is right"),
        Binding("right,tab", "mark(1)", "another choice"),
        Binding("left,shift+tab", "mark(-1)", "the choice before"),
        Binding("p", "say('pump')", "pump on or off"),
        Binding("r", "say('release')", "open the valve"),
    ]

    def __init__(
        self,
        send: Callable[[str], None],
        restart: Callable[[], None],
        tell: Callable[[str], None],
        state: BenchState,
        now: float,
        *,
        has_foot: bool = False,
    ) -> None:
        """``send`` takes commands for the bench, ``tell`` sentences for the person."""
        super().__init__()
        self._send = send
        self._restart = restart
        self._tell = tell
        self._state = state
        self._now = now
        self._since = (answers.situation(state, now), now)
        self._words: Mapping[str, str] = {}
        self._offered: tuple[Choice, ...] = ()
        self._at = 0
        """The marked one of what is offered; the first is what is due."""
        self._has_foot = has_foot
        self._foot_taken = False
        self._rows: Arrangement = arranged(80, 24)
        self._width, self._height = 80, 24
        self._header = Lines("header")
        self._number = BigNumber("number")
        self._stop_beside = BigNumber("stop-beside")
        self._side = Lines("side")
        self._strokes = BigNumber("strokes")
        self._aside = Vertical(self._side, self._strokes, id="aside")
        self._bar = ProgressBar("bar")
        self._word = WordBand("word")
        self._left = BigNumber("left")
        self._right = BigNumber("right")
        self._told = Lines("told")

    def compose(self) -> ComposeResult:
        """Put the parts together; ``_place`` gives them their rows."""
        yield self._header
        yield Horizontal(self._number, self._stop_beside, self._aside, id="top")
        yield self._bar
        yield self._word
        yield Horizontal(self._left, self._right, id="lower")
        yield self._told
        yield self.footer()

    def on_mount(self) -> None:
        """Place the parts, so that the first frame is a whole one."""
        self._share(self.app.size.width, self.app.size.height)

    def on_resize(self, event: events.Resize) -> None:
        """Share the terminal out anew."""
        self._share(event.size.width, event.size.height)
        self.refresh_bindings()

    def show_state(self, state: BenchState, now: float) -> None:
        """Draw the state as it is at ``now``; parts that would look the same are left alone."""
        self._state, self._now = state, now
        which = answers.situation(state, now)
        if which != self._since[0]:
            self._since = (which, now)
        if (offered := choices(state)) != self._offered:
            self._offered, self._at = offered, 0
        self.take_foot(wanted=bool(offered))
        with self.app.batch_update():
            self._place()
            self._draw_numbers(state, now)
            self._draw_words(state, now)
        if (words := self.key_words()) != self._words:
            self._words = words
            self.set_class("due" in words, "-due")
            self.refresh_bindings()

    def _draw_numbers(self, state: BenchState, now: float) -> None:
        rows = self._rows
        left, right = answers.lower_numbers(state, now)
        self._number.put(answers.large_number(state, now))
        if rows.word:
            word = answers.large_word(state, now)
            self._word.put(word, lit=answers.lit(word, now))
        else:
            self._bar.put(answers.word_row(state, now, self._width))
        if rows.lower and rows.word:
            self._bar.put(answers.bar(state, now, self._width))
        elif rows.word:
            self._bar.put(())
        if rows.lower:
            self._left.put(left)
            self._right.put(right)
        if rows.stop:
            self._stop_beside.put(left)

    def _draw_words(self, state: BenchState, now: float) -> None:
        rows = self._rows
        self._header.put([answers.header(state, self._lamps(state, now), self._width)])
        said = fitted(state, self._width, rows.told, aside=rows.side > 0)
        lines = told_lines(said)
        if rows.stop and not state.notice:
            lines = [answers.label_row(state, now, self._width, rows.stop)]
        if self._at:
            # Only once the mark was moved: till then the footer says what Enter does.
            words = tuple(choice.words for choice in self._offered)
            lines = [choice_line(words, self._at, self._width), *lines][: max(rows.told, 1)]
        self._told.put(lines)
        if rows.side:
            strokes = strokes_number(state, now)
            below = STROKE_ROWS if strokes.text and rows.number > 2 * STROKE_ROWS - 1 else 0
            self._strokes.put(strokes)
            self._strokes.styles.height = below
            self._strokes.display = below > 0
            self._side.styles.height = rows.number - below
            self._side.put(side(state, rows.side - 1, rows.number - below, said))

    def _lamps(self, state: BenchState, now: float) -> tuple[bool, ...]:
        """Give the lamps as the bench lights its own."""
        which, since = self._since
        reading = state.reading
        return signal(
            state.cue(now),
            fault=which == "fault",
            to_go=None if reading is None else reading.to_go,
            age_s=now - since,
            say=None if state.verdict is None else state.verdict.say,
            unzeroed=which == "unzeroed",
        ).lamps

    def key_words(self) -> Mapping[str, str]:
        """Give the keys that do something now, the most wanted first."""
        state = self._state
        what = self._marked()
        words = {"due": what.words} if what.command else {}
        if self._at:
            words["mark(1)"] = "another"
        if state.link == "leaving":
            return {"leave": "leave at once"}
        if state.link != "up" or state.done:
            return words
        if state.following:
            return {} if state.mid_hit else dict(_LOOKED_AT)
        if state.unfinished is not None:
            return {**words, "unmeasured": "new part"}
        if state.target is None:
            return words
        return {**words, **_keys(state)}

    def action_due(self) -> None:
        """Do what is due, or the choice that is marked, or say why there is nothing."""
        what = self._marked()
        if what.command == RESTART:
            self._restart()
        elif what.command == MEASURE:
            self.action_measured()
        elif what.command:
            self._send(what.command)
        else:
            self._tell(what.words)

    def action_mark(self, steps: int) -> None:
        """Move the mark to another of what can be chosen now."""
        if not self._offered:
            following = self._state.following
            self._tell(LOOKING_ON if following else "Nothing to choose between now.")
            return
        self._at = (self._at + steps) % len(self._offered)
        self.show_state(self._state, self._now)

    def take_foot(self, *, wanted: bool) -> None:
        """Have the foot switch's presses told to this screen while there is something to choose."""
        if self._state.link != "up":
            self._foot_taken = False
        elif self._has_foot and wanted != self._foot_taken:
            self._foot_taken = wanted
            self._send("take_foot" if wanted else "give_foot")

    def foot(self, press: str) -> None:
        """Take a press: short does what is marked, double moves the mark, long goes back."""
        if press == "short":
            self.action_due()
        elif press == "double":
            self.action_mark(1)
        elif self._at:
            self._at = 0
            self.show_state(self._state, self._now)
        else:
            self._send("undo")

    def _marked(self) -> Choice:
        return self._offered[self._at] if self._at else Choice(*due(self._state))

    def action_say(self, command: str) -> None:
        """Send a command as it is."""
        if self._may(_KEY_OF[command]):
            self._send(command)

    def action_unmeasured(self) -> None:
        """Go on from a bend that asks to be measured, without that; or begin a new part."""
        if self._state.unfinished is not None and not self._state.following:
            self._send("new")
        elif self._may("n"):
            self._send("next")

    def action_insist(self) -> None:
        """Send a measured angle again that the bench asked to have confirmed."""
        if self._state.doubtful is not None and not self._state.following:
            self._send(f"measured {self._state.doubtful:.6g}!")

    def action_measured(self) -> None:
        """Take down a measured bend angle, beginning at what the arm believes."""
        verdict = self._state.verdict
        if self._may("m") and verdict is not None:
            self.app.push_screen(NudgePage(verdict.bend_angle), self._measured)

    def _measured(self, angle: float | None) -> None:
        if angle is None:
            self._tell("Nothing entered.")
        else:
            self._send(f"measured {angle:.6g}")

    def action_turned(self) -> None:
        """Take down the turn that was really made before this bend."""
        if self._may("t"):
            words = f"Turn made before this bend (above 0 clockwise, {SEEN_FROM})"
            self._ask(TypedQuestion(words, "deg", -180.0, 180.0), "turned {:.6g}")

    def action_marked(self) -> None:
        """Take down where this bend's mark really is."""
        if self._may("k"):
            unit = "mm" if self._state.unit == "mm" else "in"
            self._ask(
                TypedQuestion("Where this bend's mark really is", unit, 0.0, LONGEST_TUBE_MM),
                "marked {:.2f}",
            )

    def _ask(self, question: TypedQuestion, command: str) -> None:
        def take(amount: float | None) -> None:
            if amount is None:
                self._tell("Nothing entered.")
            else:
                self._send(command.format(amount))

        self.app.push_screen(TypingPage(question), take)

    def _may(self, key: Key) -> bool:
        """Say whether a key can be used now; tell the person why it can't."""
        why = why_not(self._state, key)
        if why:
            self._tell(why)
        return not why

    def _share(self, width: int, height: int) -> None:
        self._width, self._height = width, height
        self._place(anew=True)
        self.show_state(self._state, self._now)

    def _place(self, *, anew: bool = False) -> None:
        """Give every part its rows; on a small panel the situation decides about them."""
        which = answers.situation(self._state, self._now)
        rows = arranged(self._width, self._height, numbers=which in answers.WITH_NUMBERS)
        if rows == self._rows and not anew:
            return
        self._rows = rows
        heights = {
            self._number: rows.number,
            self._stop_beside: rows.number if rows.stop else 0,
            self._aside: rows.number if rows.side else 0,
            self._bar: rows.bar,
            self._word: rows.word,
            self._left: rows.lower,
            self._right: rows.lower,
            self._told: rows.told,
        }
        # A blank row above keeps what is wanted clear of the word.
        clear = 1 if rows.word and rows.lower > 5 else 0
        self._left.clear = self._right.clear = clear
        self._bar.thin = rows.bar == 1 and rows.word > 0
        for part, count in heights.items():
            part.styles.height = count
            part.display = count > 0
        self._stop_beside.styles.width = rows.stop
        self._stop_beside.bare = self._number.bare = rows.stop > 0
        self._aside.styles.width = rows.side


def _keys(state: BenchState) -> dict[str, str]:
    """Give the keys of a bend that do something now, the most wanted first."""
    keys: dict[str, str] = {}
    if state.doubtful is not None:
        keys["insist"] = f"{state.doubtful:g} is right"
    if state.by_hand and state.verdict is None and state.phase != "zeroing":
        keys["say('pump')"] = "pump"
        if state.mid_hit:
            keys["say('release')"] = "release"
    if state.bites and state.mid_hit:
        keys["say('bite')"] = "arm bears again" if state.latched else "ram at its end"
    if state.verdict is not None:
        return {**keys, **_keys_after_a_hit(state)}
    if not state.mid_hit:
        if state.target is not None and state.target.changed:
            keys["changes"] = "changes"
        keys |= {
            "say('undo')": "undo",
            "part": "part",
            "history": "history",
            "say('skip')": "skip bend",
            "sensor": "sensor",
        }
    return keys


def _keys_after_a_hit(state: BenchState) -> dict[str, str]:
    verdict = state.verdict
    say = None if verdict is None else verdict.say
    keys = {"measured": "measured"}
    if say == "again":
        keys = {"say('skip')": "keep as it is", **keys}
    elif say == "measure":
        keys = {"unmeasured": "go on unmeasured", "say('again')": "press again"}
    elif say == "accept":
        keys["say('again')"] = "press again"
    keys |= {"say('undo')": "undo", "details": "figures"}
    if state.target is not None and state.target.mark is not None:
        keys |= {"part": "part", "turned": "turn", "marked": "mark"}
    return keys
