"""What springback is learned from and what it answers with, as frozen values."""

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal, NamedTuple

from benchmate.shop.parts import Bench, Die, Tube

VerdictWord = Literal["accept", "again", "over", "measure"]

MOST_DEG = 720.0
"""No arm turns further, nor does any tube."""


class Hit(NamedTuple):
    """One press and release, in degrees of arm angle since zero.

    ``rest`` is None when the arm retracts by itself; ``measured`` is the tube's bend angle by a
    protractor, None until a person measured it. A plain ``(peak, rest, measured)`` does as well.
    """

    peak: float
    rest: float | None
    measured: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """One bend as it was made: the setup, the angle wanted, every hit in order."""

    die: Die
    tube: Tube
    lot: str
    bend_angle: float
    hits: tuple[tuple[float, float | None, float | None], ...]
    stop_angles: tuple[float, ...] = ()
    """The stop angle of each hit where known: the operator's stopping error is peak less this."""
    how_measured: tuple[str | None, ...] = ()
    """What each hit's ``measured`` was read with where known: "protractor", "digital level"."""
    bench: Bench | None = None
    """The bench that made it; None: the model's own."""
    arm_sd: float | None = None
    """Standard deviation of its peaks and rests, from the sensor; None: the usual."""
    name: str = ""
    """What the log calls it: an outlier is told by it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Aim:
    """What to do next with this piece, and how sure that is. Degrees."""

    verdict: VerdictWord
    """"again" also before the first hit: press to ``stop_angle``."""
    stop_angle: float
    """Arm angle to stop at in the next hit (kept at what it would be when none is wanted)."""
    sd: float
    """Of the bend angle that the stop angle will give; after a hit, of ``bend_angle``."""
    bend_angle: float
    """Best estimate of the tube's bend angle now; before any hit 0."""
    stop_sd: float
    """Standard deviation of the bend angle that the next hit to ``stop_angle`` would give."""
    over_angle: float
    """Arm angle past which the bend is more likely over tolerance than not."""
    expected: float = 0.0
    """The bend angle that stopping at ``stop_angle`` will give, best estimate; +- ``stop_sd``."""
    worth: float = 0.0
    """By how much a protractor reading now would shrink ``sd``; 0 when it wouldn't pay."""
    advice: str = ""
    """One plain sentence when there is something to know before going on."""


def readable(hit: Iterable[float | None]) -> bool:
    """Say whether an arm and a tube can have had the readings: peak first, None where none is."""
    peak, *others = hit
    told = (peak, *(each for each in others if each is not None))
    return all(each is not None and math.isfinite(each) and abs(each) <= MOST_DEG for each in told)
