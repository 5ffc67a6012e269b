"""The bottom line of every screen: what Enter does, then the other keys as far as they fit."""

from collections.abc import Iterable

from benchmate.screen.ink import Ink, Line


def key_line(first: str, ink: Ink, keys: Iterable[tuple[str, str]], width: int) -> Line:
    """Give the line: ``first`` in its ink, then (key, what it does) pairs, the most wanted first.

    A key that doesn't fit is left out whole, and those after it.
    """
    pieces: list[tuple[str, Ink]] = [(f" {first} ", ink)]
    used = len(first) + 2
    for key, word in keys:
        used += len(key) + len(word) + 3
        if used > width:
            break
        pieces += [("  ", "plain"), (key, "key"), (f" {word}", "dim")]
    return tuple(pieces)
