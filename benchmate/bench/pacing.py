"""How often live readings are told: thirty times a second, and at once when something changes."""

from benchmate.stream import Cue, Phase

READING_EVERY_S = 1.0 / 30.0
GRACE_S = 0.0005
"""The clock's grain must not cost a reading."""


class Pace:
    """What was told last."""

    def __init__(self) -> None:
        self._told: tuple[float, Phase, Cue] | None = None

    def due(self, t: float, phase: Phase, cue: Cue) -> bool:
        """Say whether this reading is to be told; if so, it counts as told."""
        if self._told is not None:
            last, *before = self._told
            if t - last < READING_EVERY_S - GRACE_S and before == [phase, cue]:
                return False
        self._told = (t, phase, cue)
        return True

    def forget(self) -> None:
        """Let the next one be told at once."""
        self._told = None
