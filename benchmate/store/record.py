"""A logged bend as the store keeps it: one frozen value, one row."""

from dataclasses import dataclass, field
from typing import Any, Literal

HowMeasured = Literal["protractor", "digital level", "sensor"]


@dataclass(frozen=True, slots=True, kw_only=True)
class HitRecord:
    """One press and release. Degrees of arm angle since zero."""

    stop_angle: float
    stop_sd: float
    peak: float
    rest: float | None
    """None when the arm retracts by itself, or the hit was broken by a fault."""
    measured: float | None = None
    """The tube's bend angle when a person measured it after this hit."""
    how_measured: HowMeasured | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class BendRecord:
    """One bend with everything that a later reader needs to understand it without the shop files."""

    bend_id: str
    """The bend's own universally unique id; every correction of it carries the same."""
    job: str
    bend: int
    die: str
    tube: str
    lot: str
    bend_angle: float
    tolerance: float
    hits: tuple[HitRecord, ...]
    verdict: Literal["accept", "again", "over", "measure"]
    setup: dict[str, Any]
    """The setup as it was: {"bench": ..., "die": ..., "tube": ...}, each a shop struct as plain data."""
    sensor: dict[str, Any] = field(default_factory=dict)
    """Chip, address, rate, mount and estimator facts."""
    faults: tuple[str, ...] = ()
    """What went wrong during the bend; a bend with any never teaches."""
    withdrawn: bool = False
    """Taken back by the person: stays in the log, counts for nothing."""
    simulated: bool = False
    """A rehearsal: never teaches a real setup."""
    note: str = ""
    trace: bytes = b""
    """What the tracker saw (``benchmate.bench.trace``), packed; replays to the same events."""
