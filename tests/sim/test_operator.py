from dataclasses import dataclass

import pytest

from benchmate.sim.operator import Operator
from benchmate.stream import Cleared, Fault, Reading, Target, Verdict


@dataclass
class Told:
    """What a plain guide would have said: cues by the true arm angle, verdicts on a wish list."""

    world: object
    clock: object
    operator: Operator
    stop_angle: float
    verdicts: list

    phase: str = "zeroing"
    bend: int = 1
    hit: int = 1
    peak: float = 0.0
    last: float = 0.0
    finished: bool = False
    sees_release: bool = True

    def __post_init__(self):
        self.said = []
        self.target()

    def target(self):
        self.hear(
            Target(
                bend=self.bend,
                hit=self.hit,
                bend_angle=self.stop_angle - 3,
                stop_angle=self.stop_angle,
                sd=0.3,
                tolerance=0.5,
                bends=3,
                over_angle=self.stop_angle + 2,
            )
        )

    def hear(self, event):
        self.operator.hear(event, self.clock.now())

    def run(self, seconds):
        until = self.clock.now() + seconds
        while self.clock.now() < until and not self.finished:
            self.clock.sleep(0.01)
            self.tell()
            for word in self.operator.act(self.clock.now()):
                self.said.append(word)
                self.obey(word)
        return self

    def obey(self, word):
        if word == "zero":
            self.phase, self.peak = "ready", 0.0
        elif word == "next":
            verdict = self.verdicts.pop(0)
            self.hit += 1
            if verdict != "again":
                self.bend, self.hit, self.phase = self.bend + 1, 1, "zeroing"
            else:
                self.phase, self.peak = "ready", self.last
            self.finished = not self.verdicts
            self.target()
        elif word.startswith("measured"):
            self.judge()

    def judge(self):
        say = self.verdicts[0]
        self.hear(Verdict(say=say, bend_angle=40.0, sd=0.2, bend=self.bend, hits=self.hit))

    def tell(self):
        arm = self.world.arm_deg
        rate = (arm - self.last) / 0.01
        self.last = arm
        if self.phase == "ready" and arm > self.peak + 0.5:
            self.phase = "bending"
        if self.phase == "bending":
            self.peak = max(self.peak, arm)
            if self.sees_release and arm < self.peak - 0.3:
                self.phase = "releasing"
        if self.phase == "releasing" and rate == 0.0:
            self.phase = "resting"
            self.judge()
        self.hear(self.reading(arm, rate))

    def reading(self, arm, rate):
        to_go = self.stop_angle - arm
        cue = "wait"
        if self.phase in ("ready", "bending"):
            lead = min(max(rate, 0.0) * 0.25, 1.5)
            cue = "stop" if to_go <= lead else "slow" if to_go < 6.0 else "pump"
        if self.phase == "releasing":
            cue = "release"
        return Reading(
            t=self.clock.now(),
            arm=arm,
            rate=rate,
            sd=0.05,
            to_go=to_go,
            phase=self.phase,
            cue=cue,
        )


@pytest.fixture
def at_work(build, clock, die, tube):
    def make(verdicts, stop_angle=30.0, arm=None, **who):
        world = build(**(arm or {}))
        world.load(die, tube, "A")
        operator = Operator(world, seed=2, **who)
        return Told(world, clock, operator, stop_angle, list(verdicts))

    return make


def test_takes_zero_first_and_once(at_work):
    told = at_work(["accept"]).run(5.0)
    assert told.said == ["zero"]
    assert told.phase == "bending"


def test_pumps_to_the_stop_angle_lets_go_and_goes_on(at_work):
    told = at_work(["accept"], stop_sd_deg=0.0).run(60.0)
    assert told.said == ["zero", "next"]
    assert told.peak == pytest.approx(30.0, abs=0.5)


def test_presses_again_when_told_so_without_a_new_zero(at_work):
    told = at_work(["again", "accept"]).run(90.0)
    assert told.said == ["zero", "next", "next"]


def test_carries_the_tube_on_to_the_next_bend(at_work):
    told = at_work(["accept", "accept"]).run(120.0)
    assert told.said == ["zero", "next", "zero", "next"]
    assert told.world._places == 1


def test_lets_a_tube_that_is_over_go_on_too(at_work):
    assert at_work(["over"]).run(60.0).said == ["zero", "next"]


def test_measures_when_asked_and_only_once(at_work):
    told = at_work(["measure"]).run(60.0)
    zero, measured, after = told.said
    assert (zero, after) == ("zero", "next")
    angle = float(measured.removeprefix("measured "))
    assert angle == pytest.approx(told.world.true_bend_angle, abs=0.4)


def test_never_measures_without_a_protractor(at_work):
    assert at_work(["measure"], protractor="never").run(60.0).said == ["zero", "next"]


def test_may_always_measure(at_work):
    said = at_work(["accept"], protractor="always").run(60.0).said
    assert [word.split()[0] for word in said] == ["zero", "measured", "next"]


def test_misses_the_mark_by_what_it_was_given(build, clock, die, tube):
    def mark(**who):
        misses = []
        for seed in range(12):
            world = build(seed=1)
            world.load(die, tube, "A")
            operator = Operator(world, seed=seed, **who)
            misses.append(Told(world, clock, operator, 12.0, ["accept"]).run(40.0).peak - 12.0)
        mean = sum(misses) / len(misses)
        return mean, (sum((m - mean) ** 2 for m in misses) / len(misses)) ** 0.5

    _, steady = mark(stop_sd_deg=0.0)
    late, _ = mark(stop_sd_deg=0.0, stop_mean_deg=1.0)
    early, _ = mark(stop_sd_deg=0.0, stop_mean_deg=-1.0)
    _, shaky = mark(stop_sd_deg=0.6)
    assert steady < 0.3 < shaky < 1.0
    assert late - early == pytest.approx(2.0, abs=0.5)


def test_takes_its_hand_off_the_pump_when_a_fault_is_told(at_work, clock):
    told = at_work(["accept"]).run(5.0)
    told.hear(Fault(what="bus", detail="no answer"))
    clock.sleep(0.3)
    told.operator.act(clock.now())
    clock.sleep(0.5)
    before = told.world.arm_deg
    clock.sleep(3.0)
    told.operator.act(clock.now())
    assert told.world.arm_deg == pytest.approx(before, abs=0.05)


def test_keeps_the_pressure_on_while_nobody_knows_where_the_arm_is(at_work, clock):
    told = at_work(["accept"])
    while told.operator._stopped_at is None:
        told.run(0.01)
    told.hear(Fault(what="sensor", detail="no samples"))
    peak = told.world.arm_deg
    for _ in range(50):
        clock.sleep(0.1)
        told.operator.act(clock.now())
    assert told.world.arm_deg == pytest.approx(peak, abs=0.6)
    told.hear(Cleared(what="sensor"))
    told.run(10.0)
    assert told.said == ["zero", "next"]


def test_a_wrong_command_is_no_reason_to_stop(at_work, clock):
    told = at_work(["accept"]).run(5.0)
    told.hear(Fault(what="command", detail="'zro' is no command here"))
    clock.sleep(0.3)
    told.operator.act(clock.now())
    before = told.world.arm_deg
    clock.sleep(3.0)
    assert told.world.arm_deg > before + 3.0


def test_says_that_the_pressure_is_off_when_nobody_saw_the_arm_fall(at_work, clock):
    told = at_work(["accept"])
    told.sees_release = False
    told.run(60.0)
    assert told.said == ["zero", "next"]
    assert told.world.standing


def test_says_both_ends_of_a_bite(at_work):
    told = at_work(["accept"], stop_angle=80.0, arm={"bites": True}).run(120.0)
    assert told.said == ["zero", "bite", "bite", "next"]
    assert told.peak == pytest.approx(80.0, abs=1.0)


def test_reacts_no_sooner_than_a_person_can(at_work, clock):
    told = at_work(["accept"], reaction_s=0.4)
    told.phase = "ready"
    told.tell()
    told.operator.act(clock.now())
    clock.sleep(0.35)
    told.operator.act(clock.now())
    assert told.world.standing
    clock.sleep(0.1)
    told.operator.act(clock.now())
    assert not told.world.standing
