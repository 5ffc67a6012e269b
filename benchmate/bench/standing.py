"""The faults that stand, and those that a hit has had."""

from benchmate import stream
from benchmate.bench.inputs import Lost


class Faults:
    """What is not to be trusted now. What is to be said of a change is given back as events."""

    def __init__(self) -> None:
        self.of_hit: tuple[str, ...] = ()
        """All that went wrong in the hit at hand."""
        self.blind_since = 0.0
        """When the arm was last lost [s]."""
        self._standing: dict[stream.FaultWhat, str] = {}

    @property
    def blind(self) -> bool:
        """Say whether the arm is not known."""
        return any(what in self._standing for what in ("sensor", "bus", "alignment"))

    @property
    def unkept(self) -> bool:
        """Say whether the store doesn't keep what is sent to it."""
        return "store" in self._standing

    @property
    def details(self) -> tuple[str, ...]:
        """Give cause and cure of each that stands."""
        return tuple(self._standing.values())

    def lose(self, lost: Lost, *, in_hit: bool) -> list[stream.Event]:
        """Take in that the arm is lost, or lost for one more reason."""
        if not self.blind:
            self.blind_since = lost.t
        if in_hit:
            self.note(f"{lost.what}: {lost.detail}")
        return self.stand(lost.what, lost.detail)

    def find(self) -> list[stream.Event]:
        """Take in that the arm is known again."""
        over = [what for what in self._standing if what != "store"]
        return [event for what in over for event in self.clear(what)]

    def note(self, fault: str) -> None:
        """Mark the hit at hand; the same mark twice says no more."""
        if fault not in self.of_hit:
            self.of_hit = (*self.of_hit, fault)

    def stand(self, what: stream.FaultWhat, detail: str) -> list[stream.Event]:
        """Let a fault stand."""
        news = self._standing.get(what) != detail
        self._standing[what] = detail
        return [stream.Fault(what=what, detail=detail)] if news else []

    def clear(self, what: stream.FaultWhat) -> list[stream.Event]:
        """Let it stand no longer."""
        return [] if self._standing.pop(what, None) is None else [stream.Cleared(what=what)]
