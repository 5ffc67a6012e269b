"""Which keys can be used now, and the sentence for one that can't, in the words of the keys."""

import re
from typing import Literal

from benchmate.screen.state.bench_state import BenchState

Key = Literal["a", "b", "k", "m", "n", "p", "r", "s", "t", "u", "X"]

_KEY_OF: dict[str, str] = {
    "zero": "Enter",
    "go_on": "Enter",
    "new": "n",
    "next": "Enter",
    "again": "a",
    "measured": "m",
    "turned": "t",
    "marked": "k",
    "bite": "b",
    "skip": "s",
    "undo": "u",
    "scrap": "X",
    "pump": "p",
    "release": "r",
}
_AFTER_A_HIT: tuple[Key, ...] = ("a", "k", "m", "n", "t")


def why_not(state: BenchState, key: Key) -> str:  # noqa: PLR0911 - one a reason
    """Say why this key does nothing now; "" when it does what it says."""
    if state.following:
        return f"{key} does nothing here: you are looking on."
    if state.link != "up" or state.target is None or state.done:
        return f"{key} does nothing now: {_nobody_hears(state)}."
    if key in _AFTER_A_HIT:
        return _after_a_hit(state, key)
    if key in {"p", "r"}:
        return _at_the_pump(state, key)
    if key == "b":
        return _bite(state)
    if state.unfinished is not None:
        return f"{key} does nothing now: go on (Enter) or begin a new part (n) first."
    if state.mid_hit:
        return f"{key} is for between hits: release first."
    return ""


def in_keys(detail: str) -> str:
    """Say with the screen's keys what the bench says with its commands' words."""
    return re.sub(r"'(\w+)( -?[\d.]+!?)?'", _key_for, detail)


def _key_for(found: re.Match[str]) -> str:
    if (found[2] or "").endswith("!"):
        return "y"
    key = _KEY_OF.get(found[1])
    return found[0] if key is None else f"{key}{found[2] or ''}"


def _nobody_hears(state: BenchState) -> str:
    if state.done:
        return "all bends are done"
    return "this is ending" if state.link == "leaving" else "the bench is not there yet"


def _after_a_hit(state: BenchState, key: Key) -> str:
    if state.verdict is None:
        return f"{key} is for after a hit: {'release' if state.mid_hit else 'bend'} first."
    if key == "n" and state.verdict.say != "measure":
        return "n is for a bend that is to be measured; Enter goes on."
    if key in {"k", "t"} and state.target is not None and state.target.mark is None:
        return f"{key} is for a part: this bend has no mark."
    return ""


def _at_the_pump(state: BenchState, key: Key) -> str:
    if not state.rehearsal:
        return f"{key} is for a simulated pump; here you pump."
    return "" if state.by_hand else f"{key}: a simulated person pumps here."


def _bite(state: BenchState) -> str:
    if not state.bites:
        return "b is for a bender that takes bites (bench.yaml, arm)."
    if state.phase not in {"bending", "holding"}:
        return "b is for a loaded tube: pump first."
    return ""
