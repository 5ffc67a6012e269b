"""The run of a part: which bend, which hit, what stands; a fold over the entries of its journal.

Pure: the same task, model and entries give the same run, so that a program that was stopped
goes on from where it was. Undo is the run as it was before.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from typing import NamedTuple

from benchmate.bench.session import bend as bends
from benchmate.bench.session.bend import OpenBend
from benchmate.bench.session.journal import (
    AngleMeasured,
    BentNothing,
    DistanceMeasured,
    Dropped,
    Entry,
    Finished,
    HitBegun,
    HitBroken,
    HitMade,
    MarkMeasured,
    PressedAgain,
    Resumed,
    Skipped,
    TakenBack,
    TurnMeasured,
    WentOn,
    ZeroTaken,
)
from benchmate.bench.session.replanning import TubePlan, replanned, replanned_or
from benchmate.bench.session.task import Model, Task
from benchmate.errors import Refusal
from benchmate.layout.distances import Distance
from benchmate.store.record import BendRecord


class UndoStep(NamedTuple):
    """What can be taken back, and how all stood before it."""

    what: str
    """The step in a word or two: "zero", "hit 2", "measured 89.5", "next"."""
    run: "Run"
    zero: float
    """The reading at which the arm angle was 0 then; good in the same sitting only."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """The state of one run."""

    task: Task
    model: Model
    """As learned from the bends done."""
    bend: OpenBend
    plan: TubePlan
    done: tuple[tuple[Model, OpenBend], ...] = ()
    """The bends gone by, each with the model as it was before it."""
    step: UndoStep | None = None
    """The last step that can be taken back."""
    sitting: int = 1
    """How often the program was started for it."""
    zeroed: bool = False
    """The arm's zero was taken for the bend at hand in this sitting."""
    just_zeroed: bool = False
    """Nothing was done since."""
    in_hit: bool = False
    """A hit was begun and has not come to its end."""
    withdrawn: int = 0
    """Bends whose hits were taken back; what is bent after that has another id in the log."""
    over: bool = False
    """No bend is left to make, or another part was begun in its place."""

    @property
    def is_last(self) -> bool:
        """Say whether the bend at hand is the part's last."""
        return self.bend.number == len(self.task.bend_angles)

    @property
    def has_zero_step(self) -> bool:
        """Say whether the last step was this bend's zero: taking it again is no step more."""
        step = self.step
        return step is not None and (step.what, step.run.bend.index) == ("zero", self.bend.index)

    @property
    def zero_at(self) -> float | None:
        """Give the arm angle at which a bent tube's zero is due; None: a straight tube's, or none.

        After the program was stopped the arm stands on a tube that is bent already.
        """
        if self.zeroed or not self.bend.hits:
            return None
        return bends.rest_of(self.bend, self.model)

    def with_bend(self, bend: OpenBend) -> TubePlan:
        """Plan on with the bend at hand like this; Refusal when that can't be."""
        return replanned(self.task, [*(done for _, done in self.done), bend], self.model)


def begun(task: Task, model: Model) -> Run:
    """Give the run before anything was done."""
    plan = replanned_or(TubePlan(), task, (), model)
    return Run(
        task=task, model=model, plan=plan, bend=_opened(task, model, plan, task.first_bend - 1, 0)
    )


def folded(task: Task, model: Model, entries: Iterable[Entry]) -> Run:
    """Give the run after these entries; Refusal when they can't have followed each other."""
    run = begun(task, model)
    for entry in entries:
        run, _ = advanced(run, entry)
    return run


def advanced(  # noqa: PLR0912 - one case an entry
    run: Run, entry: Entry, zero: float = 0.0
) -> tuple[Run, tuple[BendRecord, ...]]:
    """Give the run after one more entry, and the rows that it brings to the log, without traces.

    ``zero``: the reading at which the arm angle is 0 now. Refusal for a mark or a distance that
    can't be, and for an entry that has no place here.
    """
    rows: tuple[BendRecord, ...] = ()
    match entry:
        case ZeroTaken():
            # On a bent tube it only takes up again what the program's stop broke off.
            if not run.bend.hits and not run.has_zero_step:
                run = _stepped(run, "zero", zero)
            run = replace(run, zeroed=True)
        case HitBegun():
            run = replace(run, in_hit=True)
        case BentNothing():
            run = replace(run, in_hit=False)
        case HitMade():
            if run.bend.verdict is None:
                run = _stepped(run, f"hit {len(run.bend.hits) + 1}", zero)
            run = replace(run, in_hit=False, bend=bends.hit(run.bend, entry, run.model))
            run, rows = _logged(run)
        case HitBroken():
            run = _stepped(run, f"hit {len(run.bend.hits) + 1}", zero)
            run = replace(run, in_hit=False, bend=bends.broken_off(run.bend, entry))
            run, rows = _logged(run)
        case AngleMeasured(angle=angle):
            run = _stepped(_judged(run), said(entry), zero)
            run = replace(run, bend=bends.measured(run.bend, angle, run.model))
            run, rows = _logged(run)
        case TurnMeasured() | MarkMeasured() | DistanceMeasured():
            run = replace(_stepped(_judged(run), said(entry), zero), bend=_placed(run, entry))
        case PressedAgain(word=word):
            run = _stepped(run, word, zero)
            run = replace(run, bend=bends.next_hit(run.bend, run.model))
        case WentOn():
            run = _finished(run, "next", zero)
        case Skipped():
            run = _finished(_as_it_came_out(run), "skip", zero)
        case TakenBack():
            run, rows = _taken_back(run)
        case Resumed():
            run, rows = _resumed(run)
        case Finished() | Dropped():
            run = replace(run, over=True)
    return replace(run, just_zeroed=isinstance(entry, ZeroTaken)), rows


def said(entry: Entry) -> str:
    """Give a measurement as it was understood: "marked 251.5"; empty for what is none."""
    match entry:
        case AngleMeasured(angle=number):
            return f"measured {number:g}"
        case TurnMeasured(turn=number):
            return f"turned {number:g}"
        case MarkMeasured(mark=number):
            return f"marked {number:g}"
        case DistanceMeasured(one=one, other=other, distance=number):
            return f"taped {one} {other} {number:g}"
    return ""


def rows_of(run: Run) -> tuple[BendRecord, ...]:
    """Give the row of each bend of the run that the log must hold, without traces."""
    made = (*(bend for _, bend in run.done), run.bend)
    return tuple(bends.row(bend, run.task) for bend in made if bend.logged is not None)


def _opened(task: Task, model: Model, plan: TubePlan, index: int, withdrawn: int) -> OpenBend:
    angle = plan.bends[index].angle_deg if plan.bends else None
    return bends.begin(task, model, index, task.bend_id(index, withdrawn), angle)


def _stepped(run: Run, what: str, zero: float) -> Run:
    return replace(run, step=UndoStep(what, run, zero))


def _logged(run: Run) -> tuple[Run, tuple[BendRecord, ...]]:
    run = replace(run, bend=replace(run.bend, logged=run.bend.hits))
    return run, (bends.row(run.bend, run.task),)


def _judged(run: Run) -> Run:
    if run.bend.verdict is None:
        raise Refusal("a measurement is for after a verdict and before next; none stands now")
    return run


def _placed(run: Run, entry: TurnMeasured | MarkMeasured | DistanceMeasured) -> OpenBend:
    """Give the bend with what was measured of its place; Refusal for what can't be."""
    bend = run.bend
    match entry:
        case TurnMeasured(turn=turn):
            return replace(bend, turn_deg=turn)
        case MarkMeasured(mark=mark):
            return replace(bend, start_mm=run.plan.start_of(bend.index, mark))
        case DistanceMeasured(one=one, other=other, distance=distance):
            taped = Distance(one=one, other=other, measured_mm=distance)
            run.plan.refuse_longer(taped)
            with_it = replace(bend, distances=(*bend.distances, taped))
            run.with_bend(with_it)
            return with_it


def _as_it_came_out(run: Run) -> Run:
    """Give a run whose bend has its verdict, where it was pressed and one more hit was due."""
    if not run.bend.hits or run.bend.verdict is not None:
        return run
    if run.step is not None and run.step.run.bend.verdict is not None:
        return replace(run, bend=run.step.run.bend, step=run.step.run.step)
    return replace(run, bend=bends.judged(run.bend, run.model))


def _finished(run: Run, what: str, zero: float) -> Run:
    run = _stepped(run, what, zero)
    done = (*run.done, (run.model, run.bend))
    model = bends.taught(run.bend, run.task, run.model)
    run = replace(run, done=done, model=model, in_hit=False, zeroed=False)
    if run.is_last:
        return replace(run, bend=replace(run.bend, verdict=None), over=True)
    plan = replanned_or(run.plan, run.task, [bend for _, bend in done], model)
    bend = _opened(run.task, model, plan, run.bend.index + 1, run.withdrawn)
    return replace(run, plan=plan, bend=bend)


def _taken_back(run: Run) -> tuple[Run, tuple[BendRecord, ...]]:
    if run.step is None:
        raise Refusal("there is nothing to undo")
    was, back = run.bend, run.step.run
    rows: tuple[BendRecord, ...] = ()
    bend, withdrawn = back.bend, run.withdrawn
    if was.index == bend.index:
        if was.logged is not None and not bend.hits:
            rows = (bends.row(was, run.task, withdrawn=True),)
            # What is bent here from now on is another bend in the log.
            withdrawn += 1
            was = replace(was, logged=None, bend_id=run.task.bend_id(was.index, withdrawn))
        if bend.logged is None:
            bend = replace(bend, bend_id=was.bend_id)
    run = replace(
        back,
        bend=bend,
        withdrawn=withdrawn,
        sitting=run.sitting,
        # A zero of another sitting is none; one taken anew for this bend holds for all of it.
        zeroed=back.zeroed
        and (back.sitting == run.sitting or (run.zeroed and was.index == bend.index)),
        in_hit=False,
    )
    if bend.logged is not None and (was.index != bend.index or was.hits != bend.hits):
        run, again = _logged(run)
        rows = (*rows, *again)
    return run, rows


def _resumed(run: Run) -> tuple[Run, tuple[BendRecord, ...]]:
    """Take up after a stop: the zero is due anew, and of a hit in progress nothing is known."""
    bend, rows = run.bend, ()
    if run.in_hit:
        run = _stepped(run, f"hit {len(bend.hits) + 1}", 0.0)
        bend = bends.lost_hit(bend)
    if bend.hits and bend.verdict is None and not bend.sure:
        bend = bends.judged(bend, run.model)
    run = replace(run, sitting=run.sitting + 1, zeroed=False, in_hit=False, bend=bend)
    return _logged(run) if bend.hits != bend.logged and bend.hits else (run, rows)
