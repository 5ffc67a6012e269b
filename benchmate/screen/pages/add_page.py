"""The screen of ``add``: one question after the other, the part drawn beside them as it grows."""

import textwrap
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar, NamedTuple

from textual import events
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.screen import Screen

from benchmate.errors import BenchmateError
from benchmate.screen.instrument.widgets import Lines
from benchmate.screen.pages.footed import FootedScreen
from benchmate.screen.painted_app import PaintedApp
from benchmate.screen.remembered import Remembered
from benchmate.screen.words.ink import Line
from benchmate.wording import printable

BESIDE_FROM = 72
"""Columns from which the drawing stands beside the questions; below, under them."""
LEAST_DRAWING = 4
LONGEST = 80
STEP = 0.1
"""By which the arrows move a number."""
ARROW = "\u2192"
Answers = Mapping[str, str]


class AddStep(NamedTuple):
    """One question as it stands on the screen."""

    name: str
    words: str
    choices: Sequence[str] = ()
    given: str = ""
    """What an empty answer means."""
    optional: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """What the screen asks, and who answers for it."""

    title: str
    asks: Callable[[Answers], AddStep | None]
    """Gives the next question; None: all are answered."""
    take: Callable[[Answers, str], str]
    """Gives the answer to the next question as it is to be written; ValueError says why not."""
    draw: Callable[[Answers, int, int], Sequence[str]]
    """Draws what the answers give so far, in so many columns and rows."""
    whole: Callable[[Answers], Sequence[str]]
    """Gives the file's lines; BenchmateError says what is wrong with the answers together."""


class AddPage(FootedScreen[None]):
    """Asks; digits choose or are typed, arrows choose, nudge a number or step back, Enter takes."""

    DEFAULT_CSS = """
    AddPage Lines { width: 1fr; height: 1fr; }
    """
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("enter", "take", "take it", priority=True),
        Binding("left", "back", "a step back", priority=True),
        Binding("down", "move(1)", "down", priority=True),
        Binding("up", "move(-1)", "up", priority=True),
        Binding("backspace", "rub_out", "rub out", priority=True),
        Binding("escape,ctrl+c,ctrl+q", "leave", "leave, nothing written", priority=True),
    ]

    def __init__(self, form: Form, given: Answers) -> None:
        super().__init__()
        self._form = form
        self._answers = dict(given)
        self._order: list[str] = []
        self._typed, self._at, self._refused = "", 0, ""
        self._lines = Lines("questions")

    def compose(self) -> ComposeResult:
        """Put the questions over the keys."""
        yield self._lines
        yield self.footer()

    def on_mount(self) -> None:
        """Draw the first question."""
        self.add_class("-due")
        self._draw()

    def on_resize(self, _event: events.Resize) -> None:
        """Draw it anew for the terminal as it is now."""
        self._draw()

    def on_key(self, event: events.Key) -> None:
        """Take a letter or digit into the line, and < for a step back."""
        if event.character == "<" and not self._typed:
            self.action_back()
        elif event.character is not None and event.character.isprintable():
            self._put(self._typed + event.character)
        event.stop()

    def on_paste(self, event: events.Paste) -> None:
        """Take what is pasted into the line, up to its first line's end."""
        self._put(self._typed + (event.text.splitlines() or [""])[0])

    def action_take(self) -> None:
        """Take the answer, or say why it can't be; with all answered, write the file."""
        asked = self._form.asks(self._answers)
        if asked is None:
            if not self._wrong():
                self.app.exit(dict(self._answers))
            return
        chosen = bool(asked.choices) and not self._typed
        written = str(self._at + 1) if chosen else self._typed
        try:
            answer = self._form.take(self._answers, written)
        except ValueError as error:
            self._refused = str(error)
            self._draw()
            return
        self._answers[asked.name] = answer
        self._order.append(asked.name)
        self._begin()

    def action_back(self) -> None:
        """Go back to the question before, with its answer in the line."""
        if not self._order:
            self._refused = "this is the first question"
            self._draw()
            return
        before = self._answers.pop(self._order.pop())
        self._begin()
        asked = self._form.asks(self._answers)
        if asked is not None and before in asked.choices:
            self._at = list(asked.choices).index(before)
        else:
            self._typed = before
        self._draw()

    def action_move(self, rows: int) -> None:
        """Move to another choice, or nudge the number in the line."""
        asked = self._form.asks(self._answers)
        if asked is None:
            return
        if asked.choices:
            self._typed = ""
            self._at = (self._at + rows) % len(asked.choices)
            self._refused = ""
            self._draw()
            return
        nudged = nudge(self._typed or asked.given, -rows)
        if nudged is not None:
            self._put(nudged)

    def action_rub_out(self) -> None:
        """Take the last letter out of the line."""
        self._put(self._typed[:-1])

    def action_leave(self) -> None:
        """Leave; nothing is written."""
        self.app.exit(None)

    def key_words(self) -> Mapping[str, str]:
        """Give what Enter does, and the arrows."""
        whole = self._form.asks(self._answers) is None
        words = {"take": "write it" if whole and not self._wrong() else "take it"}
        if self._order:
            words["back"] = "a step back"
        return {**words, "leave": "leave, nothing written"}

    def _begin(self) -> None:
        self._typed, self._at, self._refused = "", 0, ""
        asked = self._form.asks(self._answers)
        if asked is not None and asked.given in asked.choices:
            self._at = list(asked.choices).index(asked.given)
        self.refresh_bindings()
        self._draw()

    def _put(self, typed: str) -> None:
        self._typed, self._refused = typed[:LONGEST], ""
        asked = self._form.asks(self._answers)
        if asked is not None and self._typed.isdecimal():
            number = int(self._typed)
            if 1 <= number <= len(asked.choices):
                self._at = number - 1
        self._draw()

    def _wrong(self) -> str:
        try:
            self._form.whole(self._answers)
        except BenchmateError as error:
            return str(error)
        return ""

    def _draw(self) -> None:
        width, height = self.app.size.width, max(self.app.size.height - 1, 1)
        beside = width >= BESIDE_FROM
        left = width // 2 if beside else width
        asked = self._form.asks(self._answers)
        if asked is None:
            lines = self._whole_lines(left - 1)
        else:
            lines = self._question_lines(asked, left - 1, height - 1)
        head: Line = ((f" {self._form.title}"[:width], "bold"),)
        if not beside:
            room = height - 1 - len(lines)
            drawn = self._drawn(width - 2, room - 1) if room > LEAST_DRAWING else []
            self._lines.put([head, *lines, *drawn][:height])
            return
        drawn = self._drawn(width - left - 1, height - 2)
        rows = [head]
        for row in range(height - 1):
            line = lines[row] if row < len(lines) else ()
            gap = left - sum(len(text) for text, _ in line)
            beside_it = drawn[row] if row < len(drawn) else ()
            rows.append((*line, (" " * max(gap, 0), "plain"), *beside_it))
        self._lines.put(rows)

    def _drawn(self, width: int, height: int) -> list[Line]:
        if height < LEAST_DRAWING:
            return []
        return [((row[:width], "act"),) for row in self._form.draw(self._answers, width, height)]

    def _question_lines(self, asked: AddStep, width: int, height: int) -> list[Line]:
        hint = f"Enter: {asked.given}" if asked.given else "Enter: none" if asked.optional else ""
        words = f"{asked.words}?"
        lines: list[Line] = [
            ((f" {row}", "bold"),) for row in textwrap.wrap(words, max(width - 1, 10))
        ]
        refused = textwrap.wrap(self._refused, max(width - 2, 10))
        below: list[Line] = []
        if self._typed or not asked.choices:
            beside = f"   {hint}" if hint and not self._typed else ""
            below.append(((" > ", "key"), (f"{self._typed}_", "bold"), (beside, "dim")))
        below += [((f" {row}", "attend"),) for row in refused]
        room = max(height - len(lines) - len(below), 1)
        lines += _choice_lines(asked.choices, self._at, min(room, len(asked.choices)), width)
        lines += below
        answered = self._answered(width, height - len(lines) - 1)
        return [*answered, *([()] if answered else []), *lines]

    def _answered(self, width: int, rows: int) -> list[Line]:
        """Give the last answers, newest last, as many as there is room for."""
        if rows < 1:
            return []
        given = [f" {name}: {self._answers[name] or 'none'}" for name in self._order]
        return [((printable(row, 200)[:width], "dim"),) for row in given[-rows:]]

    def _whole_lines(self, width: int) -> list[Line]:
        if wrong := self._wrong():
            rows = [row for line in wrong.splitlines() for row in textwrap.wrap(line, width - 2)]
            said: list[Line] = [((f" {row}", "attend"),) for row in rows]
            return [*said, (), ((" Go a step back (left arrow) and change it.", "bold"),)]
        # The remarks have no room here, and stand in the file.
        text = [
            printable(line.partition("    #")[0], 200) for line in self._form.whole(self._answers)
        ]
        return [*(((f" {line}"[:width], "plain"),) for line in text if line[:1] != "#")]


class AddApp(PaintedApp[dict[str, str] | None]):
    """The screen program of ``add``: returns the answers, or None when it was left."""

    def __init__(self, form: Form, given: Answers, remembered: Remembered | None = None) -> None:
        super().__init__(remembered)
        self._page = AddPage(form, given)

    def get_default_screen(self) -> Screen[None]:
        """Give the one screen."""
        return self._page


def nudge(written: str, steps: int) -> str | None:
    """Give a number moved by so many steps, its unit kept; None for what is no plain number."""
    number, _, unit = (written or "0").partition(" ")
    try:
        moved = round(float(number) + steps * STEP, 6)
    except ValueError:
        return None
    return f"{moved + 0.0:g}{' ' * bool(unit)}{unit}"


def _choice_lines(choices: Sequence[str], at: int, rows: int, width: int) -> list[Line]:
    first = max(0, min(at - rows // 2, len(choices) - rows))
    lines: list[Line] = []
    for number in range(first, first + rows):
        mark, ink = (ARROW, "bold") if number == at else (" ", "plain")
        text = f" {mark}{number + 1:>2} {printable(choices[number], 70)}"
        lines.append(((text[:width], ink),))  # type: ignore[arg-type]
    return lines
