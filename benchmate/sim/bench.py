"""The simulated bench: an arm, a pump, a valve, a tube, a chip on a bus.

The world has no clockwork of its own. Its motion is in closed form, and what chance adds is drawn
by number (stroke, sample, piece), so the same seed and the same deeds at the same times give the
same world, however often anybody looks.
"""

import math
import threading
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

from benchmate.clock import Clock
from benchmate.measurement import PROTRACTOR_SD_DEG
from benchmate.shop.parts import Bench, Die, Sensor, Tube
from benchmate.sim.bus import SimBus
from benchmate.sim.chips.chip import Feel, Felt
from benchmate.sim.chips.kinds import KINDS
from benchmate.sim.draws import chance, stable_seed
from benchmate.sim.faults import FaultInjector
from benchmate.sim.motion import Motion, Move, both
from benchmate.sim.mounting import Knock, Mounting, Warming, draw_mounting, felt, on_frame
from benchmate.sim.truth import draw_piece, draw_truth
from benchmate.sim.tube import SimulatedBend, Truth
from benchmate.sim.wire import Wire, Wires

Pace = Literal["normal", "slow"]

RAM_DEG = 50.0
"""How far the ram of a bender that bites can turn its arm from one pin hole."""
HOLE_DEG = 40.0
"""From one pin hole to the next."""
_PLAY_DEG = 0.4
_HAND_S = 0.05
"""In which a hand stops a stroke."""
_FALL_DPS = 40.0
_CARRY_DPS = 60.0
_SWING_DEG, _SWING_S = 100.0, 5.0
_STOP_S, _TURN_S = 1.5, 1.0
_STROKES = {"normal": (2.0, 4.0, 0.4, 0.6), "slow": (0.6, 1.0, 0.7, 0.9)}
"""By pace: least and most degrees, least and most seconds of a stroke."""
_PAUSE_S = (0.25, 0.4)
_BOUNCE_DEG = 0.04


class SimBench:
    """A bench to rehearse on. Deeds of the person at it are its methods; drivers get ``bus``.

    Every stroke of the pump rocks the frame by ``rocks_deg`` and back, the arm with it.
    Threads may share it. ``truth``, ``true_bend_angle`` and ``arm_deg`` are what nobody at a bench
    can see: for checks and tests.
    """

    def __init__(
        self,
        bench: Bench,
        clock: Clock,
        seed: int = 0,
        *,
        mounting: Mounting | None = None,
        plain_i2c: bool = True,
        rocks_deg: float = 0.0,
    ) -> None:
        now = clock.now()
        self.clock = clock
        self._bench = bench
        self._seed = stable_seed(seed, bench.bench)
        self._plain_i2c = plain_i2c
        self.mounting = mounting or draw_mounting(bench.arm, self._seed, now - 60.0)
        self._motion = Motion(now, 0.0)
        self._rocks_deg = rocks_deg
        self._rocking = Motion(now, 0.0)
        self._snug = self._home = 0.0
        """Where on the arm's own scale the tube is snug; home moves on with every pin hole."""
        self._place: SimulatedBend | None = None
        self._pumping_from: float | None = None
        self._pace: Pace = "normal"
        self._strokes = 0
        self._between_holes = False
        self._setup: tuple[object, ...] = ()
        self._tubes = self._places = self._measured = 0
        self._knocks: list[Knock] = []
        self._warmings: list[Warming] = []
        self._wire = self._wired(
            bench.sensor, self._feel, stable_seed(self._seed, bench.sensor.chip)
        )
        self.faults = FaultInjector(self._wire, clock, self._knocks, self._warmings)
        self._wires = Wires(self._wire)
        self.frame_faults: FaultInjector | None = None
        """Troubles of the chip on the frame, where bench.yaml has one."""
        if bench.frame_sensor is not None:
            seed = stable_seed(self._seed, bench.frame_sensor.chip, "frame")
            self._frame_mounting = on_frame(self.mounting, self._seed)
            wire = self._wired(bench.frame_sensor, self._feel_frame, seed, self._wire.lock)
            self._frame_knocks: list[Knock] = []
            self.frame_faults = FaultInjector(wire, clock, self._frame_knocks, self._warmings)
            self._wires = Wires(self._wire, wire)

    def bus(self, bus: int | str | None = None, force: bool = False) -> SimBus:
        """Open the bus: to be called where ``smbus2.SMBus`` would be."""
        return SimBus(
            self._wires, self._bench.sensor.bus, bus, force=force, plain_i2c=self._plain_i2c
        )

    def load(self, die: Die, tube: Tube, lot: str = "", **changed: float) -> None:
        """Clamp a new straight piece of this setup snug; ``changed``: fields of its Truth."""
        with self._wire.lock:
            setup = (die.die, tube.tube, lot)
            self._tubes = self._tubes + 1 if setup == self._setup else 1
            self._setup, self._places = setup, 0
            self._drawn = draw_truth(self._seed, die, tube, lot)
            self._changed = changed
            self._clamp()

    def next_place(self) -> None:
        """Move the same tube on to its next bend and clamp it snug."""
        with self._wire.lock:
            if self._place is None:
                raise ValueError("no tube is in the bench: load one first")
            self._places += 1
            self._clamp()

    def stand(self, places: int, peaks: Sequence[float]) -> None:
        """Have the tube stand so many places on, pressed there to these arm angles and let off."""
        with self._wire.lock:
            self._places = places
            self._clamp()
            for peak in peaks:
                self._place = self._loaded.press(peak)
            if self._bench.arm.follows_tube:
                rest = self._home + self._loaded.rest_deg
                self._go_back(self.clock.now(), rest, _CARRY_DPS, bounce=0.0)

    @property
    def pace(self) -> Pace:
        """How the next stroke will be."""
        return self._pace

    @pace.setter
    def pace(self, pace: Pace) -> None:
        with self._wire.lock:
            self._advance()
            self._pace = pace

    def pump(self, on: bool, push_deg: float = 0.0) -> None:
        """Start pumping, or stop in mid-stroke with the hand pushing so much further."""
        with self._wire.lock:
            now = self._advance()
            if on:
                if self._pumping_from is None and not self._between_holes:
                    self._pumping_from = max(now, self._motion.last.done)
                return
            if self._pumping_from is None:
                return
            self._pumping_from = None
            self._stop_hand(now, push_deg)

    def open_valve(self) -> None:
        """Let the pressure off: the arm falls back with the tube, or all the way by itself."""
        with self._wire.lock:
            now = self._advance()
            self._pumping_from = None
            here = self._motion.cut(now)
            if self._bench.arm.follows_tube:
                rest = self._place.rest_deg if self._place else 0.0
                target = min(here.deg, self._home + rest)
            else:
                target = min(here.deg, self._snug)
            self._go_back(now, target, _FALL_DPS, bounce=-2.0 * _BOUNCE_DEG)

    def take_bite(self) -> None:
        """Latch the tube, take the arm back by one pin hole, and set the pin there."""
        with self._wire.lock:
            now = self._advance()
            self.pump(on=False)
            last = self._motion.last
            if last.loads:
                self._place = self._loaded.press(last.end - self._home)
            begins = max(now, last.done) + 0.3
            self._motion.add(Move(begins, 2.0 * HOLE_DEG / _CARRY_DPS, last.end, -HOLE_DEG))
            self._home -= HOLE_DEG
            self._between_holes = True

    def swing(self) -> None:
        """Swing the arm without a tube once up and back: still first, then the way of bending."""
        self._move_unloaded(((1.0, _SWING_S, _SWING_DEG), (0.6, _SWING_S, -_SWING_DEG)))

    def turn_box(self, stops: int = 12) -> None:
        """Take the sensor's box in hand and turn it once round in the swing plane, with stops."""
        self._move_unloaded(((_STOP_S, _TURN_S, 360.0 / stops),) * stops)
        with self._wire.lock:
            # Once round is where it was: go on from there without the whole turn.
            last = self._motion.last
            self._motion.add(Move(last.done, 0.0, last.end - 360.0, 0.0))

    def measure(self) -> float:
        """Read the relaxed tube's bend angle [deg] off a protractor: to 0.1, with its scatter."""
        with self._wire.lock:
            self._advance()
            self._measured += 1
            names = (*self._setup, self._tubes, self._places, self._measured)
            slip = chance(self._seed, "protractor", *names).standard_normal()
            return round(self.true_bend_angle + PROTRACTOR_SD_DEG * float(slip), 1)

    def measure_arm(self) -> float:
        """Read the arm's angle [deg, 0 to 360] off a protractor: to 0.1, with its scatter."""
        with self._wire.lock:
            now = self._advance()
            self._measured += 1
            slip = chance(self._seed, "protractor on the arm", self._measured).standard_normal()
            arm = self._motion.at(now).deg + PROTRACTOR_SD_DEG * float(slip)
            return round(arm % 360.0, 1)

    @property
    def standing(self) -> bool:
        """Say whether the arm stands still and nobody is about to move it."""
        with self._wire.lock:
            now = self._advance()
            return self._pumping_from is None and now > self._motion.last.done + 0.2

    @property
    def ram_out(self) -> bool:
        """Say whether the ram stands at its end and the arm must go back a hole."""
        with self._wire.lock:
            self._advance()
            return self._bench.arm.bites and self._motion.last.end >= RAM_DEG - 1e-9

    @property
    def truth(self) -> Truth:
        """What this die does with this piece."""
        return self._loaded.truth

    @property
    def true_bend_angle(self) -> float:
        """The tube's bend angle [deg] were the load taken off now."""
        with self._wire.lock:
            self._advance()
            return self._loaded.bend_angle_deg

    @property
    def arm_deg(self) -> float:
        """The arm angle [deg] from the snug tube; between two bites that at which it is latched."""
        with self._wire.lock:
            now = self._advance()
            deg = self._motion.at(now).deg - self._home
            return min(deg, self._loaded.peak_deg) if self._between_holes else deg

    @property
    def felt(self) -> Felt:
        """What acts on the chip now."""
        with self._wire.lock:
            self._advance()
            return self._feel(self.clock.now())

    @property
    def _loaded(self) -> SimulatedBend:
        if self._place is None:
            raise ValueError("no tube is in the bench: load one first")
        return self._place

    def _move_unloaded(self, moves: Sequence[tuple[float, float, float]]) -> None:
        """Take the tube out and move by hand: each time wait [s], then move for [s] by [deg]."""
        with self._wire.lock:
            now = self._advance()
            self._pumping_from, self._place = None, None
            self._motion.cut(now)
            for wait, lasts, push in moves:
                last = self._motion.last
                self._motion.add(Move(max(now, last.done) + wait, lasts, last.end, push))

    def _clamp(self) -> None:
        now = self._advance()
        names = (*self._setup, self._tubes, self._places)
        piece, share = draw_piece(self._seed, *names)
        drawn = {"piece_deg": piece, "piece_share": share, **self._changed}
        self._place = SimulatedBend(replace(self._drawn, **drawn))
        self._snug = float(chance(self._seed, "snug", *names).uniform(-_PLAY_DEG, _PLAY_DEG))
        self._home = self._snug
        self._pumping_from, self._between_holes = None, False
        self._motion.cut(now)
        self._go_back(now, self._home, _CARRY_DPS, bounce=0.0)

    def _advance(self) -> float:
        """Bring the world to the clock's time: strokes begun since, the tube pressed by them."""
        now = self.clock.now()
        if self._between_holes and now >= self._motion.last.done:
            self._between_holes = False
        while self._pumping_from is not None and self._pumping_from <= now:
            begins = self._pumping_from
            self._press(begins)
            self._begin_stroke(begins)
        self._press(now)
        return now

    def _press(self, t: float) -> None:
        move = self._motion.current(t)
        if self._place is not None and move.loads and not self._between_holes:
            self._place = self._place.press(move.reach(t) - self._home)

    def _begin_stroke(self, t: float) -> None:
        self._strokes += 1
        draw = chance(self._seed, "stroke", self._strokes)
        least, most, quickest, slowest = _STROKES[self._pace]
        push = float(draw.uniform(least, most))
        lasts = float(draw.uniform(quickest, slowest))
        here = self._motion.at(t)
        if self._bench.arm.bites:
            push = max(0.0, min(push, RAM_DEG - here.deg - 0.5 * here.dps * lasts))
        bounce = _BOUNCE_DEG * float(draw.uniform(0.5, 1.5)) * math.sqrt(push / most)
        self._motion.add(Move(t, lasts, here.deg, push, here.dps, bounce, loads=True))
        self._rock(t, lasts)
        self._pumping_from = t + lasts + float(draw.uniform(*_PAUSE_S))

    def _rock(self, t: float, lasts: float) -> None:
        """Let the frame sway over and back with a stroke, to its end whatever the hand does."""
        half = lasts / 2.0
        begins = max(t, self._rocking.last.done)
        self._rocking.add(Move(begins, half, 0.0, self._rocks_deg))
        self._rocking.add(Move(begins + half, half, self._rocks_deg, -self._rocks_deg))

    def _stop_hand(self, t: float, push_deg: float) -> None:
        here = self._motion.cut(t)
        if t >= self._motion.current(t).done and push_deg == 0.0:
            return
        lasts = _HAND_S + 0.1 * math.sqrt(push_deg)
        self._motion.add(
            Move(t, lasts, here.deg, push_deg, here.dps, 0.5 * _BOUNCE_DEG, loads=True)
        )

    def _go_back(self, t: float, target: float, dps: float, bounce: float) -> None:
        here = self._motion.at(t)
        far = target - here.deg
        lasts = max(2.0 * abs(far) / dps, 0.1)
        self._motion.add(Move(t, lasts, here.deg, far - 0.5 * here.dps * lasts, here.dps, bounce))

    def _feel(self, t: float) -> Felt:
        """Give what acts on the chip at the time t, not later than now."""
        if self._pumping_from is not None and self._pumping_from <= t:
            self._advance()
        turning = both(self._motion.at(t), self._rocking.at(t))
        return felt(self.mounting, turning, self._knocks, t, self._warmings)

    def _feel_frame(self, t: float) -> Felt:
        if self._pumping_from is not None and self._pumping_from <= t:
            self._advance()
        return felt(
            self._frame_mounting, self._rocking.at(t), self._frame_knocks, t, self._warmings
        )

    def _wired(
        self, sensor: Sensor, feel: Feel, seed: int, lock: "threading.RLock | None" = None
    ) -> Wire:
        kind = KINDS[sensor.chip]
        chip = kind.make(feel, self.clock.now(), seed)
        address = sensor.address if sensor.address is not None else kind.usual_address
        return Wire(chip, address, self.clock, self._seed, lock)
