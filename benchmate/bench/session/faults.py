"""The faults that stand, and those that a hit has had. Pure."""

from dataclasses import dataclass, replace

from benchmate import stream
from benchmate.bench.inputs import Lost


@dataclass(frozen=True, slots=True)
class Faults:
    """What is not to be trusted now."""

    standing: tuple[tuple[stream.FaultWhat, str], ...] = ()
    """Each kind that stands, with its cause and cure."""
    of_hit: tuple[str, ...] = ()
    """All that went wrong in the hit at hand."""
    blind_since: float = 0.0
    """When the arm was last lost [s]."""

    @property
    def blind(self) -> bool:
        """Say whether the arm is not known."""
        return any(what in ("sensor", "bus", "alignment") for what, _ in self.standing)

    @property
    def unkept(self) -> bool:
        """Say whether the store doesn't keep what is sent to it."""
        return any(what == "store" for what, _ in self.standing)

    @property
    def details(self) -> tuple[str, ...]:
        """Give cause and cure of each that stands."""
        return tuple(detail for _, detail in self.standing)


def lost(faults: Faults, given: Lost, *, in_hit: bool) -> tuple[Faults, tuple[stream.Event, ...]]:
    """Take in that the arm is lost, or lost for one more reason."""
    if not faults.blind:
        faults = replace(faults, blind_since=given.t)
    if in_hit:
        faults = noted(faults, f"{given.what}: {given.detail}")
    return stood(faults, given.what, given.detail)


def found(faults: Faults) -> tuple[Faults, tuple[stream.Event, ...]]:
    """Take in that the arm is known again."""
    over = [what for what, _ in faults.standing if what != "store"]
    kept = tuple(each for each in faults.standing if each[0] == "store")
    return replace(faults, standing=kept), tuple(stream.Cleared(what=what) for what in over)


def noted(faults: Faults, fault: str) -> Faults:
    """Mark the hit at hand; the same mark twice says no more."""
    if fault in faults.of_hit:
        return faults
    return replace(faults, of_hit=(*faults.of_hit, fault))


def stood(
    faults: Faults, what: stream.FaultWhat, detail: str
) -> tuple[Faults, tuple[stream.Event, ...]]:
    """Let a fault stand; said when it is news."""
    if (what, detail) in faults.standing:
        return faults, ()
    others = dict(faults.standing) | {what: detail}
    return replace(faults, standing=tuple(others.items())), (
        stream.Fault(what=what, detail=detail),
    )


def cleared(faults: Faults, what: stream.FaultWhat) -> tuple[Faults, tuple[stream.Event, ...]]:
    """Let it stand no longer."""
    kept = tuple(each for each in faults.standing if each[0] != what)
    if kept == faults.standing:
        return faults, ()
    return replace(faults, standing=kept), (stream.Cleared(what=what),)
