"""Allan deviation: how much averages over a time differ from one to the next.

It falls with averaging time while noise is white, levels off at the sensor's floor, and rises
again where it drifts: the longest average worth taking is where it is lowest.
"""

from collections.abc import Sequence
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]

LEAST_AVERAGES = 4
"""An averaging time is left out when fewer such stretches fit in the record."""
TIMES_PER_OCTAVE = 2


def allan_deviation(
    values: Sequence[float] | Floats, rate_hz: float, times_s: Sequence[float] | None = None
) -> tuple[Floats, Floats]:
    """Give averaging times [s] and the overlapping Allan deviation at each, in the values' unit.

    ``values`` (n,) come evenly ``rate_hz`` times a second. Times default to half octaves and are
    rounded to whole samples (D. W. Allan, "Statistics of atomic frequency standards", Proc. IEEE
    54, 1966; W. J. Riley, NIST Special Publication 1065, section 5.2.4). ValueError for a record
    too short for any.
    """
    record = np.asarray(values, dtype=np.float64)
    longest = len(record) // LEAST_AVERAGES
    if longest < 1:
        raise ValueError(f"{len(record)} values are too few: at least {LEAST_AVERAGES} are needed")
    if times_s is None:
        octaves = np.arange(0.0, np.log2(longest) + 1e-9, 1.0 / TIMES_PER_OCTAVE)
        lengths = np.unique(np.round(2.0**octaves).astype(int))
    else:
        wanted = np.unique(np.round(np.asarray(times_s) * rate_hz).astype(int))
        lengths = wanted[(wanted >= 1) & (wanted <= longest)]
    sums = np.concatenate([[0.0], np.cumsum(record - record.mean())])
    found = []
    for m in lengths:
        twice = sums[2 * m :] - 2.0 * sums[m:-m] + sums[: -2 * m]
        found.append(np.sqrt(np.mean(twice**2) / 2.0) / m)
    return lengths / rate_hz, np.array(found)
