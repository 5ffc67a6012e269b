"""What the live loop is told, in order: readings, what was asked, faults, what became durable."""

from typing import Literal, NamedTuple, TypeAlias

from benchmate.sensing.sample import ArmEstimate, FaultKind, Sample
from benchmate.stream import Command


class Lost(NamedTuple):
    """From here on the arm is not known."""

    t: float
    what: FaultKind
    detail: str


class Back(NamedTuple):
    """The arm is known again after good, plausible samples."""

    t: float
    since: tuple[Sample, ...] = ()
    """Those samples: an estimator that has seen them starts from more than one."""


class Asked(NamedTuple):
    """A person or program asked for something."""

    t: float
    command: Command


class Durable(NamedTuple):
    """The store has committed the oldest row sent to it, or why it could not."""

    t: float
    failure: str = ""
    for_good: bool = False
    """To send the row again is of no use: what is in it can't be kept."""


class Closed(NamedTuple):
    """Nobody will ask for anything more: standard input ended."""

    t: float


class Advised(NamedTuple):
    """Something wants looking after that doesn't spoil the angle; empty: it is over."""

    t: float
    advice: str
    about: Literal["supply", "store copy"] = "supply"
    """A low supply is noted with the bend; a copy that can't be made is told and no more."""


class Wrong(NamedTuple):
    """A line came that is no command."""

    t: float
    detail: str


class Tick(NamedTuple):
    """Time has passed. Told while the arm is not known, when no reading tells the time."""

    t: float


Notice: TypeAlias = Lost | Back | Asked | Durable | Closed | Wrong | Tick | Advised
Input: TypeAlias = ArmEstimate | Notice


def on_grid(reading: ArmEstimate) -> ArmEstimate:
    """Round a reading to the grid that a trace keeps, so that a replay sees the very same numbers.

    Time to 1 us, angle and its deviation to 0.0001 deg, rate to 0.001 deg/s: each far under what
    any chip here can tell.
    """
    t, arm, rate, sd, noise = reading
    return ArmEstimate(round(t, 6), round(arm, 4), round(rate, 3), round(sd, 4), round(noise, 4))
