"""Start offset and radius as trial pieces showed them day by day, and whether the offset moved."""

import math
from collections.abc import Sequence
from typing import NamedTuple

SURELY = 3.0
"""Standard deviations of a difference past which the start of bend has moved."""
LEAST_MM = 0.1
"""No tape tells less."""


class Trial(NamedTuple):
    """What all pieces of one tube on the die had shown by a day."""

    wall_s: float
    tube: str
    start_offset_mm: float
    start_offset_u_mm: float
    free_radius_mm: float
    free_radius_u_mm: float


class Moved(NamedTuple):
    """A start offset that isn't where it was."""

    since: Trial
    """The last trial before it moved."""
    by_mm: float
    sd_mm: float


def moved(trials: Sequence[Trial]) -> Moved | None:
    """Say whether the start offset moved between two trials of one tube; None: it didn't.

    Each trial holds the pieces of those before as well, so the later figure is the better one of
    two that share data, and their difference has the variance u1^2 - u2^2 (J. A. Hausman,
    "Specification tests in econometrics", Econometrica 46 (1978) 1251). The latest move counts.
    """
    found = None
    latest: dict[str, Trial] = {}
    for trial in trials:
        before = latest.get(trial.tube)
        latest[trial.tube] = trial
        if before is None:
            continue
        by = trial.start_offset_mm - before.start_offset_mm
        own = max(before.start_offset_u_mm**2 - trial.start_offset_u_mm**2, LEAST_MM**2)
        if abs(by) > SURELY * math.sqrt(own):
            found = Moved(before, by, math.sqrt(own))
    return found
