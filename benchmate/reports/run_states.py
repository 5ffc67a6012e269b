"""How far a run came, bend by bend, from the kinds of its inputs alone. Pure.

The bench's own fold over them (``bench.session``) gives all of a run and takes the springback model
for it; for a list of many runs this is enough. A test holds the two together.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import Literal

BendState = Literal["to do", "open", "done", "skipped"]
_PLACED = frozenset({"measured", "turned", "marked", "taped"})


@dataclass(frozen=True, slots=True)
class _At:
    """Where a run stands; ``before`` is what an undo goes back to."""

    bend: int
    hits: int = 0
    judged: bool = False
    """A verdict stands: a second rest is the same hit, told better."""
    broken: bool = False
    """The last hit was broken off: it is judged when the run is taken up again."""
    pressing: bool = False
    """The tube was being bent when this was kept."""
    zeroed: bool = False
    """The step before was this bend's zero: taken again, it is none more."""
    gone: tuple[tuple[int, BendState], ...] = ()
    before: "_At | None" = None

    def step(self, **to: object) -> "_At":
        """Give where it stands after a step that can be taken back."""
        return replace(self, **{"zeroed": False, "broken": False, "before": self, **to})  # type: ignore[arg-type]

    def on(self, state: BendState) -> "_At":
        """Give where it stands on the next bend."""
        gone = (*self.gone, (self.bend, state))
        return self.step(bend=self.bend + 1, hits=0, judged=False, pressing=False, gone=gone)


def bend_states(first_bend: int, bends: int, kinds: Iterable[str]) -> tuple[BendState, ...]:
    """Give the state of each of a part's bends, after inputs of these kinds.

    Bends before the first one of the run were not made in it: skipped.
    """
    at = _At(first_bend)
    for kind in kinds:
        at = _after(at, kind)
    states: dict[int, BendState] = dict.fromkeys(range(1, first_bend), "skipped")
    states |= dict(at.gone)
    if at.hits or at.pressing:
        states[at.bend] = "open"
    return tuple(states.get(number, "to do") for number in range(1, bends + 1))


def _after(at: _At, kind: str) -> _At:  # noqa: PLR0911, PLR0912 - one answer a kind
    match kind:
        case "zero" if not at.hits and not at.zeroed:
            return at.step(zeroed=True)
        case "begun":
            return replace(at, pressing=True)
        case "nothing":
            return replace(at, pressing=False)
        case "hit" if at.judged:
            return replace(at, pressing=False)
        case "hit":
            return at.step(hits=at.hits + 1, judged=True, pressing=False)
        case "broken":
            return at.step(hits=at.hits + 1, judged=False, pressing=False, broken=True)
        case "resumed" if at.pressing:
            return at.step(hits=at.hits + 1, judged=True, pressing=False)
        case "resumed" if at.broken:
            return replace(at, judged=True)
        case "again":
            return at.step(judged=False)
        case "next":
            return at.on("done")
        case "skip":
            return _as_it_came_out(at).on("done" if at.hits else "skipped")
        case "undo" if at.before is not None:
            return replace(at.before, pressing=False)
        case kind if kind in _PLACED:
            return at.step()
    return at


def _as_it_came_out(at: _At) -> _At:
    """Give where it stood before one more hit was asked for and not made."""
    asked = at.hits > 0 and not at.judged
    return at.before if asked and at.before is not None and at.before.judged else at
