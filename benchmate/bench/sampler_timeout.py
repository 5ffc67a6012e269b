"""What silence of the sampler means: a chip being set up, a transfer that hangs, a known fault.

Pure: the time is told. The sampler's thread can't tell that it hangs. What it does on the bus can:
while transfers begin, somebody is at work, and a chip that settles rests no longer than 0.1 s
between two of them.
"""

from typing import Literal

HANGS_S = 0.25
"""Nothing heard for so long, and no transfer begun: one hangs."""
START_S = 1.5
"""So long the first transfer may take to begin: the bus has to be opened."""
TICK_S = 0.25
"""How often the time is told while no sample tells it."""


class SamplerTimeout:
    """How long the sampler has been silent, by a clock that others read [s]."""

    def __init__(self, now: float) -> None:
        self._since = self._ticked = now
        self._beats = 0
        self._begun = False
        self._known = False

    def heard(self, now: float, *, fault: bool) -> None:
        """Take in that the sampler told something; after a ``fault`` it need not be heard."""
        self._since, self._begun, self._known = now, True, fault

    def look(self, now: float, beats: int) -> Literal["hangs", "tick"] | None:
        """Say what it comes to now; ``beats`` counts the transfers begun. A hang is told once."""
        if beats != self._beats:
            self._beats, self._since, self._begun = beats, now, True
        if self._known:
            if now - self._ticked < TICK_S:
                return None
            self._ticked = now
            return "tick"
        if now - self._since <= (HANGS_S if self._begun else START_S):
            return None
        self._known, self._ticked = True, now
        return "hangs"
