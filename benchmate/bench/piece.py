"""One bend on its way: its target, its hits, what stands about it, the row it leaves. Pure."""

from dataclasses import dataclass, replace
from typing import Protocol, Self

from benchmate.bench.motion.cue import Wanted
from benchmate.bench.motion.tracker import Rested
from benchmate.bench.task import Task
from benchmate.layout.distances import Distance
from benchmate.springback.bend import Aim, Bend, Hit, Verdict
from benchmate.springback.noise import ARM_SD
from benchmate.store.record import SENSOR_SD, BendRecord, HitRecord

PROTRACTOR_SD_DEG = 0.12
SEEN_DEG = 0.1
"""A bend this near to its angle is as planned."""
AGREE_DEG = 0.5
"""Two readings of one tube that differ by less say the same."""
PAST_DEG = 0.2
"""A press again goes at least so far past all that was reached: less is no press."""
DOUBTS = 2.0
"""Standard deviations by which an unseen peak may lie below what is believed of it."""
BEYOND_DEG = 3.0
"""A tube bent further than its arm went by more than this was not measured right."""
HIDDEN = "a peak is not known: a fault hid the arm"


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
    """What it is to be bent to, by the plan in force."""
    tolerance: float
    target: Aim
    """What the hit at hand, or the next one, goes for."""
    drawn: float | None = None
    """The drawing's bend angle; None: ``angle``."""
    hits: tuple[HitRecord, ...] = ()
    verdict: Aim | None = None
    """Stands from a hit's end until the next thing is asked for."""
    read_again: float | None = None
    """An earlier reading of the last hit that the one standing there confirms."""
    arm_sd: float | None = None
    """Standard deviation of its peaks and rests; None while no hit has told."""
    unsure: frozenset[int] = frozenset()
    """The hits, from 0, whose peak a fault may have hidden."""
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
    def sure(self) -> bool:
        """Say whether the last hit's peak is known."""
        return len(self.hits) - 1 not in self.unsure

    @property
    def right(self) -> float:
        """Give the bend angle that the tolerance is counted from.

        That is the drawing's, as long as planning anew moved the angle within half the tolerance;
        further it goes only for points that the job names, and then those are what matters.
        """
        if self.drawn is None or abs(self.angle - self.drawn) > self.tolerance / 2.0 + 1e-9:
            return self.angle
        return self.drawn

    @property
    def number(self) -> int:
        """Give its number as people count, from 1."""
        return self.index + 1

    @property
    def wanted(self) -> Wanted:
        """Give what the guide steers for."""
        passed = max((each.peak for each in self.hits), default=None)
        return Wanted(self.target.stop_angle, self.target.over_angle, passed=passed)


def begin(task: Task, model: Model, index: int, bend_id: str, angle: float | None = None) -> Piece:
    """Begin the task's bend with this index, to this bend angle where planning anew gave one."""
    drawn = task.bend_angles[index]
    begun = Piece(
        index=index,
        bend_id=bend_id,
        angle=drawn if angle is None else angle,
        drawn=drawn,
        tolerance=task.tolerance_deg,
        target=model.aim(drawn, task.tolerance_deg),
    )
    return replace(begun, target=_aimed(begun, model))


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
        faults=(*piece.faults, *faults, *(() if rested.sure else (HIDDEN,))),
    )
    unsure = piece.unsure - {len(earlier)} if rested.sure else piece.unsure | {len(earlier)}
    return judged(replace(made, unsure=unsure), model)


def broken_off(piece: Piece, peak: float, faults: tuple[str, ...], *, sure: bool) -> Piece:
    """Give the piece with a hit that nobody brought to its end, for what the faults say."""
    record = HitRecord(
        stop_angle=piece.target.stop_angle, stop_sd=piece.target.stop_sd, peak=peak, rest=None
    )
    return replace(
        piece,
        hits=(*piece.hits, record),
        read_again=None,
        verdict=None,
        unsure=piece.unsure | {len(piece.hits)},
        faults=(*piece.faults, *faults, *(() if sure else (HIDDEN,))),
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
    return judged(
        replace(piece, hits=(*piece.hits[:-1], last), read_again=before if alike else None), model
    )


def not_so(piece: Piece, angle: float) -> str:
    """Say why the tube can't be bent to this measured angle; empty where it can.

    An arm that follows the tube stands no lower than the tube is bent, and no peak is.
    """
    last = piece.hits[-1]
    most = last.rest if not piece.sure and last.rest is not None else last.peak
    if angle <= most + BEYOND_DEG or (not piece.sure and last.rest is None):
        return ""
    told = f"the tube can't be bent to {angle:g} degrees: the arm stood at {most:.1f}"
    inside = 180.0 - angle
    if abs(inside - (last.rest or last.peak)) <= 3.0 * BEYOND_DEG:
        return f"{told}; for {angle:g} degrees between the legs say 'measured {inside:g}'"
    return f"{told}; give how far the tube's direction changes, as in 'measured {most:.0f}'"


def next_hit(piece: Piece, model: Model) -> Piece:
    """Give the piece ready for one more hit, to what its verdict says."""
    standing = piece if piece.verdict is not None else judged(piece, model)
    return replace(piece, verdict=None, target=standing.verdict or piece.target)


def came_out(piece: Piece) -> float | None:
    """Give the bend angle that the rest of the part must answer for; None: not bent.

    A difference that the estimate's own doubt could make up, or nobody could see, is none, and
    neither is one that only a protractor could tell where nobody used it.
    """
    aim = piece.verdict
    if aim is None or not piece.hits or unread(piece):
        return None
    off = abs(aim.bend_angle - piece.angle)
    return piece.angle if off <= max(aim.sd, SEEN_DEG) else aim.bend_angle


def unread(piece: Piece) -> bool:
    """Say whether its angle is a guess: to be measured, and nobody did."""
    aim = piece.verdict
    return aim is not None and aim.verdict == "measure" and piece.hits[-1].measured is None


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
        setup=task.setup | _moved_from(piece),
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


def _moved_from(piece: Piece) -> dict[str, float]:
    if piece.drawn is None or piece.drawn == piece.angle:
        return {}
    return {"drawn_angle": piece.drawn}


def _say(piece: Piece) -> Verdict:
    if piece.verdict is not None:
        return piece.verdict.verdict
    return "again" if piece.sure else "measure"


def _as_hits(piece: Piece) -> tuple[Hit, ...]:
    return tuple(Hit(each.peak, each.rest, each.measured) for each in piece.hits)


def _readings(piece: Piece) -> tuple[Hit, ...]:
    """Give the hits whose peaks are known, and the last one's first reading if confirmed."""
    hits = tuple(each for number, each in enumerate(_as_hits(piece)) if number not in piece.unsure)
    if piece.read_again is None:
        return hits
    return (*hits[:-1], Hit(hits[-1].peak, None, piece.read_again), hits[-1])


def judged(piece: Piece, model: Model) -> Piece:
    """Give the piece with its verdict, and the stop angle that a press again would have."""
    if piece.sure:
        return replace(piece, verdict=_past(piece, _aimed(piece, model, _readings(piece))))
    return replace(piece, verdict=_by_protractor(piece, model))


def _aimed(piece: Piece, model: Model, hits: tuple[Hit, ...] = ()) -> Aim:
    """Aim at the piece's angle, and judge it by what is right."""
    off = abs(piece.angle - piece.right)
    aim = model.aim(piece.angle, piece.tolerance - off, hits, arm_sd=piece.reading_sd)
    if off == 0.0:
        return aim
    by = model.aim(piece.right, piece.tolerance, hits, arm_sd=piece.reading_sd)
    return replace(
        by,
        stop_angle=aim.stop_angle,
        stop_sd=aim.stop_sd,
        expected=aim.expected,
        over_angle=max(by.over_angle, aim.stop_angle),
    )


def _by_protractor(piece: Piece, model: Model) -> Aim:
    """Judge by the measured angle alone: a hidden peak says nothing of springback."""
    fresh = _aimed(piece, model)
    last = piece.hits[-1]
    if last.measured is None:
        # What slack and springback take together; the arm's rest still has the slack in it.
        taken = max(fresh.stop_angle - fresh.expected, 0.0)
        guess = last.peak - taken if last.rest is None else last.rest - taken / 2.0
        return replace(
            _past(piece, fresh),
            verdict="measure",
            bend_angle=max(guess, 0.0),
            sd=max(taken / 2.0, 1.0),
            advice=_UNSEEN,
        )
    say: Verdict = "accept"
    if last.measured > piece.right + piece.tolerance:
        say = "over"
    elif last.measured < piece.right - piece.tolerance:
        say = "again"
    return replace(
        _past(piece, replace(fresh, stop_angle=_from_measured(piece, model, last.measured))),
        verdict=say,
        bend_angle=last.measured,
        sd=PROTRACTOR_SD_DEG,
    )


def _from_measured(piece: Piece, model: Model, measured: float) -> float:
    """Give where to stop after a press that nobody saw, from the bend angle that it left.

    The arm rises at least as far as the tube is still to bend. What it rises from is the largest
    arm angle seen, or what the measured angle took at the least.
    """
    took = model.aim(max(measured, 1.0), piece.tolerance, arm_sd=piece.reading_sd)
    least = took.stop_angle + measured - took.expected - DOUBTS * took.stop_sd
    passed = max(each.peak for each in piece.hits)
    return max(passed, least) + piece.angle - measured


def _past(piece: Piece, aim: Aim) -> Aim:
    """Give the aim with a stop angle past all that the piece has been pressed to."""
    if not piece.hits:
        return aim
    passed, measured = max(each.peak for each in piece.hits), piece.hits[-1].measured
    # Half of what a reading says is missing may be its own error, the rest is not.
    missing = 0.0
    if measured is not None and aim.verdict == "again":
        missing = (piece.angle - measured) / 2.0
    stop = max(aim.stop_angle, passed + max(missing, PAST_DEG))
    return replace(aim, stop_angle=stop, over_angle=max(aim.over_angle, stop))


_UNSEEN = (
    "A fault hid the arm in this hit, so its peak is not known: with the pressure off, measure "
    "the tube."
)
