"""What text, words and bars are painted with: the colours that stand for the meanings.

Meanings follow IEC 60073 as far as a screen can: red for danger, a fault, or past tolerance; yellow
for what wants attention; blue for what the person must do; green for in tolerance; white for
nothing special. No meaning rests on colour alone: docs/screen.md has the word, sign and place that
go with each. A console with named colours gets its own eight, bold and reversed; NO_COLOR none.
"""

from typing import NamedTuple

from rich.style import Style

from benchmate.screen.words.ink import Ink


class Palette(NamedTuple):
    """The styles of one theme."""

    background: str
    """A colour as "#rrggbb"; "" for the terminal's own."""
    styles: dict[Ink, Style]

    def of(self, ink: Ink, *, filled: bool = False) -> Style:
        """Give the style of an ink; ``filled`` cells are lit over their whole face."""
        style = self.styles[ink]
        return style + _REVERSED if filled and not style.reverse else style


_REVERSED = Style(reverse=True)


def _palette(
    background: str, plain: str, dim: str, bold: str, meanings: tuple[str, str, str, str]
) -> Palette:
    good, bad, act, attend = meanings
    return Palette(
        background,
        {
            "plain": Style(color=plain),
            "dim": Style(color=dim),
            "bold": Style(color=bold, bold=True),
            "good": Style(color=good, bold=True),
            "bad": Style(color=bad, bold=True),
            "act": Style(color=act, bold=True),
            "attend": Style(color=attend, bold=True),
            "mark": Style(color=attend, bold=True, reverse=True),
            "key": Style(color=bold, bold=True, underline=True),
        },
    )


NIGHT = _palette(
    "#0f1214", "#d7dadb", "#8b9498", "#f4f4ee", ("#35d27f", "#ff5a3c", "#5c9dff", "#f2d04a")
)
"""Light on dark, for a workshop's lamp."""
DAY = _palette(
    "#ffffff", "#16191b", "#4c5457", "#000000", ("#008f7a", "#b30000", "#1f4fe0", "#b07a00")
)
"""Dark on white, for a bench in the sun."""
NO_COLOUR = _palette("#000000", "#e4e4e4", "#b0b0b0", "#ffffff", ("#ffffff",) * 4)
"""Nothing but light: for NO_COLOR."""
NAMED = Palette(
    "",
    {
        "plain": Style(),
        "dim": Style(),
        "bold": Style(bold=True),
        "good": Style(color="green", bold=True),
        "bad": Style(color="red", bold=True),
        "act": Style(color="cyan", bold=True),
        "attend": Style(color="yellow", bold=True),
        "mark": Style(color="yellow", bold=True, reverse=True),
        "key": Style(bold=True, underline=True),
    },
)
"""The terminal's own colours, where it has eight."""
