"""A logged bend as the store keeps it: one frozen value, one row."""

from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

SENSOR_SD = "peak_and_rest_sd_deg"
"""The sensor fact that says how far the bend's peaks and rests may stray, one deviation."""

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
    """One bend with all that a later reader needs to understand it without the shop files."""

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
    """The setup as it was: {"bench": ..., "die": ..., "tube": ...}, each a struct as plain data."""
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
    """What the tracker saw (``bench.motion.trace``), packed; replays to the same events."""


class Receipt(NamedTuple):
    """The receipt of a durable row."""

    bend_id: str
    row_id: str
    seq: int
    """The row's number in this store."""


class Stamp(NamedTuple):
    """Where and when a row was first written; it goes along when stores are merged."""

    row_id: str
    """The row's own universally unique id."""
    origin: str
    """The id of the store that wrote it first."""
    origin_seq: int
    """Its number in that store."""
    layout: int
    """The store's layout at the time."""
    wall_s: float
    """Seconds since 1970 by the wall clock, right only if ``clock_synchronised``."""
    clock_synchronised: bool
    boot_id: str
    """The running of the machine that ``monotonic_s`` counts in."""
    monotonic_s: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedBend:
    """One version of a bend as it lies in a store."""

    record: BendRecord
    seq: int
    """The bend's place in this store: the row number of its first version."""
    row_seq: int
    """This version's own row number in this store."""
    version: int
    """1 as first logged, one more with each correction."""
    corrects: str | None
    """The row id of the version that this one replaces."""
    bench: str
    stamp: Stamp

    @property
    def row_id(self) -> str:
        """Give this version's universally unique id."""
        return self.stamp.row_id

    @property
    def wall_s(self) -> float:
        """Give the wall clock [s since 1970] at which this version was written."""
        return self.stamp.wall_s

    @property
    def clock_synchronised(self) -> bool:
        """Say whether the wall clock was synchronised then."""
        return self.stamp.clock_synchronised
