"""From what the sampler tells to what a session takes: readings where there were samples."""

from typing import Protocol, TypeVar

from benchmate.bench.inputs import Back, Lost
from benchmate.bench.sampler import Told
from benchmate.sensing.sample import Sample

Gives = TypeVar("Gives")
Gives_co = TypeVar("Gives_co", covariant=True)


class Estimator(Protocol[Gives_co]):
    """What makes the session's input of good samples."""

    def step(self, sample: Sample) -> Gives_co:
        """Take one sample."""
        ...

    def reset(self) -> None:
        """Start anew after a gap, keeping the turns counted."""
        ...


def estimated(estimator: Estimator[Gives], told: Told) -> Gives | Lost | Back:
    """Give the session's input; what was good before a fault ended has been looked at by then."""
    if isinstance(told, Sample):
        return estimator.step(told)
    estimator.reset()
    if isinstance(told, Back):
        for sample in told.since:
            estimator.step(sample)
    return told
