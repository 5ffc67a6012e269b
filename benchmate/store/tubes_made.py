"""How many tubes of each job are made and how many are scrap, from the runs that a store keeps."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from benchmate.store.reader import Log
from benchmate.store.record import BENT, DROPPED


@dataclass(frozen=True, slots=True)
class TubesMade:
    """The tubes of one job so far."""

    made: int = 0
    """Bent to the last bend, none of them over-bent."""
    scrapped: int = 0
    """Over-bent somewhere, or left with a bend begun."""
    last_plan: Mapping[str, Any] = field(default_factory=dict)
    """The plan that the newest tube was marked by, as its run keeps it; empty: there is none."""
    last_dropped: bool = False
    """The newest tube was left before its last bend."""


def tubes_made(
    log: Log, job: str | None = None, *, simulated: bool = False
) -> dict[str, TubesMade]:
    """Count the tubes of each job, or of one; a tube still in work counts as neither."""
    over = log.over_bent_runs(simulated=simulated)
    found: dict[str, TubesMade] = {}
    for run in log.runs(job, simulated):
        dropped = bool(run.inputs) and run.inputs[-1].kind == DROPPED
        begun = any(each.kind in BENT for each in run.inputs)
        if not (run.finished or (dropped and begun)):
            continue
        sofar = found.get(run.record.job, TubesMade())
        scrap = dropped or run.record.run_id in over
        found[run.record.job] = replace(
            sofar,
            made=sofar.made + (not scrap),
            scrapped=sofar.scrapped + scrap,
            last_plan=run.record.plan,
            last_dropped=dropped,
        )
    return found
