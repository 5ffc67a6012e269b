"""The bend at hand: its target, its hits, its verdict, the row that it leaves in the log. Pure."""

import math
from dataclasses import dataclass, replace

from benchmate.bench.motion.cue import Wanted
from benchmate.bench.session.journal import HitBroken, HitMade
from benchmate.bench.session.task import Model, Task
from benchmate.layout.distances import Distance
from benchmate.measurement import PROTRACTOR_SD_DEG
from benchmate.springback.bend import Aim, Bend, Hit, VerdictWord
from benchmate.springback.limits import Limits, limits, verdict_of
from benchmate.springback.noise import ARM_SD
from benchmate.store.record import SENSOR_SD, BendRecord, HitRecord

SEEN_DEG = 0.1
"""A bend this near to its angle is as planned."""
AGREE_DEG = 0.5
"""Two readings of one tube that differ by less say the same."""
PAST_DEG = 0.2
"""A press again goes at least so far past all that was reached: less is no press."""
DOUBTS = 2.0
"""Standard deviations by which an unseen peak may lie below what is believed of it."""
ASKS_FROM_DEG = 0.3
"""What a reading must take off the doubt after a first press to be asked for before the second."""
ODD_SDS, ODD_DEG = 6.0, 3.0
"""A reading that many standard deviations, and so far, off what the arm says is asked about."""
BEYOND_DEG = 3.0
"""A tube bent further than its arm went by more than this was not measured right."""
SLACK_SD_DEG = 1.0
"""A die's slack may be so far from what is believed of it, 1 sd."""
HIDDEN = "a peak is not known: a fault hid the arm"
STOPPED = "the bench stopped in mid-hit"


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenBend:
    """One bend from its first target until the next bend begins."""

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
    asked: bool = False
    """The verdict asks for a reading although a press again is due: unanswered, that comes next."""
    read_again: float | None = None
    """An earlier reading of the last hit that the one standing there confirms."""
    arm_sd: float | None = None
    """Standard deviation of its peaks and rests; None while no hit has told."""
    unsure: frozenset[int] = frozenset()
    """The hits, from 0, whose peak a fault may have hidden."""
    faults: tuple[str, ...] = ()
    """All that went wrong in its hits."""
    lost: frozenset[int] = frozenset()
    """The hits, from 0, of which nothing is known but that they were begun."""
    notes: tuple[str, ...] = ()
    """What wanted looking after during its hits and doesn't spoil the angle."""
    logged: tuple[HitRecord, ...] | None = None
    """The hits in the row that stands for it in the log; None: none does."""
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
    def limits(self) -> Limits:
        """Give the bend angles between which it is in tolerance."""
        return limits(self.drawn_angle, self.angle, self.tolerance)

    @property
    def drawn_angle(self) -> float:
        """Give the drawing's bend angle."""
        return self.angle if self.drawn is None else self.drawn

    @property
    def number(self) -> int:
        """Give its number as people count, from 1."""
        return self.index + 1

    @property
    def wanted(self) -> Wanted:
        """Give what the guide steers for."""
        passed = max((each.peak for each in self.hits), default=None)
        return Wanted(self.target.stop_angle, self.target.over_angle, passed=passed)


def begin(
    task: Task, model: Model, index: int, bend_id: str, angle: float | None = None
) -> OpenBend:
    """Begin the task's bend with this index, to this bend angle where planning anew gave one."""
    drawn = task.bend_angles[index]
    begun = OpenBend(
        index=index,
        bend_id=bend_id,
        angle=drawn if angle is None else angle,
        drawn=drawn,
        tolerance=task.tolerance_deg,
        target=model.aim(drawn, task.tolerance_deg),
    )
    return replace(begun, target=_aimed(begun, model))


def hit(bend: OpenBend, made: HitMade, model: Model) -> OpenBend:
    """Give the bend after a hit came to rest, with its verdict.

    Pressure let off in two goes rests twice: while a verdict stands, the second is the same hit
    told better.
    """
    earlier = bend.hits if bend.verdict is None else bend.hits[:-1]
    number = len(earlier)
    with_it = replace(
        bend,
        hits=(*earlier, _pressed(bend, made.peak, made.rest)),
        read_again=None,
        arm_sd=max(bend.arm_sd or ARM_SD, made.sd),
        faults=(*bend.faults, *made.faults, *(() if made.sure else (HIDDEN,))),
        notes=tuple(dict.fromkeys((*bend.notes, *made.notes))),
        unsure=bend.unsure - {number} if made.sure else bend.unsure | {number},
    )
    return judged(with_it, model)


def broken_off(bend: OpenBend, broken: HitBroken) -> OpenBend:
    """Give the bend with a hit that nobody brought to its end, for what the faults say."""
    return replace(
        bend,
        hits=(*bend.hits, _pressed(bend, broken.peak, None)),
        read_again=None,
        verdict=None,
        unsure=bend.unsure | {len(bend.hits)},
        faults=(*bend.faults, *broken.faults, *(() if broken.sure else (HIDDEN,))),
        notes=tuple(dict.fromkeys((*bend.notes, *broken.notes))),
    )


def lost_hit(bend: OpenBend) -> OpenBend:
    """Give the bend with a hit that the bench itself did not live to see the end of."""
    start = bend.hits[-1].rest or bend.hits[-1].peak if bend.hits else 0.0
    return replace(
        broken_off(bend, HitBroken(peak=start, sure=False, faults=(STOPPED,))),
        lost=bend.lost | {len(bend.hits)},
    )


def _pressed(bend: OpenBend, peak: float, rest: float | None) -> HitRecord:
    return HitRecord(
        stop_angle=bend.target.stop_angle, stop_sd=bend.target.stop_sd, peak=peak, rest=rest
    )


def measured(bend: OpenBend, angle: float | None, model: Model) -> OpenBend:
    """Give the bend with its last hit's bend angle measured (or no longer), judged anew.

    A second reading takes the first one's place. Where it says the same, both count: one odd
    reading may be wrong, two alike tell of an odd bend.
    """
    before = bend.hits[-1].measured
    alike = angle is not None and before is not None and abs(angle - before) <= AGREE_DEG
    last = replace(
        bend.hits[-1], measured=angle, how_measured=None if angle is None else "protractor"
    )
    return judged(
        replace(bend, hits=(*bend.hits[:-1], last), read_again=before if alike else None), model
    )


def not_so(bend: OpenBend, angle: float, model: Model) -> str:
    """Say why this measured angle is asked about before it counts; empty where it isn't.

    An arm that follows the tube stands no lower than the tube is bent, and no peak is. A reading
    that is far from what the arm says was perhaps misread or mistyped.
    """
    last = bend.hits[-1]
    if bend.sure or last.rest is not None:
        most = last.peak if bend.sure or last.rest is None else last.rest
        if angle > most + BEYOND_DEG:
            told = f"the tube can't be bent to {angle:g} degrees: the arm stood at {most:.1f}"
            inside = 180.0 - angle
            if abs(inside - (last.rest or last.peak)) <= 3.0 * BEYOND_DEG:
                return f"{told}; for {angle:g} degrees between the legs say 'measured {inside:g}'"
            return f"{told}; give how far the tube's direction changes, as in 'measured {most:.0f}'"
    return _odd(bend, angle, model) if bend.sure else _unbent(bend, angle, model)


def _odd(bend: OpenBend, angle: float, model: Model) -> str:
    """Say what is odd about a measured angle, against what the arm alone says."""
    aim = judged(replace(bend, hits=(*bend.hits[:-1], _unmeasured(bend.hits[-1]))), model).verdict
    if aim is None:
        return ""
    far = _far(aim.sd)
    if abs(angle - aim.bend_angle) <= far:
        return ""
    told = f"{angle:g}? The arm says {aim.bend_angle:.1f} ±{aim.sd:.1f}"
    for meant in (10.0 * angle, angle / 10.0, 180.0 - angle):
        if abs(meant - aim.bend_angle) <= far:
            return (
                f"{told}: say 'measured {meant:g}' if that was meant, 'measured {angle:g}!' if not"
            )
    return f"{told}: measure again, or say 'measured {angle:g}!' to keep it"


def _unbent(bend: OpenBend, angle: float, model: Model) -> str:
    """Say what is odd about an angle measured after a hit that nobody saw whole.

    No press unbends a tube: it is bent at least as far as the hits before left it, and as far as
    the arm came to rest on it.
    """
    least = [
        (each.measured, PROTRACTOR_SD_DEG) for each in bend.hits[:-1] if each.measured is not None
    ]
    rests = [each.rest for each in bend.hits if each.rest is not None]
    if rests:
        least.append((rests[-1] - model.slack_deg(), SLACK_SD_DEG))
    seen = [number for number in range(len(bend.hits)) if number not in bend.unsure]
    if seen:
        unsure = frozenset(each for each in bend.unsure if each < seen[-1])
        hits = bend.hits[: seen[-1] + 1]
        aim = judged(replace(bend, hits=hits, unsure=unsure, read_again=None), model).verdict
        if aim is not None:
            least.append((aim.bend_angle, aim.sd))
    if not least:
        return ""
    stood, sd = max(least)
    if angle >= stood - _far(sd):
        return ""
    return (
        f"{angle:g}? The tube was bent to {stood:.1f} ±{sd:.1f} before, and no press unbends it: "
        f"measure again, or say 'measured {angle:g}!' to keep it"
    )


def _far(sd: float) -> float:
    """Give how far off a reading is asked about, of an angle known to within ``sd``."""
    return max(ODD_SDS * math.hypot(sd, PROTRACTOR_SD_DEG), ODD_DEG)


def _unmeasured(hit: HitRecord) -> HitRecord:
    return replace(hit, measured=None, how_measured=None)


def next_hit(bend: OpenBend, model: Model) -> OpenBend:
    """Give the bend ready for one more hit, to what its verdict says."""
    standing = bend if bend.verdict is not None else judged(bend, model)
    return replace(bend, verdict=None, asked=False, target=standing.verdict or bend.target)


def came_out(bend: OpenBend) -> float | None:
    """Give the bend angle that the rest of the part must answer for; None: not bent.

    A difference that the estimate's own doubt could make up, or nobody could see, is none, and
    neither is one that only a protractor could tell where nobody used it.
    """
    aim = bend.verdict
    if aim is None or not bend.hits or unread(bend):
        return None
    off = abs(aim.bend_angle - bend.angle)
    return bend.angle if off <= max(aim.sd, SEEN_DEG) else aim.bend_angle


def unread(bend: OpenBend) -> bool:
    """Say whether its angle is a guess: to be measured, and nobody did."""
    aim = bend.verdict
    return aim is not None and aim.verdict == "measure" and bend.hits[-1].measured is None


def rest_of(bend: OpenBend, model: Model) -> float | None:
    """Give the arm angle at which an arm stands that is snug on the tube as it is bent now.

    That is the last hit's rest; of an arm that retracts by itself, or whose rest nobody saw, the
    bend angle and the slack before it. None: the tube's bend angle isn't known.
    """
    last = bend.hits[-1]
    if last.rest is not None:
        return last.rest
    if last.measured is not None:
        return last.measured + model.slack_deg()
    verdict = bend.verdict or judged(bend, model).verdict
    if not bend.sure or verdict is None:
        return None
    return verdict.bend_angle + model.slack_deg()


def row(bend: OpenBend, task: Task, *, withdrawn: bool = False) -> BendRecord:
    """Give the row that the store is to keep of the bend as it stands, without its trace.

    A withdrawn bend keeps the hits of the row before: taken back is not unmade.
    """
    hits = bend.logged or () if withdrawn else bend.hits
    known = bend.sure or (bend.hits and bend.hits[-1].measured is not None)
    aim = bend.verdict if known else None
    return BendRecord(
        bend_id=bend.bend_id,
        job=task.job,
        bend=bend.number,
        die=task.die.die,
        tube=task.tube.tube,
        lot=task.lot,
        run=task.run_id,
        bend_angle=bend.angle,
        drawn_angle=bend.drawn_angle,
        tolerance=bend.tolerance,
        hits=hits,
        verdict=_say(bend),
        came_to=None if aim is None else aim.bend_angle,
        came_to_sd=None if aim is None else aim.sd,
        setup=task.setup,
        sensor={**task.sensor, SENSOR_SD: bend.reading_sd} if bend.arm_sd else task.sensor,
        faults=bend.faults,
        notes=bend.notes,
        withdrawn=withdrawn,
        simulated=task.simulated,
    )


def taught(bend: OpenBend, task: Task, model: Model) -> Model:
    """Give the model after this piece; one never bent or with a fault teaches nothing."""
    if not bend.logged or bend.faults:
        return model
    return model.learn(
        (
            Bend(
                die=task.die,
                tube=task.tube,
                lot=task.lot,
                bend_angle=bend.angle,
                hits=_as_hits(bend),
                stop_angles=tuple(each.stop_angle for each in bend.hits),
                arm_sd=bend.reading_sd,
            ),
        )
    )


def _say(bend: OpenBend) -> VerdictWord:
    if bend.verdict is not None:
        return bend.verdict.verdict
    return "again" if bend.sure else "measure"


def _as_hits(bend: OpenBend) -> tuple[Hit, ...]:
    return tuple(Hit(each.peak, each.rest, each.measured) for each in bend.hits)


def _readings(bend: OpenBend) -> tuple[Hit, ...]:
    """Give the hits whose peaks are known, and the last one's first reading if confirmed."""
    hits = tuple(each for number, each in enumerate(_as_hits(bend)) if number not in bend.unsure)
    if bend.read_again is None:
        return hits
    return (*hits[:-1], Hit(hits[-1].peak, None, bend.read_again), hits[-1])


def judged(bend: OpenBend, model: Model) -> OpenBend:
    """Give the bend with its verdict, and the stop angle that a press again would have.

    After a first press of a setup whose slack isn't known a reading is asked for: no press tells
    the slack, and with one measured angle the next press should be the last. Where nobody answers,
    the press again comes next.
    """
    if not bend.sure:
        return replace(bend, verdict=_by_protractor(bend, model), asked=False)
    verdict = _past(bend, _aimed(bend, model, _readings(bend)))
    asks = (
        len(bend.hits) == 1
        and bend.hits[0].measured is None
        and verdict.verdict == "again"
        and verdict.worth >= ASKS_FROM_DEG
    )
    if asks:
        verdict = replace(verdict, verdict="measure", advice=_SLACK)
    return replace(bend, verdict=verdict, asked=asks)


def _aimed(bend: OpenBend, model: Model, hits: tuple[Hit, ...] = ()) -> Aim:
    """Aim at the bend's angle, and judge it by the limits that the drawing sets."""
    return model.aim(bend.angle, bend.tolerance, hits, arm_sd=bend.reading_sd, limits=bend.limits)


def _by_protractor(bend: OpenBend, model: Model) -> Aim:
    """Judge by the measured angle alone: a hidden peak says nothing of springback."""
    fresh = _aimed(bend, model)
    last = bend.hits[-1]
    if last.measured is None:
        if len(bend.hits) - 1 in bend.lost:
            return _anywhere(bend, fresh)
        # What slack and springback take together; the arm's rest still has the slack in it.
        taken = max(fresh.stop_angle - fresh.expected, 0.0)
        guess = last.peak - taken if last.rest is None else last.rest - taken / 2.0
        return replace(
            _past(bend, fresh),
            verdict="measure",
            bend_angle=max(guess, 0.0),
            sd=max(taken / 2.0, 1.0),
            advice=_UNSEEN,
        )
    return replace(
        _past(bend, replace(fresh, stop_angle=_from_measured(bend, model, last.measured))),
        verdict=verdict_of(last.measured, bend.limits),
        bend_angle=last.measured,
        sd=PROTRACTOR_SD_DEG,
    )


def _anywhere(bend: OpenBend, fresh: Aim) -> Aim:
    """Judge a bend whose last hit nobody saw: from where it was to the angle wanted, all alike."""
    least = min(
        max((each.measured or each.rest or 0.0 for each in bend.hits[:-1]), default=0.0), bend.angle
    )
    return replace(
        _past(bend, fresh),
        verdict="measure",
        bend_angle=(least + bend.angle) / 2.0,
        sd=max((bend.angle - least) / math.sqrt(12.0), 1.0),
        advice=_STOPPED,
    )


def _from_measured(bend: OpenBend, model: Model, measured: float) -> float:
    """Give where to stop after a press that nobody saw, from the bend angle that it left.

    The arm rises at least as far as the tube is still to bend. What it rises from is the largest
    arm angle seen, or what the measured angle took at the least.
    """
    took = model.aim(max(measured, 1.0), bend.tolerance, arm_sd=bend.reading_sd)
    least = took.stop_angle + measured - took.expected - DOUBTS * took.stop_sd
    passed = max(each.peak for each in bend.hits)
    return max(passed, least) + bend.angle - measured


def _past(bend: OpenBend, aim: Aim) -> Aim:
    """Give the aim with a stop angle past all that the bend has been pressed to."""
    if not bend.hits:
        return aim
    passed, measured = max(each.peak for each in bend.hits), bend.hits[-1].measured
    # Half of what a reading says is missing may be its own error, the rest is not.
    missing = 0.0
    if measured is not None and aim.verdict == "again":
        missing = (bend.angle - measured) / 2.0
    stop = max(aim.stop_angle, passed + max(missing, PAST_DEG))
    return replace(aim, stop_angle=stop, over_angle=max(aim.over_angle, stop))


_SLACK = (
    "The die's slack is not known yet, and no press tells it: measure the tube, and the next press "
    "should be the last. Without a number, next presses again."
)
_STOPPED = (
    "The bench stopped in the middle of this hit, so how far the tube is bent is not known: with "
    "the pressure off, measure the tube."
)
_UNSEEN = (
    "A fault hid the arm in this hit, so its peak is not known: with the pressure off, measure "
    "the tube."
)
