"""One reading over and over: what a live chip's noise can't do is no sample, and soon a fault.

A chip that stopped measuring may go on saying that data is ready. Its last rate, taken in again
and again, would turn the arm on; so a repeat is withheld from the first that noise doesn't make.
"""

from collections.abc import Callable
from typing import Protocol

from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.sample import Sample, SensorFault

FROZEN_S = 0.08
"""A repeat for so long is told; less than it takes to miss samples altogether."""
ENOUGH_RETURNS = 100
ENOUGH_PLACES = 4
"""So often, in so many counts, an encoder was seen to go to and fro between two neighbours."""


class RepeatLimit(Protocol):
    """How many equal readings in a row a live chip may give."""

    def changed(self, before: tuple[int, ...], now: tuple[int, ...], lasted: int) -> None:
        """Take in another reading after so many equal ones."""
        ...

    def repeats(self) -> int | None:
        """Give how many are too many; None: nobody can say."""
        ...


class NoiseRepeatLimit:
    """By the data sheet's noise, which is several counts."""

    def __init__(self, facts: ChipFacts) -> None:
        self._repeats = facts.longest_noise_run()

    def changed(self, before: tuple[int, ...], now: tuple[int, ...], lasted: int) -> None:
        """Learn nothing."""

    def repeats(self) -> int | None:
        """Give how many noise allows once in 1e9."""
        return self._repeats


class DitherRepeatLimit:
    """By what this chip was seen to do: an encoder's noise is about half a count, or less.

    A chip that has gone to and fro between two neighbouring counts in several places is alive by
    its dither, and dead without it. Twice the longest run seen, and twenty more, is too many; a run
    that ends on the neighbouring count was no freeze, and counts as seen.
    """

    def __init__(self) -> None:
        self._last: tuple[int, ...] = ()
        self._returns = 0
        self._places: set[tuple[int, ...]] = set()
        self._longest = 0

    def changed(self, before: tuple[int, ...], now: tuple[int, ...], lasted: int) -> None:
        """Take in a run's end; what came before ``before`` tells whether the chip dithers."""
        if before and abs(before[0] - now[0]) == 1:
            self._longest = max(self._longest, lasted)
            if now == self._last and self._returns < ENOUGH_RETURNS:
                self._returns += 1
                self._places.add(now)
        self._last = before

    def repeats(self) -> int | None:
        """Give twice the longest run and more, once the dither is known."""
        if self._returns < ENOUGH_RETURNS or len(self._places) < ENOUGH_PLACES:
            return None
        return 2 * self._longest + 20


class StuckDetector:
    """Passes one chip's fresh samples on.

    ``verify`` is asked before a chip is called frozen: settings that went tell the cause better.
    """

    def __init__(self, facts: ChipFacts, verify: Callable[[], None]) -> None:
        self._facts = facts
        self._verify = verify
        self._allows: RepeatLimit = (
            DitherRepeatLimit() if facts.is_encoder else NoiseRepeatLimit(facts)
        )
        self._raw: tuple[int, ...] = ()
        self._same = 0
        self._since = 0.0

    def fresh(self, sample: Sample) -> Sample | None:
        """Give the sample, None when it repeats; SensorFault once the chip is frozen."""
        if sample.raw != self._raw:
            self._allows.changed(self._raw, sample.raw, self._same)
            self._raw, self._same, self._since = sample.raw, 0, sample.t
        self._same += 1
        allowed = self._allows.repeats()
        if allowed is None or self._same < allowed:
            return sample
        if sample.t - self._since < FROZEN_S:
            return None
        self._verify()
        raise SensorFault(
            "sensor",
            f"{self._facts.kind} at 0x{self._facts.address:02x} repeats one reading: it is "
            "frozen; unplug it and plug it in again",
        )
