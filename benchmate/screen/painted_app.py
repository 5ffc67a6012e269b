"""The look that all screen programs share: themes by day and night, and the names of keys."""

import os

from textual.app import App, ReturnType
from textual.binding import Binding
from textual.theme import Theme

from benchmate.screen.instrument.palette import DAY, NAMED, NIGHT, NO_COLOUR, Palette
from benchmate.screen.remembered import Remembered

KEY_NAMES = {"enter": "Enter", "question_mark": "?", "space": "Space", "escape": "Esc"}


def _theme(name: str, palette: Palette, *, dark: bool) -> Theme:
    colours = {ink: style.color.name for ink, style in palette.styles.items() if style.color}
    return Theme(
        name=name,
        primary=colours["act"],
        warning=colours["attend"],
        error=colours["bad"],
        success=colours["good"],
        foreground=colours["plain"],
        background=palette.background,
        surface=palette.background,
        panel=palette.background,
        dark=dark,
    )


PALETTES: dict[str, Palette] = {"bench-night": NIGHT, "bench-day": DAY, "bench-bare": NO_COLOUR}
THEMES = tuple(
    _theme(name, palette, dark=name != "bench-day") for name, palette in PALETTES.items()
)
SWITCHED = {"bench-night": "bench-day", "bench-day": "bench-night"}


class PaintedApp(App[ReturnType]):
    """A screen program in our colours."""

    ENABLE_COMMAND_PALETTE = False

    def __init__(self, remembered: Remembered | None = None) -> None:
        # Textual takes NO_COLOR out of the environment once it has read it.
        bare = "NO_COLOR" in os.environ
        super().__init__()
        self.title = "benchmate"
        self._remembered = remembered or Remembered(None)
        for theme in THEMES:
            self.register_theme(theme)
        self.theme = theme_for(os.environ, self._remembered.get("theme"), no_colour=bare)

    @property
    def palette(self) -> Palette:
        """The palette that the hand-drawn parts are painted from."""
        return PALETTES.get(self.theme, NAMED if self.native_ansi_color else NIGHT)

    def action_theme(self) -> None:
        """Change between day and night colours, and remember it."""
        other = SWITCHED.get(self.theme)
        if other is None:
            self.bell()
            return
        self.theme = other
        self._remembered.put("theme", other)
        self.screen.refresh(layout=True)

    def get_key_display(self, binding: Binding) -> str:
        """Give a key's name in letters that every console's font has."""
        return KEY_NAMES.get(binding.key) or super().get_key_display(binding)


def theme_for(
    environment: "os._Environ[str] | dict[str, str]",
    remembered: str | None = None,
    *,
    no_colour: bool = False,
) -> str:
    """Give the theme's name: the terminal's own colours on a bare console, else ours.

    ``remembered`` is the one that the person switched to.
    """
    if no_colour:
        return "bench-bare"
    if asked := environment.get("TEXTUAL_THEME"):
        return asked
    if environment.get("TERM", "") in {"linux", "vt100", "vt220", "ansi", "xterm-mono"}:
        return "ansi-dark"
    return remembered if remembered in SWITCHED else "bench-night"
