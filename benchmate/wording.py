"""The way of text from files, store and exceptions to a terminal."""

import difflib
import unicodedata
from collections.abc import Iterable

_HIDDEN = {"Cc", "Cf", "Cs", "Zl", "Zp"}
"""Unicode categories: controls (C0, C1, DEL), formats (bidi among them), surrogates, separators."""


def printable(text: str, limit: int = 120) -> str:
    """Show text on one line with everything that could steer a terminal as escapes.

    C0 and C1 controls, DEL, bidi and other invisible format characters, line and paragraph
    separators and lone surrogates come out as ``\\x1b`` or ``\\u202e``; longer than ``limit``
    characters, it ends in "...".
    """
    shown = "".join(_shown(letter) for letter in text[: limit + 1])
    return shown if len(shown) <= limit else shown[: max(limit - 3, 0)] + "..."


def is_printable(text: str) -> bool:
    """Say whether ``printable`` would show it as it is, length aside."""
    return all(unicodedata.category(letter) not in _HIDDEN for letter in text)


def nearest(word: str, known: Iterable[str]) -> str | None:
    """Give the known word that is spelt most like this one, None when none is near."""
    by_small = {each.casefold(): each for each in known}
    close = difflib.get_close_matches(word.casefold(), by_small, n=1)
    return by_small[close[0]] if close else None


def _shown(letter: str) -> str:
    if unicodedata.category(letter) not in _HIDDEN:
        return letter
    return letter.encode("unicode_escape").decode("ascii")
