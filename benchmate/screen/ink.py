"""What text and lamps are painted with: meanings by name, and the colours that stand for them.

Meanings follow IEC 60073 as far as a screen can: red for past tolerance and stop, yellow for what
wants attention, blue for what the person must do, green for in tolerance, white for nothing
special. No meaning rests on colour alone. On a console with named colours only, the terminal's own
eight are used, bold and reversed.
"""

from typing import Literal, TypeAlias

from rich.style import Style

from benchmate.stream import Cue

Ink = Literal["plain", "dim", "bold", "good", "bad", "act", "attend", "mark", "key"]
Line: TypeAlias = tuple[tuple[str, Ink], ...]
"""One line of text in pieces, each with its ink."""

BACKGROUND = "#0f1214"
_TRUE: dict[Ink, Style] = {
    "plain": Style(color="#d7dadb"),
    "dim": Style(color="#8b9498"),
    "bold": Style(color="#f4f4ee", bold=True),
    "good": Style(color="#36c493", bold=True),
    "bad": Style(color="#ff5a3c", bold=True),
    "act": Style(color="#6cb6f5", bold=True),
    "attend": Style(color="#f2c230", bold=True),
    "mark": Style(color="#f2c230", bold=True, reverse=True),
    "key": Style(color="#f4f4ee", bold=True, underline=True),
}
_NAMED: dict[Ink, Style] = {
    "plain": Style(),
    "dim": Style(),
    "bold": Style(bold=True),
    "good": Style(color="green", bold=True),
    "bad": Style(color="red", bold=True),
    "act": Style(color="cyan", bold=True),
    "attend": Style(color="yellow", bold=True),
    "mark": Style(color="yellow", bold=True, reverse=True),
    "key": Style(bold=True, underline=True),
}
_TRUE_CUES: dict[Cue, str] = {
    "wait": "#9aa3a7",
    "pump": "#f4f4ee",
    "slow": "#f2c230",
    "stop": "#ff5a3c",
    "release": "#6cb6f5",
    "over": "#ff2d16",
}
_NAMED_CUES: dict[Cue, str] = {
    "wait": "white",
    "pump": "white",
    "slow": "yellow",
    "stop": "red",
    "release": "cyan",
    "over": "red",
}


def style_of(ink: Ink, *, named: bool) -> Style:
    """Give the style of an ink, in named colours or in any."""
    return (_NAMED if named else _TRUE)[ink]


def lamp_of(cue: Cue, *, named: bool, filled: bool = True) -> Style:
    """Give the style of a cue's cells: filled ones reversed, to show without colour too."""
    colour = (_NAMED_CUES if named else _TRUE_CUES)[cue]
    return Style(color=colour, reverse=filled, bold=named or not filled)
