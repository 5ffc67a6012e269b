"""All that a bench knows while it runs, as one frozen value."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import msgspec

from benchmate.bench.session.arm import ArmMotion
from benchmate.bench.session.faults import Faults
from benchmate.bench.session.outbox import Outbox
from benchmate.bench.session.run import Run
from benchmate.store.record import BendRecord
from benchmate.stream import Cue, Phase


@dataclass(frozen=True, slots=True, kw_only=True)
class UnfinishedRun:
    """A run that was begun and not finished: to be gone on with, or dropped."""

    run: Run
    """As its journal left it."""
    entries: int
    """How many its journal has."""
    hours: float
    """Since the last of them, as far as the clock can be trusted."""
    job_changed: bool
    """The job's file says something else now than when it was begun."""
    logged: Mapping[str, BendRecord] = field(default_factory=dict)
    """The newest row of each of its bends in the log, by the bend's id."""


class ToldReading(NamedTuple):
    """The last live reading that was told."""

    t: float
    phase: Phase
    cue: Cue


class State(msgspec.Struct, frozen=True, kw_only=True):
    """One moment of a session."""

    run: Run
    arm: ArmMotion
    unfinished: UnfinishedRun | None = None
    """Stands while nobody has said whether to go on with it."""
    foot_taken: bool = False
    """Presses of the foot switch are told to whoever asked for them, and do nothing else."""
    entries: int = 0
    """How many the run's journal has."""
    faults: Faults = Faults()
    advice: str = ""
    """What wants looking after and doesn't spoil the angle."""
    copy_advice: str = ""
    """What hinders the store's copy on the second medium."""
    notes: tuple[str, ...] = ()
    """The same, of the hit at hand."""
    outbox: Outbox = Outbox()
    told: ToldReading | None = None
    ending: bool = False
    """The end was asked for."""
    ending_since: float | None = None
    """Since when a hit in progress has kept it waiting [s]."""
    tried_store: bool = False
    """What the store refused was sent once more before the end."""
    heard: bool = False
    """The sensor was heard of, for good or ill."""
    seen: bool = False
    """It told an arm angle."""
    finished: bool = False

    @property
    def all_advice(self) -> str:
        """Give all that wants looking after, in sentences."""
        return " ".join(filter(None, (self.advice, self.copy_advice)))

    @property
    def unkept(self) -> int:
        """Give how many bends the store could not keep."""
        return self.outbox.bends_refused

    @property
    def failure(self) -> str:
        """Say in a sentence why this was no good run; empty when it was one."""
        if self.unkept:
            return f"bends that could not be kept in the log: {self.unkept}"
        if not self.seen:
            return f"no arm angle ever came: {'; '.join(self.faults.details)}"
        return ""
