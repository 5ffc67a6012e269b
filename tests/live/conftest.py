"""A scripted arm, a model that knows its tube, and a session fed from both."""

import math
import uuid
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from random import Random

import pytest

from benchmate import stream
from benchmate.bench.inputs import Asked, Durable, Input
from benchmate.bench.session import (
    Replan,
    Session,
    Task,
    Told,
    UnfinishedRun,
    begun,
    folded,
    journal,
)
from benchmate.layout.plan import plan_job
from benchmate.layout.plan_update import update_plan
from benchmate.sensing.sample import ArmEstimate
from benchmate.shop.parts import Die, Job, JobBend, Tube
from benchmate.springback.bend import Aim, Bend
from benchmate.springback.limits import Limits
from benchmate.store.record import BendRecord, RunInput, RunRecord

DIE = Die(die="arch-60", for_od_mm=25.0, centreline_radius_mm=60.0, max_angle_deg=180.0)
TUBE = Tube(
    tube="round-25",
    od_mm=25.0,
    wall_mm=1.5,
    grade="E235+N",
    yield_strength_mpa=235.0,
    tensile_strength_mpa=360.0,
)


@dataclass
class Arm:
    """Readings of an arm that moves as told, 200 a second, with noise of its own seed."""

    sd: float = 0.05
    seed: int = 1
    t: float = 100.0
    at: float = 0.0
    _random: Random = field(init=False)

    def __post_init__(self) -> None:
        self._random = Random(self.seed)

    def hold(self, seconds: float) -> Iterator[ArmEstimate]:
        """Stand still for so long."""
        return self.move(self.at, seconds=seconds)

    def move(
        self, to: float, *, dps: float = 10.0, seconds: float | None = None
    ) -> Iterator[ArmEstimate]:
        """Move evenly to an angle, at a pace or in a time."""
        if seconds is None:
            seconds = abs(to - self.at) / dps
        count = max(round(seconds * 200), 1)
        start, self_rate = self.at, (to - self.at) / seconds if seconds else 0.0
        for step in range(1, count + 1):
            self.t += 0.005
            self.at = start + (to - start) * step / count
            seen = self.at + self._random.gauss(0.0, self.sd)
            yield ArmEstimate(self.t, seen, self_rate, max(self.sd, 0.001), self.sd)


@dataclass(frozen=True)
class Known:
    """A model that knows slack and springback exactly; it counts what it was taught."""

    slack: float = 1.0
    per_degree: float = 0.03
    taught: tuple[Bend, ...] = ()

    def aim(
        self,
        bend_angle: float,
        tolerance: float,
        hits: tuple[tuple[float, float | None, float | None], ...] = (),
        *,
        arm_sd: float | None = None,
        limits: Limits | None = None,
    ) -> Aim:
        """Aim at the truth; judge by rest less slack, or by what was measured."""
        lowest, highest = bend_angle - tolerance, bend_angle + tolerance
        if limits is not None:
            lowest, highest = limits.lowest, limits.highest
        stop = bend_angle * (1.0 + self.per_degree) + self.slack
        fresh = Aim(
            verdict="again",
            stop_angle=stop,
            sd=0.1,
            bend_angle=0.0,
            stop_sd=0.2,
            over_angle=stop + highest - bend_angle,
            expected=bend_angle,
        )
        if not hits:
            return fresh
        peak, rest, measured = hits[-1]
        if rest is None and measured is None:
            left = (peak - self.slack) / (1.0 + self.per_degree)
            return replace(fresh, verdict="measure", bend_angle=left)
        now = measured if measured is not None else (rest or 0.0) - self.slack
        if now > highest:
            return replace(fresh, verdict="over", bend_angle=now)
        if now < lowest:
            return replace(fresh, verdict="again", bend_angle=now)
        return replace(fresh, verdict="accept", bend_angle=now)

    def free_radius_mm(self) -> tuple[float, float]:
        """Give the die's radius: this steel's arc doesn't open."""
        return DIE.centreline_radius_mm, 0.1

    def slack_deg(self) -> float:
        """Give the slack."""
        return self.slack

    def learn(self, bends: tuple[Bend, ...]) -> "Known":
        """Remember the bends."""
        return replace(self, taught=(*self.taught, *bends))


class Bender:
    """A session with an arm before it and a store behind it that is durable at once."""

    def __init__(self, session: Session, arm: Arm) -> None:
        self.session = session
        self.arm = arm
        self.events: list[stream.Event] = []
        self.rows: list[BendRecord] = []
        self.runs: list[RunRecord] = []
        self.journal: list[RunInput] = []
        self.store_works = True
        self.snug = 0.0
        """Where on the sensor's own scale the arm is snug on a straight tube."""
        self._take(session.open())

    def give(self, *inputs: Input) -> None:
        """Feed inputs."""
        for given in inputs:
            self._take(self.session.step(given))

    def say(self, line: str) -> None:
        """Ask for something as the stream's reader would hear it."""
        self.give(Asked(self.arm.t, stream.read_command(line)))

    def foot(self, *, long: bool = False) -> None:
        """Press the foot switch."""
        self.give(Asked(self.arm.t, stream.Command("hold" if long else "press")))

    def hold(self, seconds: float) -> None:
        """Let the arm stand."""
        self.give(*self.arm.hold(seconds))

    def move(self, to: float, dps: float = 10.0) -> None:
        """Move the arm."""
        self.give(*self.arm.move(to, dps=dps))

    def zero(self) -> None:
        """Take zero where the arm stands."""
        self.say("zero")
        self.hold(0.8)

    def press(self, to: float, back_to: float) -> None:
        """Pump up, hold, release and let it stand."""
        self.move(to)
        self.hold(0.6)
        self.move(back_to, dps=30.0)
        self.hold(0.8)

    def do(self, *deeds: str) -> None:
        """Do as a person at the bender does: "zero", "press 93.7 91.0", or a command.

        A bend begins with the arm snug at 0.
        """
        for deed in deeds:
            match deed.split():
                case ["zero"]:
                    if not self.session.state.run.bend.hits:
                        self.arm.at = self.snug
                    self.zero()
                case ["press", peak, rest]:
                    self.press(self.snug + float(peak), self.snug + float(rest))
                case ["half", peak]:
                    self.move(self.snug + float(peak))
                case _:
                    self.say(deed)
                    self.hold(0.1)

    def last(self, kind: type[stream.Event]) -> stream.Event:
        """Give the newest event of a kind."""
        return next(event for event in reversed(self.events) if isinstance(event, kind))

    def all(self, kind: type[stream.Event]) -> list[stream.Event]:
        """Give the events of a kind, in order."""
        return [event for event in self.events if isinstance(event, kind)]

    def without_readings(self) -> list[str]:
        """Name the events that are not readings, in order."""
        return [type(e).__name__ for e in self.events if not isinstance(e, stream.Reading)]

    @property
    def entries(self) -> list[journal.Entry]:
        """Give the journal read back."""
        return [journal.read(each.kind, each.payload) for each in self.journal]

    def _take(self, outputs: list[Told]) -> None:
        for output in outputs:
            match output:
                case BendRecord():
                    self.rows.append(output)
                case RunRecord():
                    self.runs.append(output)
                case RunInput():
                    if self.store_works:
                        self.journal.append(output)
                case _:
                    self.events.append(output)
                    continue
            self.give(Durable(self.arm.t, "" if self.store_works else "disk full"))


def planned_part(angles: tuple[float, ...], model: Known, within: float) -> Replan:
    """Lay a flat part of 300 mm straights out and give what plans its rest anew."""
    job = Job(
        job="trellis",
        die=DIE.die,
        tube=TUBE.tube,
        tolerance_deg=0.5,
        bends=tuple(JobBend(straight_mm=300.0, angle_deg=angle) for angle in angles),
        tail_mm=300.0,
    )
    plan = plan_job(job, DIE, TUBE, model)
    return lambda done, taped, learned: update_plan(
        plan, done, (DIE, TUBE, learned), distances=taped, angles_within_deg=within
    )


def make_bender(
    *,
    angles: tuple[float, ...] = (90.0, 45.0),
    arm: Arm | None = None,
    model: Known | None = None,
    first_bend: int = 1,
    follows_tube: bool = True,
    bites: bool = False,
    part: bool = False,
    within: float = math.inf,
    caution: str = "",
    run: int = 1,
    after: Bender | None = None,
) -> Bender:
    """Make a bender for a job of bends at 90 and 45 degrees, or as asked.

    ``after``: another bender's session was stopped, and this one finds its journal.
    """
    known = model or Known()
    task = Task(
        run_id=str(uuid.UUID(int=run)),
        job="trellis",
        die=DIE,
        tube=TUBE,
        lot="A",
        tolerance_deg=0.5,
        bend_angles=angles,
        first_bend=first_bend,
        follows_tube=follows_tube,
        bites=bites,
        replan=planned_part(angles, known, within) if part else None,
        caution=caution,
    )
    if after is None:
        return Bender(Session(begun(task, known)), arm or Arm())
    unfinished = UnfinishedRun(
        run=folded(task, known, after.entries),
        entries=len(after.journal),
        hours=0.5,
        job_changed=False,
        logged={row.bend_id: row for row in after.rows},
    )
    fresh = replace(task, run_id=str(uuid.UUID(int=run + 1)))
    return Bender(Session(begun(fresh, known), unfinished), arm or Arm())


@pytest.fixture
def bender() -> Callable[..., Bender]:
    """Give what makes a bender."""
    return make_bender
