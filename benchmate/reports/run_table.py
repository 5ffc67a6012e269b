"""The runs of the log: each part begun, its first plan, how far it came and by which bends."""

import time
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from benchmate.reports.judged import came_to
from benchmate.reports.log_table import result_of, shown_time
from benchmate.reports.run_states import BendState, bend_states
from benchmate.store.record import DROPPED
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.store import LoggedBend, LoggedRun


@dataclass(frozen=True, slots=True)
class RunBend:
    """One bend of a run: as it was first planned, how far it came, the rows that it left."""

    bend: int
    state: BendState
    mark_mm: float | None
    """As first marked on the tube; None without a plan."""
    turn_deg: float | None
    logged: "tuple[LoggedBend, ...]"
    """Its bends in the log, oldest first; more than one where one was left as scrap."""


def run_bends(run: "LoggedRun", logged: "Iterable[LoggedBend]") -> tuple[RunBend, ...]:
    """Give a run's bends; ``logged`` are its bends in the log, withdrawn ones left out."""
    planned = {each["bend"]: each for each in run.record.plan.get("bends", ())}
    many = max(planned, default=run.record.first_bend)
    states = bend_states(run.record.first_bend, many, (each.kind for each in run.inputs))
    made: dict[int, list[LoggedBend]] = {}
    for each in logged:
        made.setdefault(each.record.bend, []).append(each)
    return tuple(
        RunBend(
            bend=number,
            state=state,
            mark_mm=planned.get(number, {}).get("mark_mm"),
            turn_deg=planned.get(number, {}).get("turn_deg"),
            logged=tuple(made.get(number, ())),
        )
        for number, state in enumerate(states, 1)
    )


def by_run(bends: "Iterable[LoggedBend]") -> "dict[str, list[LoggedBend]]":
    """Give the bends of the log by the run that made them."""
    found: dict[str, list[LoggedBend]] = {}
    for logged in bends:
        if logged.record.run:
            found.setdefault(logged.record.run, []).append(logged)
    return found


def as_plain(run: "LoggedRun", bends: Iterable[RunBend]) -> dict[str, Any]:
    """Give a run as plain data."""
    return {
        "id": run.record.run_id,
        "job": run.record.job,
        "begun": _utc(run.stamp.wall_s),
        "finished": run.finished,
        "bends": [
            {
                "bend": each.bend,
                "state": each.state,
                "mark_mm": each.mark_mm,
                "turn_deg": each.turn_deg,
                "logged": [logged.record.bend_id for logged in each.logged],
            }
            for each in bends
        ],
        "dropped": _dropped(run),
        "clock_synchronised": run.stamp.clock_synchronised,
        "cut_length_mm": run.record.plan.get("cut_length_mm"),
        "first_bend": run.record.first_bend,
        "simulated": run.record.simulated,
        "bench": run.bench,
        "inputs": len(run.inputs),
    }


def lines(
    runs: "Iterable[tuple[LoggedRun, tuple[RunBend, ...]]]", numbers: Mapping[int, int]
) -> Iterator[str]:
    """Give the runs in words: a line for each, and one for each of its bends."""
    for run, bends in runs:
        when = shown_time(run.stamp.wall_s, run.stamp.clock_synchronised, "%Y-%m-%d %H:%M")
        rehearsal = ", a rehearsal" if run.record.simulated else ""
        job = printable(run.record.job) or "a bend by itself"
        yield f"{when}  {job}: {_how_far(run, bends)}{rehearsal}"
        for each in bends:
            yield f"  {_bend_line(each, numbers)}"


def _how_far(run: "LoggedRun", bends: tuple[RunBend, ...]) -> str:
    done = sum(each.state == "done" for each in bends)
    many = f"{done} of {len(bends)} bend{'' if len(bends) == 1 else 's'} done"
    if run.finished:
        return f"finished, {many}"
    return f"{many}, then a new part was begun" if _dropped(run) else f"unfinished, {many}"


def _bend_line(each: RunBend, numbers: Mapping[int, int]) -> str:
    marked = "" if each.mark_mm is None else f"mark {each.mark_mm:7.1f} mm"
    turned = "" if each.turn_deg is None else f"turn {each.turn_deg:6.1f} deg"
    made = "; ".join(_made(logged, numbers) for logged in each.logged)
    line = f"bend {each.bend:>2}  {marked:15}  {turned:15}  {each.state:7}  {made}"
    return line.rstrip()


def _made(logged: "LoggedBend", numbers: Mapping[int, int]) -> str:
    came = came_to(logged, None)
    angle = "" if came.angle is None else f" came to {came.angle:.1f} deg,"
    return f"no. {numbers[logged.seq]}:{angle} {result_of(came)}"


def _dropped(run: "LoggedRun") -> bool:
    return bool(run.inputs) and run.inputs[-1].kind == DROPPED


def _utc(wall_s: float) -> str | None:
    """Give a time as ISO 8601 has it, None where the clock told none that there is."""
    try:
        return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(wall_s))
    except (OverflowError, ValueError, OSError):
        return None
