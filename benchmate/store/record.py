"""What the store keeps, as frozen values: a bend, the run of a part, an input of a run."""

from dataclasses import dataclass, field
from typing import Any, Literal, NamedTuple

from benchmate.errors import Failure

SENSOR_SD = "peak_and_rest_sd_deg"
"""The sensor fact that says how far the bend's peaks and rests may stray, one deviation."""

FINISHED, DROPPED = "finished", "dropped"
"""Kinds of input that end a run."""
BENT = frozenset({"begun", "hit", "broken", "skip"})
"""Kinds of input after which the tube is no longer as it was marked."""

HowMeasured = Literal["protractor", "digital level", "sensor"]


class RowRefused(Failure):
    """A row can't be kept for what is in it: to try it again is of no use."""


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
    """What it was to be bent to, by the plan in force [deg]."""
    tolerance: float
    hits: tuple[HitRecord, ...]
    verdict: Literal["accept", "again", "over", "measure"]
    """The verdict on the bend: whoever shows one shows this, and works none out."""
    run: str = ""
    """The run that made it; empty in rows of layout 1."""
    drawn_angle: float | None = None
    """The drawing's bend angle [deg]; None in rows of layout 1: ``bend_angle``."""
    came_to: float | None = None
    """The bend angle that the verdict was given on [deg]; None where nobody knows."""
    came_to_sd: float | None = None
    """Its standard deviation [deg]."""
    setup: dict[str, Any]
    """The setup as it was: {"bench": ..., "die": ..., "tube": ...}, each a struct as plain data."""
    sensor: dict[str, Any] = field(default_factory=dict)
    """Chip, address, rate, mount and estimator facts."""
    faults: tuple[str, ...] = ()
    """What may hide a higher peak or spoil the angle; a bend with any never teaches."""
    notes: tuple[str, ...] = ()
    """What merely wants looking after, such as a low supply."""
    withdrawn: bool = False
    """Taken back by the person: stays in the log, counts for nothing."""
    simulated: bool = False
    """A rehearsal: never teaches a real setup."""
    note: str = ""
    trace: bytes = b""
    """What the tracker saw (``bench.motion.trace``), packed; replays to the same events."""

    @property
    def drawn(self) -> float:
        """Give the drawing's bend angle [deg], in rows of any layout."""
        return self.bend_angle if self.drawn_angle is None else self.drawn_angle


@dataclass(frozen=True, slots=True, kw_only=True)
class RunRecord:
    """One tube bent from a job, or one bend asked for by itself: kept when its first input is."""

    run_id: str
    """Its own universally unique id, 36 characters."""
    job: str
    first_bend: int
    """From 1."""
    simulated: bool
    setup: dict[str, Any]
    """The setup as it was, as in a bend's record."""
    job_file: dict[str, Any]
    """The job as it was, as plain data; empty for a bend asked for by itself."""
    plan: dict[str, Any]
    """The first plan, as the tube was marked by it: {"cut_length_mm": ..., "bends": [{"bend": 1,
    "mark_mm": ..., "turn_deg": ..., "start_mm": ..., "arc_mm": ..., "bend_angle": ...}, ...]};
    empty without one."""
    learned_to: int
    """Number of this store's newest bend row when its stop angles were learned; 0: none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RunInput:
    """Something that was done in a run: a zero, a hit, a measured angle, a step back."""

    run_id: str
    number: int
    """From 1 in each run, without gaps."""
    kind: str
    payload: dict[str, Any]


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


@dataclass(frozen=True, slots=True, kw_only=True)
class LoggedRun:
    """A run as it lies in a store, with its inputs in order."""

    record: RunRecord
    inputs: tuple[RunInput, ...]
    bench: str
    stamp: Stamp
    """Of the run's own row: when it was begun."""
    row_seq: int
    wall_s: float
    """When its newest input was kept, and by which clocks, as in ``Stamp``."""
    clock_synchronised: bool
    boot_id: str
    monotonic_s: float

    @property
    def finished(self) -> bool:
        """Say whether its last bend was done."""
        return bool(self.inputs) and self.inputs[-1].kind == FINISHED

    @property
    def unfinished(self) -> bool:
        """Say whether a tube may be in work still: begun, and neither done nor dropped."""
        return (
            bool(self.inputs)
            and self.inputs[-1].kind not in (FINISHED, DROPPED)
            and any(each.kind in BENT for each in self.inputs)
        )
