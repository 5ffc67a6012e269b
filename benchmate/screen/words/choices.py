"""What a bend asks the person to choose between: what Enter does, and what else can be done."""

from typing import NamedTuple

from benchmate.screen.state.bench_state import BenchState
from benchmate.screen.words.ink import Ink, Line
from benchmate.screen.words.sentences import due


class Choice(NamedTuple):
    """One of the things that may be done now."""

    command: str
    """For the bench, or what stands in its place, as in ``Due``."""
    words: str


_NEW = Choice("new", "new part")
_KEEP = Choice("skip", "keep it as it is")
_UNMEASURED = Choice("next", "go on unmeasured")
_AGAIN = Choice("again", "press again")


def choices(state: BenchState) -> tuple[Choice, ...]:
    """Give what can be chosen between, what Enter does first; empty where there is no question."""
    if state.link != "up" or state.following or state.done:
        return ()
    first = due(state)
    if not first.command:
        return ()
    others: tuple[Choice, ...] = ()
    if state.unfinished is not None:
        others = (_NEW,)
    elif state.verdict is not None and not state.reseats:
        match state.verdict.say:
            case "again":
                others = (_KEEP,)
            case "measure":
                others = (_UNMEASURED, _AGAIN)
            case "accept":
                others = (_AGAIN,)
            case _:
                pass
    return (Choice(first.command, first.words), *others) if others else ()


def choice_line(offered: tuple[str, ...], at: int, width: int) -> Line:
    """Give the choices in a row, the marked one in brackets; words are cut where none fit."""
    room = max((width - 4 * len(offered)) // max(len(offered), 1), 4)
    whole = sum(len(words) + 4 for words in offered) <= width
    pieces: list[tuple[str, Ink]] = []
    for place, words in enumerate(offered):
        shown = words if whole else words[:room].rstrip()
        marked = place == at
        pieces += [
            (" ", "plain"),
            (f"[{shown}]" if marked else f" {shown} ", "mark" if marked else "plain"),
        ]
    return tuple(pieces)
