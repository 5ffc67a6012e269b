"""One reading over and over: what a live chip's noise can't do is no sample, and soon a fault.

A chip that stopped measuring may go on saying that data is ready. Its last rate, taken in again
and again, would turn the arm on; so a repeat is withheld from the first that noise doesn't make.
"""

from collections.abc import Callable

from benchmate.sensing.chip import ChipFacts
from benchmate.sensing.sample import Sample, SensorFault

FROZEN_S = 0.08
"""A repeat for so long is told; less than it takes to miss samples altogether."""


class Repeats:
    """Passes one chip's fresh samples on.

    ``verify`` is asked before a chip is called frozen: settings that went tell the cause better.
    """

    def __init__(self, facts: ChipFacts, verify: Callable[[], None]) -> None:
        self._facts = facts
        self._verify = verify
        self._allowed = facts.repeats_possible()
        self._raw: tuple[int, ...] = ()
        self._same = 0
        self._since = 0.0

    def fresh(self, sample: Sample) -> Sample | None:
        """Give the sample, None when it repeats; SensorFault once the chip is frozen."""
        if sample.raw != self._raw:
            self._raw, self._same, self._since = sample.raw, 0, sample.t
        self._same += 1
        if self._allowed is None or self._same < self._allowed:
            return sample
        if sample.t - self._since < FROZEN_S:
            return None
        self._verify()
        raise SensorFault(
            "sensor",
            f"{self._facts.kind} at 0x{self._facts.address:02x} repeats one reading: it is "
            "frozen; unplug it and plug it in again",
        )
