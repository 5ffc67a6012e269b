"""One bend on its way: its target, its hits, what stands about it, the row it leaves. Pure."""

from dataclasses import dataclass, replace
from typing import Protocol, Self

from benchmate.bench.guide import Wanted
from benchmate.bench.task import Task
from benchmate.bench.tracker import Rested
from benchmate.layout.distances import Distance
from benchmate.springback.bend import Aim, Bend, Hit, Verdict
from benchmate.springback.noise import ARM_SD
from benchmate.store.record import SENSOR_SD, BendRecord, HitRecord

PROTRACTOR_SD_DEG = 0.12
SEEN_DEG = 0.1
"""A bend this near to its angle is as planned."""
AGREE_DEG = 0.5
"""Two readings of one tube that differ by less say the same."""


class Model(Protocol):
    """What a session needs of springback; ``benchmate.springback.Springback`` is it."""

    def aim(
        self,
        bend_angle: float,
        tolerance: float,
        hits: tuple[tuple[float, float | None, float | None], ...] = (),
        *,
        arm_sd: float | None = None,
    ) -> Aim:
        """Say what to do next with this piece."""
        ...

    def learn(self, bends: tuple[Bend, ...]) -> Self:
        """Give the model after these bends."""
        ...

    def free_radius_mm(self) -> tuple[float, float]:
        """Give the centreline radius after springback and its standard deviation [mm]."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """The bend at hand."""

    index: int
    """Its place in the task, from 0."""
    bend_id: str
    angle: float
    tolerance: float
    target: Aim
    """What the hit at hand, or the next one, goes for."""
    hits: tuple[HitRecord, ...] = ()
    verdict: Aim | None = None
    """Stands from a hit's end until the next thing is asked for."""
    read_again: float | None = None
    """An earlier reading of the last hit that the one standing there confirms."""
    arm_sd: float | None = None
    """Standard deviation of its peaks and rests; None while no hit has told."""
    sure: bool = True
    """False while a fault may have hidden the last hit's peak."""
    faults: tuple[str, ...] = ()
    """All that went wrong in its hits."""
    record: BendRecord | None = None
    """The row that stands for it in the store."""
    turn_deg: float | None = None
    """The turn before it, when a person measured it."""
    start_mm: float | None = None
    """Where it really starts along the straight tube, when a person measured its mark."""
    distances: tuple[Distance, ...] = ()
    """What a tape found across the part after this bend."""

    @property
    def reading_sd(self) -> float | None:
        """Give the standard deviation that its peaks and rests are to be weighed with.

        A protractor's reading has the arm's standing error in it: with one, what is left to doubt
        is what comes and goes from hit to hit.
        """
        if self.arm_sd is None or all(hit.measured is None for hit in self.hits):
            return self.arm_sd
        return ARM_SD

    @property
    def number(self) -> int:
        """Give its number as people count, from 1."""
        return self.index + 1

    @property
    def wanted(self) -> Wanted:
        """Give what the guide steers for."""
        return Wanted(self.target.stop_angle, self.target.over_angle)


def begin(task: Task, model: Model, index: int, bend_id: str, angle: float) -> Piece:
    """Begin the task's bend with this index, to this bend angle."""
    tolerance = task.tolerance_deg
    return Piece(
        index=index,
        bend_id=bend_id,
        angle=angle,
        tolerance=tolerance,
        target=model.aim(angle, tolerance),
    )


def hit(piece: Piece, rested: Rested, faults: tuple[str, ...], model: Model) -> Piece:
    """Give the piece after a hit came to rest, with its verdict.

    Pressure let off in two goes rests twice: while a verdict stands, the second is the same hit
    told better.
    """
    record = HitRecord(
        stop_angle=piece.target.stop_angle,
        stop_sd=piece.target.stop_sd,
        peak=rested.peak,
        rest=rested.rest,
    )
    earlier = piece.hits if piece.verdict is None else piece.hits[:-1]
    made = replace(
        piece,
        hits=(*earlier, record),
        read_again=None,
        arm_sd=max(piece.arm_sd or ARM_SD, round(rested.sd, 4)),
        sure=rested.sure,
        faults=(*piece.faults, *faults),
    )
    return _judged(made, model)


def broken_off(piece: Piece, peak: float, why: str) -> Piece:
    """Give the piece with a hit that nobody brought to its end."""
    record = HitRecord(
        stop_angle=piece.target.stop_angle, stop_sd=piece.target.stop_sd, peak=peak, rest=None
    )
    return replace(
        piece,
        hits=(*piece.hits, record),
        read_again=None,
        verdict=None,
        sure=False,
        faults=(*piece.faults, why),
    )


def measured(piece: Piece, angle: float | None, model: Model) -> Piece:
    """Give the piece with its last hit's bend angle measured (or no longer), judged anew.

    A second reading takes the first one's place. Where it says the same, both count: one odd
    reading may be wrong, two alike tell of an odd piece.
    """
    before = piece.hits[-1].measured
    alike = angle is not None and before is not None and abs(angle - before) <= AGREE_DEG
    last = replace(
        piece.hits[-1], measured=angle, how_measured=None if angle is None else "protractor"
    )
    return _judged(
        replace(piece, hits=(*piece.hits[:-1], last), read_again=before if alike else None), model
    )


def next_hit(piece: Piece, model: Model) -> Piece:
    """Give the piece ready for one more hit."""
    hits = _readings(piece) if piece.sure else ()
    target = _past(piece, model.aim(piece.angle, piece.tolerance, hits, arm_sd=piece.reading_sd))
    return replace(piece, verdict=None, target=target)


def taken_back(piece: Piece, model: Model) -> Piece:
    """Give the piece without its last hit, ready to make it again."""
    return next_hit(replace(piece, hits=piece.hits[:-1], read_again=None, sure=True), model)


def came_out(piece: Piece) -> float | None:
    """Give the bend angle that the rest of the part must answer for; None: not bent.

    A difference that the estimate's own doubt could make up, or nobody could see, is none.
    """
    aim = piece.verdict
    if aim is None or not piece.hits:
        return None
    off = abs(aim.bend_angle - piece.angle)
    return piece.angle if off <= max(aim.sd, SEEN_DEG) else aim.bend_angle


def row(piece: Piece, task: Task, trace: bytes, *, withdrawn: bool = False) -> BendRecord:
    """Give the row that the store is to keep of the piece as it stands.

    A withdrawn piece keeps the hits of the row before: taken back is not unmade.
    """
    hits = piece.hits
    if withdrawn and piece.record is not None:
        hits = piece.record.hits
    return BendRecord(
        bend_id=piece.bend_id,
        job=task.job,
        bend=piece.number,
        die=task.die.die,
        tube=task.tube.tube,
        lot=task.lot,
        bend_angle=piece.angle,
        tolerance=piece.tolerance,
        hits=hits,
        verdict=_say(piece),
        setup=task.setup,
        sensor={**task.sensor, SENSOR_SD: piece.reading_sd} if piece.arm_sd else task.sensor,
        faults=piece.faults,
        withdrawn=withdrawn,
        simulated=task.simulated,
        trace=trace,
    )


def taught(piece: Piece, task: Task, model: Model) -> Model:
    """Give the model after this piece; one never bent or with a fault teaches nothing."""
    record = piece.record
    if record is None or not record.hits or record.faults:
        return model
    return model.learn(
        (
            Bend(
                die=task.die,
                tube=task.tube,
                lot=task.lot,
                bend_angle=piece.angle,
                hits=_as_hits(piece),
                stop_angles=tuple(each.stop_angle for each in piece.hits),
                arm_sd=piece.reading_sd,
            ),
        )
    )


def _say(piece: Piece) -> Verdict:
    if piece.verdict is not None:
        return piece.verdict.verdict
    return "again" if piece.sure else "measure"


def _as_hits(piece: Piece) -> tuple[Hit, ...]:
    return tuple(Hit(each.peak, each.rest, each.measured) for each in piece.hits)


def _readings(piece: Piece) -> tuple[Hit, ...]:
    """Give the hits, and the last one's first reading where a second confirmed it."""
    hits = _as_hits(piece)
    if piece.read_again is None:
        return hits
    return (*hits[:-1], Hit(hits[-1].peak, None, piece.read_again), hits[-1])


def _judged(piece: Piece, model: Model) -> Piece:
    if piece.sure:
        aim = model.aim(piece.angle, piece.tolerance, _readings(piece), arm_sd=piece.reading_sd)
    else:
        aim = _by_protractor(piece, model)
    return replace(piece, verdict=aim)


def _by_protractor(piece: Piece, model: Model) -> Aim:
    """Judge by the measured angle alone: a hidden peak says nothing of springback."""
    fresh = _past(piece, model.aim(piece.angle, piece.tolerance, arm_sd=piece.reading_sd))
    last = piece.hits[-1]
    if last.measured is None:
        # What slack and springback take together; the arm's rest still has the slack in it.
        taken = max(fresh.stop_angle - fresh.expected, 0.0)
        guess = last.peak - taken if last.rest is None else last.rest - taken / 2.0
        sd = max(taken / 2.0, 1.0)
        return replace(fresh, verdict="measure", bend_angle=max(guess, 0.0), sd=sd)
    say: Verdict = "accept"
    if last.measured > piece.angle + piece.tolerance:
        say = "over"
    elif last.measured < piece.angle - piece.tolerance:
        say = "again"
    return replace(fresh, verdict=say, bend_angle=last.measured, sd=PROTRACTOR_SD_DEG)


def _past(piece: Piece, aim: Aim) -> Aim:
    """Give the aim with a stop angle no lower than what the piece has been pressed to."""
    passed = max((each.peak for each in piece.hits), default=0.0)
    return replace(
        aim, stop_angle=max(aim.stop_angle, passed), over_angle=max(aim.over_angle, passed)
    )
