"""A chip by its bytes on an arm whose strokes are braked: each brake knocks the box, and it rings.

It shares no motion with the program's own rehearsal bench: of that it takes the chip's registers
and the bus alone. Angles are degrees, > 0 while bending.
"""

import math
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from benchmate.sensing import chip_facts, open_chip
from benchmate.sensing.bus import Bus
from benchmate.sensing.calibration.multi_position import MultiPositionCalibration
from benchmate.sensing.estimator import ArmAngleEstimator
from benchmate.sensing.mount.alignment import Swing
from benchmate.sensing.sample import Sample
from benchmate.shop.parts import Arm, Sensor
from benchmate.sim.bus import SimBus
from benchmate.sim.chips.chip import Felt
from benchmate.sim.chips.kinds import KINDS
from benchmate.sim.clock import QuickClock
from benchmate.sim.wire import Wire, Wires

Floats = NDArray[np.float64]
G = 9.80665
RADIUS_MM = 80.0
STEP_S = 1e-3
DIES_S = 0.12
"""A knock's ringing is down to a twentieth after so long."""


class Knocked(NamedTuple):
    """What the box feels beside gravity and its own turning, from a time on."""

    t: float
    size_g: float
    hertz: float
    along_the_arm: float
    """Share of it outwards; the rest is across, where it looks like a turn."""

    def at(self, t: float) -> tuple[float, float]:
        age = t - self.t
        if age < 0.0 or age > 4.0 * DIES_S:
            return 0.0, 0.0
        now = (
            self.size_g * math.exp(-3.0 * age / DIES_S) * math.sin(2.0 * math.pi * self.hertz * age)
        )
        return now * self.along_the_arm, now * math.sqrt(1.0 - self.along_the_arm**2)


class Strokes:
    """Strokes of raised-cosine speed, braked before their end; made of rates at steps of 1 ms."""

    def __init__(self, rng: np.random.Generator) -> None:
        self._rng = rng
        self._rates: list[Floats] = []
        self.knocks: list[Knocked] = []
        self.stops: list[float] = []
        """When each stroke has been braked [s]."""

    @property
    def seconds(self) -> float:
        return STEP_S * sum(map(len, self._rates))

    def stay(self, seconds: float) -> None:
        self._rates.append(np.zeros(round(seconds / STEP_S)))

    def turn(self, degrees: float, seconds: float) -> None:
        s = (np.arange(round(seconds / STEP_S)) + 0.5) * STEP_S / seconds
        self._rates.append(degrees / seconds * (1.0 - np.cos(2.0 * np.pi * s)))

    def braked(
        self, dps: float, brake_s: float, size_g: float, hertz: float, along: float = 0.3
    ) -> None:
        """One stroke of so many degrees a second at its fastest, braked from there."""
        rise = (np.arange(round(0.35 / STEP_S)) + 0.5) * STEP_S / 0.35
        up = 0.5 * dps * (1.0 - np.cos(np.pi * rise))
        hold = np.full(round(self._rng.uniform(0.05, 0.3) / STEP_S), dps)
        fall = (np.arange(round(brake_s / STEP_S)) + 0.5) * STEP_S / brake_s
        down = 0.5 * dps * (1.0 + np.cos(np.pi * fall))
        self._rates += [up, hold, down]
        self.stops.append(self.seconds)
        if size_g:
            self.knocks.append(Knocked(self.seconds - 0.5 * brake_s, size_g, hertz, along))

    def any(self) -> None:
        rng = self._rng
        self.braked(
            rng.uniform(2.0, 9.0),
            rng.uniform(0.06, 0.14),
            rng.uniform(0.01, 0.05),
            rng.uniform(11.0, 35.0),
            rng.uniform(-0.7, 0.7),
        )

    def curves(self) -> tuple[Floats, Floats, Floats]:
        rate = np.concatenate(self._rates)
        return np.cumsum(rate) * STEP_S, rate, np.gradient(rate, STEP_S)


class Seen(NamedTuple):
    """What the estimator made of the strokes, sample by sample."""

    t: Floats
    arm: Floats
    """Since zero, as the truth."""
    rate: Floats
    sd: Floats
    noise: Floats
    true: Floats


class Braked:
    """One chip, calibrated by a turn and aligned by a swing, its bytes read by its driver."""

    def __init__(self, chip: str, seed: int, radius_mm: float = RADIUS_MM) -> None:
        self.rng = np.random.default_rng(seed)
        self.clock = QuickClock()
        self.sensor = Sensor(chip=chip)
        self.arm = Arm(radius_mm=radius_mm)
        self._radius_m = radius_mm / 1000.0
        frame = np.linalg.qr(self.rng.normal(size=(3, 3)))[0]
        self._frame = frame * np.sign(np.linalg.det(frame))
        self._start = self.rng.uniform(0.0, 2.0 * np.pi)
        self._play(Strokes(self.rng))
        kind = KINDS[chip]
        made = kind.make(self._feel, self.clock.now(), seed)
        wires = Wires(Wire(made, kind.usual_address, self.clock, seed))
        self.facts = chip_facts(self.sensor)
        bus = Bus(lambda number: SimBus(wires, 1, number), 1)
        self.driver = open_chip(self.sensor, bus, self.clock)
        self.driver.start()
        turn = MultiPositionCalibration(self.sensor)
        radius, self._radius_m = self._radius_m, 0.0
        strokes = Strokes(self.rng)
        for _ in range(12):
            strokes.stay(1.5)
            strokes.turn(30.0 * self.rng.uniform(0.85, 1.1), 0.8)
        strokes.stay(1.5)
        for sample in self.samples(strokes):
            turn.see(sample)
        self.calibration = turn.end()
        self._radius_m = radius
        swing = Swing(self.sensor, "", self.calibration)
        strokes = Strokes(self.rng)
        for degrees in (95.0, -95.0):
            strokes.stay(1.0)
            strokes.turn(degrees, 3.5)
        for sample in self.samples(strokes):
            swing.see(sample)
        self.mount = swing.end()

    def samples(self, strokes: Strokes) -> list[Sample]:
        self._play(strokes)
        until = self.clock.now() + strokes.seconds
        found = []
        while self.clock.now() < until:
            sample = self.driver.read()
            if sample is not None:
                found.append(sample)
            self.clock.sleep(0.25 / self.facts.rate_hz)
        return found

    def follow(self, strokes: Strokes, **how: Any) -> Seen:
        """Stand still for the first second: zero is taken over its second half."""
        samples = self.samples(strokes)
        estimator = ArmAngleEstimator(self.mount, self.facts, self.arm, self.calibration, **how)
        told = np.array([estimator.step(sample) for sample in samples])
        t = told[:, 0] - self._since
        arm = told[:, 1] - told[(t > 0.5) & (t < 1.0), 1].mean()
        angle = np.interp(t, STEP_S * (np.arange(len(self._curves[0])) + 1.0), self._curves[0])
        return Seen(t, arm, told[:, 2], told[:, 3], told[:, 4], angle)

    def _play(self, strokes: Strokes) -> None:
        self._since = self.clock.now()
        self._knocks = strokes.knocks
        strokes.stay(0.1)
        self._curves = strokes.curves()

    def _moves(self, age: float) -> list[float]:
        """Give angle [rad], rate and acceleration at a time since the strokes began."""
        place = min(max(age / STEP_S - 1.0, 0.0), len(self._curves[0]) - 2.0)
        i = int(place)
        part = place - i
        return [math.radians(c[i] + part * (c[i + 1] - c[i])) for c in self._curves]

    def _feel(self, t: float) -> Felt:
        age = t - self._since
        angle, rate, push = self._moves(age)
        angle += self._start
        out = math.cos(angle) - self._radius_m * rate * rate / G
        along = -math.sin(angle) + self._radius_m * push / G
        for knock in self._knocks:
            more = knock.at(age)
            out, along = out + more[0], along + more[1]
        felt = self._frame @ [out, along, 0.0]
        turn = self._frame[:, 2] * np.degrees(rate)
        return Felt(tuple(felt), tuple(turn), 0.0, 21.0)
