"""The end of a session: when it was asked for, and how long a hit in progress may still take."""

FINISH_S = 20.0
"""So long a hit in progress may still take once nobody asks any more,"""
LOST_S = 5.0
"""and so long while the arm isn't known."""


class Ending:
    """Whether the end was asked for, and since when, by the clock of what comes in [s]."""

    def __init__(self) -> None:
        self.asked = False
        self.tried_store = False
        """What the store refused was sent once more."""
        self._since: float | None = None

    def too_late(self, t: float, blind_since: float | None) -> bool:
        """Say whether a hit in progress has had its time; ``blind_since``: the arm isn't known."""
        if self._since is None:
            self._since = t
        until = self._since + FINISH_S
        if blind_since is not None:
            until = min(until, max(self._since, blind_since) + LOST_S)
        return t >= until
