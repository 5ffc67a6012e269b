"""The bottom line of every screen: what Enter does, then the other keys as far as they fit."""

from collections.abc import Iterable

from benchmate.screen.ink import Ink, Line

KeyWord = tuple[str, str]
"""A key and what it does; "" where the key must speak for itself."""
LAST: tuple[KeyWord, ...] = (("?", "help"), ("q", "quit"))
"""Always there: the help names every other key, and a way out is never hidden."""


def key_line(
    first: str,
    ink: Ink,
    keys: Iterable[KeyWord],
    width: int,
    *,
    last: tuple[KeyWord, ...] = (),
    short: str = "",
    must: tuple[KeyWord, ...] = (),
) -> Line:
    """Give the line: ``first`` in its ink, then keys, the most wanted first, then the ``last``.

    A key that doesn't fit is left out whole, and those after it. To keep the ``must`` and the
    ``last`` ones ``first`` gives way to ``short``, then the words of the last ones go.
    """
    bare = tuple((key, "") for key, _ in last)
    tries = [(words, ends) for ends in (last, bare) for words in (first, short or first)]
    said, ends = next(
        ((words, ends) for words, ends in tries if _used(words, (*must, *ends)) <= width),
        tries[-1],
    )
    pieces: list[tuple[str, Ink]] = [(f" {said} ", ink)]
    used = _used(said, (*must, *ends))
    shown = list(must)
    for key in keys:
        used += _room(key)
        if used > width:
            break
        shown.append(key)
    for name, word in (*shown, *ends):
        pieces += [("  ", "plain"), (name, "key")]
        pieces += [(f" {word}", "dim")] if word else []
    return tuple(pieces)


def _used(first: str, keys: tuple[KeyWord, ...]) -> int:
    return len(first) + 2 + sum(map(_room, keys))


def _room(key: KeyWord) -> int:
    return 2 + len(key[0]) + (1 + len(key[1]) if key[1] else 0)
