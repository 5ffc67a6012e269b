"""Hits counted at the pump: the whole bench process in quick time, by the bytes of simulated chips.

    python tests/bench/loop_hits.py [--setups 20] [--bends 12] [--chip lsm6dso] [--person cues]
        [--mode asked] [--faults] [--processes 2] [--offset 0]

``--chip none`` gives the session perfect readings: what is lost then is lost by cue, person and
aim. The bender, the tube and the person are this file's own and know nothing of the program but
its stream; the person of ``cues`` pumps on pump, takes short strokes on slow, brakes a reaction
after stop, lets go on release and measures as the mode says; the one of ``to-go`` reads how far it
is to go and sizes the last strokes by it. With ``--faults`` the chip's transfers fail, its cable is
pulled, it freezes, loses its settings or has bytes flipped at any moment. The yardstick is
``angle_hit.Truth`` bent by the same aims with a person who stops within 0.25 degrees whatever
happens.
"""

import argparse
import bisect
import collections
import math
import random
import sys
import uuid
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from angle_hit import (
    OPERATOR,
    PEAK,
    PROTRACTOR,
    REST,
    ZERO,
    Truth,
    World,
)  # the benchmark of the aim alone, found by the line above

from benchmate import stream
from benchmate.bench.estimation import estimated
from benchmate.bench.inputs import Asked, Back, Durable
from benchmate.bench.sampler import Sampler
from benchmate.bench.session import Row, Session, Task, begun
from benchmate.sensing import chip_facts, open_chip
from benchmate.sensing.bus import Bus
from benchmate.sensing.calibration.multi_position import MultiPositionCalibration
from benchmate.sensing.estimator import ArmAngleEstimator
from benchmate.sensing.health.monitor import HealthMonitor
from benchmate.sensing.mount.alignment import fit_mount
from benchmate.sensing.sample import ArmEstimate, Sample
from benchmate.shop.parts import Arm, Bench, Sensor
from benchmate.sim.bus import SimBus
from benchmate.sim.chips.chip import Felt
from benchmate.sim.chips.kinds import KINDS
from benchmate.sim.clock import QuickClock
from benchmate.sim.faults import FaultInjector
from benchmate.sim.wire import Wire, Wires
from benchmate.springback import Bend, Springback
from benchmate.store.record import BendRecord

TOLERANCE = 0.5
ANGLES = (12.0, 70.0)
REACTION_S, REACTION_SD_S = 0.22, 0.05
STROKE_DPS, SHORT_DPS = (2.0, 9.0), (1.5, 3.5)
"""Highest speed of a stroke."""
STROKE_S, SHORT_S = (0.8, 1.3), (0.45, 0.8)
PAUSE_S = (0.1, 0.3)
BRAKE_S = (0.06, 0.14)
BUMP_G, BUMP_HZ, BUMP_DIES_S = (0.01, 0.05), (11.0, 35.0), 0.04
MOST_LEAK_DPS = 0.06
PATIENCE_S = 1.5
"""So long a person waits under a stop cue for the word to let go."""
RAM_DEG, HOLE_DEG = 50.0, 40.0
ASKED_WORTH = 0.1
"""A person fetches the protractor when it would take so much off the doubt."""
G_MM = 9806.65
RADIUS_MM = 80.0
MOST_S = 600.0
"""A bend that takes longer by the bench's clock has no way on."""
MOST_HITS = 12
PERFECT_HZ = 100.0
TROUBLE_EVERY_S, TROUBLE_S = 12.0, (0.3, 2.5)
FAR_DEG = 3.0
MODES = ("asked", "always", "never", "retracts", "bites")
CHIPS = ("none", "lsm6dso", "adxl355", "adxl345")
SPANS = (("1", 1, 1), ("2", 2, 2), ("3", 3, 3), ("4 to 7", 4, 7), ("8 on", 8, 99), ("all", 1, 99))


class Move:
    """A piece of the arm's motion, in closed form."""

    __slots__ = ("after", "began", "dps", "gain", "kind", "lasts", "loads", "origin")

    def __init__(
        self,
        kind: str,
        began: float,
        lasts: float,
        origin: float,
        *,
        gain: float = 0.0,
        dps: float = 0.0,
        loads: bool = False,
        after: float = 0.0,
    ) -> None:
        self.kind, self.began, self.lasts, self.origin = kind, began, lasts, origin
        self.gain, self.dps, self.loads, self.after = gain, dps, loads, after

    def at(self, t: float) -> tuple[float, float, float]:
        """Angle [deg], rate and acceleration at a time from its beginning on."""
        age = t - self.began
        if age >= self.lasts:
            drift = self.after * (age - self.lasts)
            return self.end + drift, self.after, 0.0
        u = age / self.lasts
        if self.kind == "turn":
            w = 2.0 * math.pi
            return (
                self.origin + self.gain * (u - math.sin(w * u) / w),
                self.gain / self.lasts * (1.0 - math.cos(w * u)),
                self.gain / self.lasts**2 * w * math.sin(w * u),
            )
        w = math.pi
        return (
            self.origin + self.dps * self.lasts * (0.5 * u + math.sin(w * u) / (2.0 * w)),
            0.5 * self.dps * (1.0 + math.cos(w * u)),
            -0.5 * self.dps * w / self.lasts * math.sin(w * u),
        )

    @property
    def end(self) -> float:
        if self.kind == "turn":
            return self.origin + self.gain
        return self.origin + 0.5 * self.dps * self.lasts


class Bender:
    """Arm, pump, valve and tube. Angles are degrees on the arm's own scale."""

    def __init__(self, truth: Truth, how: "How", seed: int, t: float) -> None:
        self.truth, self.how = truth, how
        self.chance = random.Random(seed)
        self.moves = [Move("turn", t, 0.01, 0.0)]
        self.begins = [t]
        self.bumps: list[tuple[float, float, float, float]] = []
        self.leak = self.chance.uniform(0.0, MOST_LEAK_DPS)
        self.home = 0.0
        self.hole = 0.0
        self.peak = 0.0
        self.piece = 0.0
        self.loaded = False
        self.strokes = 0
        attitude = np.linalg.qr(np.random.default_rng(seed).normal(size=(3, 3)))[0]
        attitude *= np.sign(np.linalg.det(attitude))
        self.attitude = [[float(v) for v in row] for row in attitude]
        self.start = self.chance.uniform(0.0, math.tau)
        self.temperature = 25.0 + self.chance.uniform(-3.0, 3.0)

    # What the person does

    def clamp(self, t: float, wanted: float) -> None:
        """Clamp the next place of the tube snug."""
        self.home = self.chance.uniform(-0.4, 0.4)
        self.hole, self.peak, self.loaded = 0.0, 0.0, False
        self.piece = self.truth.piece(wanted)
        # Carried back by hand, no faster than a gyro can follow.
        self._turn_to(t, self.home, 0.4 + abs(self.at(t)[0] - self.home) / 40.0)

    def stroke(self, t: float, dps: float, seconds: float) -> None:
        """Begin a stroke whose highest speed is this."""
        self._note(t)
        self.strokes += 1
        self.loaded = True
        here = self.at(t)[0]
        gain = 0.5 * dps * seconds
        if self.how.mode == "bites":
            gain = min(gain, max(self.hole + RAM_DEG - here, 0.0))
        self._add(Move("turn", t, seconds, here, gain=gain, loads=True, after=-self.leak))
        self._bump(t + seconds, 0.5)

    def brake(self, t: float) -> None:
        """Stop the hand."""
        here, dps, _ = self.at(t)
        if dps <= 0.05 or not self.moves[-1].loads:
            return
        seconds = self.chance.uniform(*BRAKE_S)
        self.bumps = [each for each in self.bumps if each[0] <= t]
        self._note(t)
        self._add(Move("brake", t, seconds, here, dps=dps, loads=True, after=-self.leak))
        self._bump(t + seconds, 1.0)

    def let_go(self, t: float) -> None:
        """Open the valve."""
        self._note(t)
        here = self.at(t)[0]
        rest = min(here, self.home + self.rest)
        seconds = self.chance.uniform(0.25, 0.6)
        self.loaded = False
        self._add(Move("turn", t, seconds, here, gain=rest - here))
        self._bump(t + seconds, 1.0)
        if not self.how.follows:
            down = self.home - rest
            self._add(Move("turn", t + seconds, abs(down) / 25.0 + 0.3, rest, gain=down))

    def next_hole(self, t: float) -> float:
        """Take the arm back by a hole while the tube stays latched; give when it is done."""
        self._note(t)
        here = self.at(t)[0]
        self._add(Move("turn", t, 1.5, here, gain=-HOLE_DEG))
        self.home -= HOLE_DEG
        self.hole = here - HOLE_DEG - (RAM_DEG - HOLE_DEG) if here > 0 else self.hole
        self.hole = here - HOLE_DEG
        return t + 1.5

    def swing(self, t: float) -> float:
        """Swing the empty arm out and back; give when that is done."""
        self._add(Move("turn", t + 1.2, 5.0, self.at(t)[0], gain=100.0))
        self._add(Move("turn", t + 7.0, 5.0, self.moves[-1].end, gain=-100.0))
        return t + 12.7

    def turn_box(self, t: float, stops: int = 12) -> float:
        """Turn the box once round with stops; give when that is done."""
        for number in range(stops):
            self._turn_by(t + 1.6 + 2.5 * number, 360.0 / stops, 0.9)
        return t + 2.5 * stops + 1.6

    # What is true

    @property
    def bent(self) -> float:
        """The bend angle that the tube has by now, once released."""
        return self.truth.bent(self.peak, self.piece) if self.peak > 0.0 else 0.0

    @property
    def rest(self) -> float:
        """Where the arm stands on the relaxed tube, from zero."""
        bent = self.bent
        return self.truth.slack + bent if bent > 0.0 else min(self.peak, self.truth.slack)

    def arm(self, t: float) -> float:
        """The arm angle from the snug tube."""
        return self.at(t)[0] - self.home

    def at(self, t: float) -> tuple[float, float, float]:
        index = max(bisect.bisect_right(self.begins, t) - 1, 0)
        return self.moves[index].at(max(t, self.begins[index]))

    def advance(self, t: float) -> None:
        """Let the tube feel what was pressed."""
        self._note(t)

    def ram_out(self, t: float) -> bool:
        return (
            self.how.mode == "bites" and self.loaded and self.at(t)[0] >= self.hole + RAM_DEG - 0.05
        )

    def standing(self, t: float) -> bool:
        return t > self.moves[-1].began + self.moves[-1].lasts + 0.05

    def feel(self, t: float) -> Felt:
        """What the chip feels: gravity, its own acceleration, and the pump's knocks."""
        deg, dps, dps2 = self.at(t)
        angle = self.start + math.radians(deg)
        w, dw = math.radians(dps), math.radians(dps2)
        out = math.cos(angle) - RADIUS_MM * w * w / G_MM
        along = -math.sin(angle) + RADIUS_MM * dw / G_MM
        for began, size, hz, share in self.bumps:
            age = t - began
            if 0.0 < age < 8.0 * BUMP_DIES_S:
                ring = size * math.exp(-age / BUMP_DIES_S) * math.sin(math.tau * hz * age)
                along += ring
                out += share * ring
        felt = tuple(row[0] * out + row[1] * along for row in self.attitude)
        turn = tuple(row[2] * dps for row in self.attitude)
        return Felt(felt, turn, 40.0 + deg, self.temperature)

    def _note(self, t: float) -> None:
        move = self.moves[-1]
        if self.loaded and move.loads:
            self.peak = max(self.peak, move.at(min(t, move.began + move.lasts))[0] - self.home)

    def _turn_to(self, t: float, target: float, seconds: float) -> None:
        here = self.at(t)[0]
        self._add(Move("turn", t, seconds, here, gain=target - here))

    def _turn_by(self, t: float, degrees: float, seconds: float) -> None:
        self._add(Move("turn", t, seconds, self.moves[-1].end, gain=degrees))

    def _add(self, move: Move) -> None:
        while self.moves and self.moves[-1].began > move.began:
            self.moves.pop()
            self.begins.pop()
        self.moves.append(move)
        self.begins.append(move.began)
        if len(self.moves) > 80:
            del self.moves[:40], self.begins[:40]

    def _bump(self, t: float, share: float) -> None:
        size = share * self.chance.uniform(*BUMP_G)
        self.bumps.append((t, size, self.chance.uniform(*BUMP_HZ), self.chance.uniform(-1, 1)))
        del self.bumps[:-4]


@dataclass(frozen=True)
class How:
    """What is to be run."""

    chip: str = "lsm6dso"
    person: str = "cues"
    mode: str = "asked"
    bends: int = 12
    faults: bool = False

    @property
    def follows(self) -> bool:
        return self.mode != "retracts"

    def reads(self, *, asked: bool) -> bool:
        """Say whether the person measures the tube after a press."""
        return self.mode in ("always", "retracts") or (self.mode in ("asked", "bites") and asked)


class Person:
    """Who pumps: knows what the stream says, and what anyone sees who stands there."""

    def __init__(self, bender: Bender, how: How, seed: int) -> None:
        self.bender, self.how = bender, how
        self.chance = random.Random(seed + 1)
        self.hand = "off"
        self.cue = "wait"
        self.heard: collections.deque[tuple[float, str]] = collections.deque()
        self.told: collections.deque[tuple[float, float]] = collections.deque()
        self.to_go = math.inf
        self.phase = ""
        self.stroking_until = 0.0
        self.next_stroke = 0.0
        self.short = False
        self.let_go_at: float | None = None
        self.stop_since: float | None = None
        self.zero_due: float | None = None
        self.verdict: stream.Verdict | None = None
        self.verdict_at = 0.0
        self.measured = 0
        self.blind = False
        self.bite_until: float | None = None
        self.bend = 0
        self.wanted = 0.0
        self.full = self.chance.uniform(*STROKE_DPS)
        """This person's usual stroke; single ones vary about it."""

    def hear(self, event: Any, now: float) -> None:
        match event:
            case stream.Target():
                if event.bend != self.bend:
                    self.bend, self.wanted = event.bend, event.bend_angle
                    self.bender.clamp(now, event.bend_angle)
                    self.zero_due = now + 3.6
                self.verdict, self.measured = None, 0
                self.let_go_at = self.stop_since = None
            case stream.Reading():
                self.phase = event.phase
                if event.to_go is not None:
                    self.told.append((now, event.to_go))
                if event.cue != self.cue:
                    self.cue = event.cue
                    wait = max(self.chance.gauss(REACTION_S, REACTION_SD_S), 0.05)
                    self.heard.append((now + wait, event.cue))
            case stream.Verdict():
                self.verdict, self.verdict_at = event, now
            case stream.Fault(what=what) if what in ("sensor", "bus", "alignment"):
                self.blind = True
                self.heard.append((now + 0.3, "wait"))
            case stream.Cleared():
                self.blind = False

    def act(self, now: float) -> list[str]:
        while self.heard and self.heard[0][0] <= now:
            self._take(self.heard.popleft()[1], now)
        while len(self.told) > 1 and now - self.told[0][0] > REACTION_S:
            self.to_go = self.told.popleft()[1]
        if self.zero_due is not None and now >= self.zero_due and self.phase == "zeroing":
            self.zero_due = now + 4.0
            return ["zero"]
        if self.bite_until is not None:
            if now >= self.bite_until:
                self.bite_until = None
                self.next_stroke = now + 0.6
                return ["bite"]
            return []
        if self.bender.ram_out(now) and self.bender.standing(now) and self.hand in ("pump", "slow"):
            if now < self.stroking_until + 0.6:
                return []
            self.bite_until = self.bender.next_hole(now) + 0.6
            return ["bite"]
        self._pump(now)
        self._let_go(now)
        return self._answer(now)

    def _take(self, cue: str, now: float) -> None:
        if cue in ("stop", "over"):
            if self.hand != "stop":
                self.bender.brake(now)
                self.hand, self.stop_since = "stop", now
                self.stroking_until = min(self.stroking_until, now + 0.15)
        elif cue in ("pump", "slow"):
            if self.hand == "stop":
                self.next_stroke = max(now, self.next_stroke)
            self.hand, self.stop_since = cue, None
        elif cue == "release":
            self.bender.brake(now)
            self.stroking_until = min(self.stroking_until, now + 0.15)
            self.hand = "letting go"
            self.stop_since = now - PATIENCE_S + 0.3
        else:
            self.bender.brake(now)
            self.stroking_until = min(self.stroking_until, now + 0.15)
            self.hand = "off"

    def _pump(self, now: float) -> None:
        if self.blind or self.let_go_at is not None or self.hand not in ("pump", "slow"):
            return
        if self.how.person == "to-go" and self._sized(now):
            return
        if now < max(self.stroking_until, self.next_stroke):
            return
        if self.hand == "slow":
            dps, seconds = self.chance.uniform(*SHORT_DPS), self.chance.uniform(*SHORT_S)
        else:
            dps = min(max(self.chance.gauss(self.full, 1.0), STROKE_DPS[0]), STROKE_DPS[1])
            seconds = self.chance.uniform(*STROKE_S)
        if self.how.person == "to-go" and self.to_go < 0.5 * dps * seconds + 0.5:
            # The last strokes are sized by what is left, as well as a hand can.
            wanted = max(self.to_go, 0.1) * self.chance.gauss(0.95, 0.1)
            dps = min(max(2.0 * wanted / 0.8, 1.0), 5.0)
            seconds = min(max(2.0 * wanted / dps, 0.15), 1.2)
        self._stroke(now, dps, seconds)

    def _stroke(self, now: float, dps: float, seconds: float) -> None:
        self.bender.stroke(now, dps, seconds)
        self.stroking_until = now + seconds
        self.next_stroke = now + seconds + self.chance.uniform(*PAUSE_S)

    def _sized(self, now: float) -> bool:
        """Brake a stroke that is about to pass the stop; say whether the arm is at it."""
        rate = self.bender.at(now)[1]
        if now < self.stroking_until and rate > 0.0 and self.to_go - 0.22 * rate <= 0.1:
            self.bender.brake(now)
            self.stroking_until = now + 0.1
            self.next_stroke = now + 0.5
            return True
        return False

    def _let_go(self, now: float) -> None:
        if self.let_go_at is not None or self.blind or self.stop_since is None:
            return
        if self.hand not in ("stop", "letting go"):
            return
        if now - self.stop_since >= PATIENCE_S and now >= self.stroking_until:
            self.bender.let_go(now)
            self.let_go_at = now

    def _answer(self, now: float) -> list[str]:
        verdict = self.verdict
        if verdict is None:
            if (
                self.let_go_at is not None
                and now - self.let_go_at > 5.0
                and self.phase
                in (
                    "bending",
                    "holding",
                )
            ):
                self.let_go_at = now
                return ["next"]
            return []
        if now - self.verdict_at < 1.0 or not self.bender.standing(now) or self.bender.loaded:
            return []
        self.verdict_at = now
        asked = verdict.say == "measure" or verdict.worth >= ASKED_WORTH
        if self.how.reads(asked=asked) and not self.measured:
            self.measured += 1
            return [f"measured {abs(self.bender.bent + self.chance.gauss(0.0, PROTRACTOR)):.1f}"]
        self.verdict = None
        return ["next"]


@dataclass
class Count:
    """What came of one setup."""

    rows: list[tuple[float, ...]] = field(default_factory=list)
    """Bend number, hits, error, accepted, first stop short by, readings."""
    presses: list[tuple[float, ...]] = field(default_factory=list)
    """Hit number, true peak less stop, told peak less true, passed the old peak, told rest less
    true, sd, cause."""
    strokes: int = 0
    false_releases: int = 0
    false_rests: int = 0
    worst_reading: float = 0.0
    troubles: int = 0
    far: int = 0
    """Good readings further than 3 degrees from the truth."""
    unmarked: list[str] = field(default_factory=list)
    """Bends accepted out of tolerance without a fault in their row."""
    stuck: list[str] = field(default_factory=list)
    said: dict[str, int] = field(default_factory=dict)


class Troubles:
    """What happens to cable and chip, at random moments, one thing at a time."""

    def __init__(self, wire: Wire, clock: QuickClock, seed: int) -> None:
        self._injector = FaultInjector(wire, clock, [], [])
        self._clock = clock
        self._chance = random.Random(seed + 11)
        self.count = 0
        self._mend_at = math.inf
        self._next = clock.now() + self._chance.expovariate(1.0 / TROUBLE_EVERY_S)

    def step(self) -> None:
        """Begin or end one, if it is time."""
        now = self._clock.now()
        if now >= self._mend_at:
            self._injector.mend()
            self._mend_at = math.inf
            self._next = now + 3.0 + self._chance.expovariate(1.0 / TROUBLE_EVERY_S)
        if now < self._next or self._mend_at < math.inf:
            return
        self.count += 1
        injector = self._injector
        match self._chance.randrange(5):
            case 0:
                injector.nack(self._chance.randint(1, 60))
            case 1:
                injector.unplug()
            case 2:
                injector.freeze()
            case 3:
                injector.brown_out()
            case _:
                injector.flip_top_bits(self._chance.uniform(0.02, 0.5))
        self._mend_at = now + self._chance.uniform(*TROUBLE_S)


class Run:
    """One setup, from the alignment to the last bend."""

    def __init__(self, seed: int, how: How) -> None:
        self.how, self.seed = how, seed
        self.clock = QuickClock()
        self.chance = random.Random(seed)
        # A narrow world of sizes that a hand pump bends; all else as the aim's own benchmark.
        truth = Truth(np.random.default_rng([seed, 7]), World("loop"))
        self.bender = Bender(truth, how, seed, self.clock.now())
        self.person = Person(self.bender, how, seed)
        chip = "lsm6dso" if how.chip == "none" else how.chip
        self.sensor = Sensor(chip=chip)  # type: ignore[arg-type]  # from the list above
        self.bench = Bench(
            bench="sim",
            sensor=self.sensor,
            arm=Arm(radius_mm=RADIUS_MM, follows_tube=how.follows, bites=how.mode == "bites"),
        )
        self.angles = tuple(self.chance.uniform(*ANGLES) for _ in range(how.bends))
        self.count = Count()
        self._hit_seen: list[tuple[float, float]] = []
        self._stop = math.nan
        self._released = True
        self._old_peak = 0.0
        self._bend = 0
        self._readings = 0
        self._hits = 0
        self._short: float | None = None
        self._wire: Wire | None = None
        self._accepted = self._marked = False

    def go(self) -> Count:
        turns = self._perfect() if self.how.chip == "none" else self._by_bytes()
        task = Task(
            run_id=str(uuid.UUID(int=self.seed)),
            job="loop",
            die=self.bender.truth.die,
            tube=self.bender.truth.tube,
            lot="A",
            tolerance_deg=TOLERANCE,
            bend_angles=self.angles,
            follows_tube=self.how.follows,
            bites=self.how.mode == "bites",
        )
        model = Springback(self.bench, task.die, task.tube, "A")
        self.session = session = Session(begun(task, model))
        self._deal(session.open())
        self._began_bend = self.clock.now()
        troubles = None
        if self.how.faults and self._wire is not None:
            troubles = Troubles(self._wire, self.clock, self.seed)
        for given in turns:
            if troubles is not None:
                troubles.step()
                self.count.troubles = troubles.count
            if given is not None:
                self._look(given)
                self._deal(session.step(given))
            now = self.clock.now()
            self.bender.advance(now)
            was = self.person.let_go_at
            for word in self.person.act(now):
                if word.startswith("measured"):
                    self._readings += 1
                self._deal(session.step(Asked(now, stream.read_command(word))))
            if was is None and self.person.let_go_at is not None:
                self._pressed()
            if session.finished:
                break
            if now - self._began_bend > MOST_S or self._hits > MOST_HITS:
                said = self.person.verdict
                self.count.stuck.append(f"seed {self.seed} bend {self._bend}: {said}")
                self._close()
                break
        self.count.strokes = self.bender.strokes
        return self.count

    def _deal(self, outputs: Any) -> None:
        now = self.clock.now()
        for output in outputs:
            if isinstance(output, Row):
                if isinstance(output, BendRecord):
                    self._marked = bool(output.faults)
                self._deal(self.session.step(Durable(now)))
                continue
            self._note(output, now)
            self.person.hear(output, now)

    def _note(self, event: Any, now: float) -> None:
        match event:
            case stream.Target():
                if event.bend != self._bend:
                    if self._bend:
                        self._close()
                    self._bend, self._hits, self._readings = event.bend, 0, 0
                    self._old_peak, self._began_bend = 0.0, now
                    self._accepted = self._marked = False
                    self._short = None
                self._stop, self._released = event.stop_angle, False
            case stream.Peak():
                self._told_peak = event.arm
                if self.bender.loaded:
                    self.count.false_releases += 1
            case stream.Rest():
                if self.bender.loaded or not self.bender.standing(now):
                    self.count.false_rests += 1
            case stream.Verdict():
                self._accepted = event.say == "accept"
                self.count.said[event.say] = self.count.said.get(event.say, 0) + 1
            case stream.Done():
                self._close()

    def _pressed(self) -> None:
        """A press is over: the person has just let go."""
        self._hits += 1
        peak = self.bender.peak
        passed = peak - self._old_peak
        short = peak - self._stop
        if self._short is None:
            self._short = short
        self.count.presses.append((self._bend, self._hits, short, passed))
        self._old_peak = max(self._old_peak, peak)

    def _close(self) -> None:
        error = self.bender.bent - self.angles[self._bend - 1]
        if self._accepted and not self._marked and abs(error) > TOLERANCE:
            self.count.unmarked.append(f"seed {self.seed} bend {self._bend}: {error:+.2f}")
        self.count.rows.append((self._bend, self._hits, error, self._short or 0.0, self._readings))

    def _look(self, given: Any) -> None:
        if not isinstance(given, ArmEstimate):
            return
        track = _track(self.session)
        if track is None or track.phase in ("zeroing",) or self.how.mode == "bites":
            return
        off = abs(given.arm_deg - track.zero - self.bender.arm(given.t))
        self.count.far += off > FAR_DEG
        self.count.worst_reading = max(self.count.worst_reading, off)

    def _perfect(self) -> Any:
        chance = random.Random(self.seed + 5)
        yield Back(self.clock.now())
        while True:
            self.clock.sleep(1.0 / PERFECT_HZ)
            t = self.clock.now()
            deg, dps, _ = self.bender.at(t)
            yield ArmEstimate(t, deg + chance.gauss(0.0, 0.01), dps, 0.02, 0.01)

    def _by_bytes(self) -> Any:
        kind = KINDS[self.sensor.chip]
        chip = kind.make(self.bender.feel, self.clock.now(), self.seed)
        wire = Wire(chip, kind.usual_address, self.clock, self.seed)
        self._wire = wire
        bus = Bus(lambda number: SimBus(Wires(wire), 1, number), 1)
        driver = open_chip(self.sensor, bus, self.clock)
        facts = chip_facts(self.sensor)
        turn = MultiPositionCalibration(self.sensor, driver.identity)
        for sample in self._samples(driver, self.bender.turn_box(self.clock.now() + 0.5)):
            turn.see(sample)
        known = turn.end()
        swung = self._samples(driver, self.bender.swing(self.clock.now() + 0.5))
        mount = fit_mount(list(swung), self.sensor, driver.identity, known)
        estimator = ArmAngleEstimator(mount, driver.facts, self.bench.arm, known)
        # Settings are read back ten times a second, as on a busy bus: a third of the time saved.
        sampler = Sampler(driver, HealthMonitor(facts, mount, known), self.clock, chips=50)
        return (None if told is None else estimated(estimator, told) for told in sampler.turns())

    def _samples(self, driver: Any, until: float) -> Any:
        for told in Sampler(driver, HealthMonitor(driver.facts), self.clock).turns():
            if isinstance(told, Sample):
                yield told
            if self.clock.now() > until:
                return


def _track(session: Any) -> Any:
    return session.state.arm.track


def by_angles(seed: int, how: How) -> list[tuple[float, ...]]:
    """Bend the same setup by the same aims with a person who stops within 0.25 whatever happens.

    No chip, no arm, no cue: peak and rest are off by 0.08. Rows as those of ``Count``.
    """
    truth = Truth(np.random.default_rng([seed, 7]), World("loop"))
    chance = random.Random(seed)
    angles = [chance.uniform(*ANGLES) for _ in range(how.bends)]
    rng = np.random.default_rng([seed, 8])
    arm = Arm(radius_mm=RADIUS_MM, follows_tube=how.follows)
    bench = Bench(bench="sim", sensor=Sensor(chip="lsm6dso"), arm=arm)
    model = Springback(bench, truth.die, truth.tube, "A")
    rows = []
    for number, wanted in enumerate(angles, start=1):
        piece, zero = truth.piece(wanted), rng.normal(0, ZERO)
        aim = model.aim(wanted, TOLERANCE)
        hits: list[tuple[float, float | None, float | None]] = []
        stops, readings, first, now = [], 0, 0.0, 0.0
        while aim.verdict == "again" and len(hits) < MOST_HITS:
            shown = aim.stop_angle + rng.normal(0, OPERATOR)
            first = first or shown - aim.stop_angle
            now = max(now, truth.bent(shown - zero - rng.normal(0, PEAK), piece))
            rest = now + truth.slack + zero + rng.normal(0, REST) if how.follows else None
            stops.append(aim.stop_angle)
            hits.append((shown, rest, None))
            aim = model.aim(wanted, TOLERANCE, tuple(hits))
            asked = aim.verdict == "measure" or aim.worth >= ASKED_WORTH
            if how.reads(asked=asked):
                readings += 1
                seen = now + rng.normal(0, PROTRACTOR)
                hits[-1] = (shown, rest, seen)
                aim = model.aim(wanted, TOLERANCE, tuple(hits))
        rows.append((number, len(hits), now - wanted, first, readings))
        made = Bend(
            die=truth.die,
            tube=truth.tube,
            lot="A",
            bend_angle=wanted,
            hits=tuple(hits),
            stop_angles=tuple(stops),
        )
        model = model.learn([made])
    return rows


def run(args: tuple[int, How]) -> tuple[Count, list[tuple[float, ...]]]:
    seed, how = args
    return Run(seed, how).go(), by_angles(seed, how)


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def table(rows: np.ndarray) -> None:
    say("  bend        in tol.   over     hits   > 4 hits   first stop: mean    sd   readings")
    for name, first, last in SPANS:
        r = rows[(rows[:, 0] >= first) & (rows[:, 0] <= last)]
        if len(r):
            e = r[:, 2]
            say(
                f"  {name:8} {np.mean(np.abs(e) <= TOLERANCE):9.1%} {np.mean(e > TOLERANCE):7.1%} "
                f"{r[:, 1].mean():8.2f} {np.mean(r[:, 1] > 4):9.1%} {r[:, 3].mean():14.2f} "
                f"{r[:, 3].std():7.2f} {r[:, 4].mean():8.2f}"
            )


def report(how: How, counts: list[Count]) -> None:
    rows = np.array([row for count in counts for row in count.rows])
    presses = np.array([press for count in counts for press in count.presses]).reshape(-1, 4)
    strokes = sum(count.strokes for count in counts)
    say(
        f"\n{how.chip}, {how.person}, {how.mode}: {len(counts)} setups, {len(rows)} bends, "
        f"{strokes} strokes"
    )
    table(rows)
    again = presses[presses[:, 1] > 1]
    for name, part in (("first presses", presses[presses[:, 1] == 1]), ("presses again", again)):
        if len(part):
            say(
                f"  {name}: {len(part)}, stopped at stop {part[:, 2].mean():+.2f} "
                f"sd {part[:, 2].std():.2f}, short by > 0.25: {np.mean(part[:, 2] < -0.25):.1%}, "
                f"past by > 0.25: {np.mean(part[:, 2] > 0.25):.1%}"
            )
    if len(again):
        say(f"  presses again that bend nothing: {np.mean(again[:, 3] <= 0.02):.1%}")
    said = collections.Counter[str]()
    for count in counts:
        said.update(count.said)
    say(
        f"  releases told that were none: {sum(c.false_releases for c in counts)}, rests told on a "
        f"loaded arm: {sum(c.false_rests for c in counts)}, furthest reading off: "
        f"{max(c.worst_reading for c in counts):.2f}; verdicts {dict(said)}"
    )
    if how.faults:
        unmarked = [line for count in counts for line in count.unmarked]
        say(
            f"  faults: {sum(c.troubles for c in counts)}; good readings further than "
            f"{FAR_DEG:g} off: {sum(c.far for c in counts)}; accepted out of tolerance unmarked: "
            f"{unmarked or 'none'}"
        )
    for count in counts:
        for line in count.stuck:
            say(f"  no way on: {line}")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--setups", type=int, default=20)
    parser.add_argument("--bends", type=int, default=12)
    parser.add_argument("--offset", type=int, default=0)
    parser.add_argument("--chip", choices=CHIPS, default="lsm6dso")
    parser.add_argument("--person", choices=("cues", "to-go"), default="cues")
    parser.add_argument("--mode", choices=MODES, default="asked")
    parser.add_argument("--faults", action="store_true")
    parser.add_argument("--processes", type=int, default=2)
    args = parser.parse_args()
    how = How(args.chip, args.person, args.mode, args.bends, args.faults)
    seeds = [(seed, how) for seed in range(args.offset, args.offset + args.setups)]
    if args.processes == 1:
        made = [run(each) for each in seeds]
    else:
        with ProcessPoolExecutor(args.processes) as pool:
            made = list(pool.map(run, seeds))
    report(how, [count for count, _ in made])
    say("\n  the same aims, stopped within 0.25 degrees whatever happens (no arm, no cue):")
    table(np.array([row for _, rows in made for row in rows]))


if __name__ == "__main__":
    main()
