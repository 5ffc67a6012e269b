"""A run of a part put together: from the shop's files, or from what the store kept of it."""

import math
import time
import uuid
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

import msgspec

from benchmate.bench.session import Run, Task, UnfinishedRun, begun, folded, journal
from benchmate.clock import Clock
from benchmate.errors import Failure, Refusal
from benchmate.layout.as_bent import AsBent
from benchmate.layout.distances import Distance
from benchmate.layout.parameters import TrialFound
from benchmate.layout.plan import Plan, SpringbackModel, is_laid_out, plan_job
from benchmate.layout.plan_update import PlanUpdate, since_last_tube, update_plan
from benchmate.runtime.hardware import caution
from benchmate.runtime.trial_store import found_for
from benchmate.shop import Shop
from benchmate.shop.parts import Bench, Die, Job, Tube
from benchmate.springback import Springback
from benchmate.store import Log, LoggedRun, RunRecord, Store
from benchmate.store.learning import learned_as_of, model_for
from benchmate.store.timestamps import boot_id
from benchmate.store.tubes_made import TubesMade, tubes_made


@dataclass(frozen=True, slots=True, kw_only=True)
class RunSetup:
    """What a run's first plan and stop angles come from."""

    bench: Bench
    die: Die
    tube: Tube
    job: Job
    found: TrialFound | None
    """What trial pieces had shown."""
    first_bend: int
    as_planned: bool
    """Keep the first plan, whatever comes out."""
    caution: str = ""
    """What to know before each bend, beside what the bench itself wants known."""
    simulated: bool
    seed: int
    """Of the simulated bench."""
    tubes: TubesMade = field(default_factory=TubesMade)
    """The job's tubes before this one."""


def new_run(setup: RunSetup, store: Path, writer: Store, sensor: Mapping[str, Any]) -> Run:
    """Give a run of the job before anything was done, with all that the store has learned."""
    with Log.open(store) as log:
        learned_to = log.last_seq()
        model = model_for(
            log,
            setup.bench,
            setup.die,
            setup.tube,
            setup.job.lot,
            simulated=setup.simulated,
            store=writer,
        )
    return begun(*_task(setup, model, str(uuid.uuid4()), learned_to, sensor))


def setup_for(
    shop: Shop,
    job: Job,
    store: Path,
    *,
    first_bend: int,
    as_planned: bool,
    seed: int | None,
    caution: str = "",
) -> RunSetup:
    """Give the setup of a job as the shop's files have it; ``seed`` of a simulated bench."""
    die, tube = shop.die(job.die), shop.tube(job.tube)
    with Log.open(store) as log:
        found = found_for(log, die, tube)
        tubes = _tubes(log, job, simulated=seed is not None)
    return RunSetup(
        bench=shop.bench,
        die=die,
        tube=tube,
        job=job,
        found=found,
        first_bend=first_bend,
        as_planned=as_planned,
        caution=caution,
        simulated=seed is not None,
        seed=seed or 0,
        tubes=tubes,
    )


def _tubes(log: Log, job: Job, *, simulated: bool) -> TubesMade:
    return tubes_made(log, job.job, simulated=simulated).get(job.job, TubesMade())


def another_tube(
    setup: RunSetup, store: Path, writer: Store, sensor: Mapping[str, Any]
) -> Run | None:
    """Give the run of the job's next tube, with what the last one taught; None: all are made."""
    with Log.open(store) as log:
        tubes = _tubes(log, setup.job, simulated=setup.simulated)
    more = setup.job.count > 1 and tubes.made < setup.job.count
    if not (more or tubes.last_dropped):
        return None
    return new_run(replace(setup, tubes=tubes, first_bend=1), store, writer, sensor)


def unfinished_run(
    setup: RunSetup, store: Path, sensor: Mapping[str, Any], clock: Clock
) -> UnfinishedRun | None:
    """Give the newest run of the setup's job that was begun and not finished, as it stands."""
    with Log.open(store) as log:
        kept = log.unfinished(setup.job.job, simulated=setup.simulated)
        if kept is None:
            return None
        record = kept.record
        was = _setup_of(record)
        knowledge = learned_as_of(log, record.learned_to, simulated=record.simulated)
        rows = {
            each.record.bend_id: each.record
            for each in log.bends(
                simulated=record.simulated,
                withdrawn=True,
                traces=False,
                after_place=record.learned_to,
            )
            if each.record.run == record.run_id
        }
    model = Springback(was.bench, was.die, was.tube, was.job.lot, knowledge)
    was = replace(was, caution=setup.caution, tubes=setup.tubes)
    task, learned = _task(was, model, record.run_id, record.learned_to, sensor)
    entries = [journal.read(each.kind, each.payload) for each in kept.inputs]
    return UnfinishedRun(
        run=folded(task, learned, entries),
        entries=len(entries),
        hours=_hours_since(kept, clock),
        job_changed=(setup.job, setup.die, setup.tube) != (was.job, was.die, was.tube),
        logged=rows,
    )


def _task(
    setup: RunSetup, model: Springback, run_id: str, learned_to: int, sensor: Mapping[str, Any]
) -> tuple[Task, Springback]:
    job, bench, die, tube = setup.job, setup.bench, setup.die, setup.tube
    model = replace(model, over_limit=job.over_chance_pct / 100)
    plan = plan_job(job, die, tube, model, found=setup.found)
    angles = tuple(bend.bend_angle_deg for bend in plan.bends)
    if not 1 <= setup.first_bend <= len(angles):
        raise Refusal(f"{job.job} has no bend {setup.first_bend}; it has bends 1 to {len(angles)}")

    def replan(
        done: Sequence[AsBent], taped: Sequence[Distance], learned: SpringbackModel
    ) -> PlanUpdate:
        return update_plan(
            plan,
            done,
            (die, tube, learned),
            distances=taped,
            unit=job.unit or bench.unit,
            angles_within_deg=_angles_within_deg(job),
            keep=setup.as_planned,
        )

    task = Task(
        run_id=run_id,
        job=job.job,
        die=die,
        tube=tube,
        lot=job.lot,
        tolerance_deg=job.tolerance_deg,
        bend_angles=angles,
        first_bend=setup.first_bend,
        follows_tube=bench.arm.follows_tube,
        bites=bench.arm.bites,
        simulated=setup.simulated,
        # A bend asked for on the command line has no tube to be marked.
        replan=replan if is_laid_out(job) else None,
        caution=" ".join(filter(None, (caution(bench), setup.caution))),
        setup={
            "bench": msgspec.to_builtins(bench),
            "die": msgspec.to_builtins(die),
            "tube": msgspec.to_builtins(tube),
        },
        sensor=dict(sensor),
        job_file=msgspec.to_builtins(job),
        plan=_as_marked(plan, setup),
        tube_number=setup.tubes.made + 1,
        tubes=job.count,
        scrapped=setup.tubes.scrapped,
        since_last_tube=since_last_tube(setup.tubes.last_plan, plan, job.unit or bench.unit),
        learned_to=learned_to,
    )
    return task, model


def _angles_within_deg(job: Job) -> float:
    """Give how far re-planning may move a bend angle from the drawing's.

    A drawing's angle and tolerance stand, unless the job says which points matter instead.
    """
    return math.inf if job.fit else job.tolerance_deg / 2.0


def _as_marked(plan: Plan, setup: RunSetup) -> dict[str, Any]:
    """Give the plan that the tube is marked by, and what it takes to work it out again."""
    return {
        "cut_length_mm": plan.cut_length_mm,
        "bends": [
            {
                "bend": bend.bend,
                "mark_mm": bend.mark_mm,
                "turn_deg": bend.turn_deg,
                "start_mm": bend.start_mm,
                "arc_mm": bend.arc_mm,
                "bend_angle": bend.bend_angle_deg,
                "stop_angle": bend.stop_angle_deg,
            }
            for bend in plan.bends
        ],
        "found": None if setup.found is None else asdict(setup.found),
        "as_planned": setup.as_planned,
        "seed": setup.seed,
    }


class _SetupAsKept(msgspec.Struct, frozen=True):
    bench: Bench
    die: Die
    tube: Tube


def _setup_of(record: RunRecord) -> RunSetup:
    """Give back the setup that a run was begun with; Failure when it can't be read."""
    try:
        shop = msgspec.convert(record.setup, _SetupAsKept)
        job = msgspec.convert(record.job_file, Job)
        found = msgspec.convert(record.plan.get("found"), TrialFound | None)
    except msgspec.ValidationError as error:
        raise Failure(
            f"the part that was begun can't be read from the store ({error}); begin a new one with"
            " --new, or take the newer benchmate that began it"
        ) from error
    return RunSetup(
        bench=shop.bench,
        die=shop.die,
        tube=shop.tube,
        job=job,
        found=found,
        first_bend=record.first_bend,
        as_planned=bool(record.plan.get("as_planned")),
        simulated=record.simulated,
        seed=int(record.plan.get("seed", 0)),
    )


def _hours_since(kept: LoggedRun, clock: Clock) -> float:
    """Give the hours since a run was last worked on, by the clock that can best be trusted."""
    if kept.boot_id == boot_id():
        seconds = clock.now() - kept.monotonic_s
    else:
        seconds = time.time() - kept.wall_s
    return max(seconds, 0.0) / 3600.0
