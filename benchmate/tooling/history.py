"""A die with all that is known of it: what it bent, what was done to it, its drift."""

from dataclasses import dataclass
from typing import Any

from benchmate.shop.parts import Bench, Die
from benchmate.springback import Bend, Knowledge
from benchmate.tooling.proven import LoadCarried
from benchmate.tooling.series import Changed
from benchmate.tooling.trials import Trial


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One thing that a person did to a die, or found on it."""

    what: str
    """inspect, repair or retire."""
    after_place: int
    """The newest bend of the store when it was done (``seq``); 0: none."""
    wall_s: float
    clock_synchronised: bool
    told: dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class History:
    """A die with all that the store holds of it on this bench."""

    die: Die
    bench: Bench
    bends: tuple[Bend, ...]
    """Oldest first, named by their place in the store."""
    when: dict[int, float]
    """Wall time of each, by place."""
    carried: tuple[LoadCarried, ...]
    """Since it was last made anew."""
    before: tuple[LoadCarried, ...]
    """What it carried before that: it proves nothing of the die as it is."""
    events: tuple[Event, ...]
    trials: tuple[Trial, ...]
    """Oldest first."""
    changed: Changed | None
    knowledge: Knowledge

    @property
    def retired(self) -> bool:
        """Say whether it was taken out of use, and not repaired since."""
        done = [each.what for each in self.events if each.what != "inspect"]
        return bool(done) and done[-1] == "retire"

    @property
    def cracks(self) -> str:
        """Say what cracks the last inspection since the last repair found; empty: none."""
        cracks = ""
        for each in self.events:
            cracks = str(each.told.get("cracks", "")) if each.what != "retire" else cracks
        return cracks
