"""Whether there is a terminal that a screen can be drawn on."""

import sys
from collections.abc import Mapping
from typing import Protocol

NO_SCREENS = ("", "dumb", "unknown")
BARE_CONSOLES = ("linux", "vt100", "vt220", "ansi")


class MaybeTerminal(Protocol):
    """A standard stream."""

    @property
    def encoding(self) -> str | None:
        """The name of its encoding; None: it has none."""
        ...

    def isatty(self) -> bool:
        """Whether it is a terminal."""
        ...


def on_a_terminal(lines: MaybeTerminal, out: MaybeTerminal, environment: Mapping[str, str]) -> bool:
    """Say whether to draw: on a terminal that knows screens. One that doesn't is told so."""
    if environment.get("TEXTUAL_DRIVER"):
        # Not a terminal at all: a browser, say, behind Textual's own line to it.
        return True
    if not (lines.isatty() and out.isatty()):
        return False
    kind = environment.get("TERM", "")
    if kind in NO_SCREENS and sys.platform != "win32":
        sys.stderr.write(
            f"benchmate: this terminal (TERM={kind or 'not set'}) can't draw a screen; "
            "it goes on as text\n"
        )
        return False
    return True


def shows_braille(out: MaybeTerminal, environment: Mapping[str, str]) -> bool:
    """Say whether braille dots can be drawn there: the fonts of a bare console have none."""
    bare = environment.get("TERM", "") in BARE_CONSOLES and out.isatty()
    return "utf" in (out.encoding or "").lower() and not bare
