"""What a run at the bender is to do, as one frozen value."""

import uuid
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol, Self, TypeAlias

from benchmate.layout.as_bent import AsBent
from benchmate.layout.distances import Distance
from benchmate.layout.plan_update import PlanUpdate
from benchmate.shop.parts import Die, Tube
from benchmate.springback.bend import Aim, Bend
from benchmate.springback.limits import Limits
from benchmate.store.record import RunRecord


class Model(Protocol):
    """What a session needs of springback; ``benchmate.springback.Springback`` is it."""

    def aim(
        self,
        bend_angle: float,
        tolerance: float,
        hits: tuple[tuple[float, float | None, float | None], ...] = (),
        *,
        arm_sd: float | None = None,
        limits: Limits | None = None,
    ) -> Aim:
        """Say what to do next with this bend."""
        ...

    def learn(self, bends: tuple[Bend, ...]) -> Self:
        """Give the model after these bends."""
        ...

    def free_radius_mm(self) -> tuple[float, float]:
        """Give the centreline radius after springback and its standard deviation [mm]."""
        ...

    def slack_deg(self) -> float:
        """Give the arm rotation from zero that is expected to bend nothing."""
        ...


Replan: TypeAlias = Callable[[Sequence[AsBent], Sequence[Distance], Model], PlanUpdate]
"""Plans the rest of the part from the bends done, in order, and the distances taped across them,
with the model as learned by now."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """The bends to make, on which setup, and what goes into every row beside them."""

    run_id: str
    """The run's own universally unique id."""
    job: str
    die: Die
    tube: Tube
    lot: str
    tolerance_deg: float
    bend_angles: tuple[float, ...]
    first_bend: int = 1
    """Number of the bend to start with, from 1."""
    follows_tube: bool = True
    bites: bool = False
    simulated: bool = False
    replan: Replan | None = None
    """None: the first plan's angles, turns and marks stand, whatever comes out."""
    caution: str = ""
    """What to know of this bench before each bend, in a sentence; else empty."""
    setup: dict[str, Any] = field(default_factory=dict)
    """The snapshot for the store: bench, die and tube as plain data."""
    sensor: dict[str, Any] = field(default_factory=dict)
    """Chip, address, rate, mount and estimator facts for the store."""
    job_file: dict[str, Any] = field(default_factory=dict)
    """The job as it was, as plain data."""
    plan: dict[str, Any] = field(default_factory=dict)
    """The first plan, as the tube was marked by it, as plain data."""
    tube_number: int = 1
    """Which tube of the job this is, counting those that came out good."""
    tubes: int = 1
    """How many the job wants."""
    scrapped: int = 0
    """How many came out as scrap before it."""
    since_last_tube: tuple[str, ...] = ()
    """What is marked otherwise than on the tube before, in sentences."""
    learned_to: int = 0
    """The newest row of the log that the first stop angles were learned from."""

    def bend_id(self, index: int, withdrawn: int) -> str:
        """Name the bend with this index in the log, after so many that were taken back."""
        return str(uuid.uuid5(uuid.UUID(self.run_id), f"{index + 1}.{withdrawn}"))

    def record(self) -> RunRecord:
        """Give what the store is to keep of the run itself."""
        return RunRecord(
            run_id=self.run_id,
            job=self.job,
            first_bend=self.first_bend,
            simulated=self.simulated,
            setup=self.setup,
            job_file=self.job_file,
            plan=self.plan,
            learned_to=self.learned_to,
        )
