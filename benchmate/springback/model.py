"""The library's front: what a setup is known to do, and where to stop."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from benchmate.errors import Refusal
from benchmate.shop.parts import Bench, Die, Tube
from benchmate.springback import advice
from benchmate.springback.aim import NextPress, Wanted, judge_piece, worth_of_reading
from benchmate.springback.belief import Belief, Curve, believed, springback_curve
from benchmate.springback.bend import MOST_DEG, Aim, Bend, readable
from benchmate.springback.knowledge import Knowledge
from benchmate.springback.mixture import Mixture
from benchmate.springback.noise import ARM_SD
from benchmate.springback.piece import PieceBelief, Press, judge, next_press, presses, unbent
from benchmate.springback.prior import Array, Setup

Hits = tuple[tuple[float, float | None, float | None], ...]


@dataclass(frozen=True, slots=True)
class Springback:
    """What is known of one setup. Frozen: ``learn`` gives a new one."""

    bench: Bench
    die: Die
    tube: Tube
    lot: str = ""
    knowledge: Knowledge = field(default_factory=Knowledge)

    def learn(self, bends: Iterable[Bend]) -> "Springback":
        """Give the model after these bends, of whatever die, tube and lot on this bench."""
        known = self.knowledge
        for bend in bends:
            _check_hits(bend.hits)
            _check_hits((stop,) for stop in bend.stop_angles)
            _check_sd(bend.arm_sd)
            known = known.learn(
                Setup(bend.bench or self.bench, bend.die, bend.tube, bend.lot), bend
            )
        return replace(self, knowledge=known)

    def aim(
        self,
        bend_angle: float,
        tolerance: float,
        hits: Hits = (),
        over_limit: float = 0.02,
        *,
        arm_sd: float | None = None,
    ) -> Aim:
        """Say what to do next with a piece that took these hits so far: see ``Aim``.

        Degrees; ``over_limit`` is the chance of ending over tolerance that the whole bend may have,
        ``arm_sd`` the standard deviation of peaks and rests where the sensor says one. Refusal for
        what is no angle, tolerance, limit or reading.
        """
        _check_wanted(bend_angle, tolerance, over_limit)
        _check_hits(hits)
        _check_sd(arm_sd)
        wanted = Wanted(bend_angle, tolerance, over_limit)
        made = presses(hits, arm_sd=arm_sd, rests_count=self.bench.arm.follows_tube)
        return self._judged(wanted, made) if made else self._first(wanted, arm_sd)

    def free_radius_mm(self) -> tuple[float, float]:
        """Give the centreline radius after release and its standard deviation [mm]: R (1 + b)."""
        figure = self.belief().free_radius_mm
        return figure.value, figure.sd

    def belief(self) -> Belief:
        """Give what is known of this setup in trade words."""
        return believed(self.knowledge, self.setup)

    def curve(self, angles: Iterable[float]) -> Curve:
        """Give the springback believed at these bend angles, with 68 % and 95 % doubt to draw."""
        return springback_curve(self.knowledge, self.setup, np.array(list(angles), dtype=float))

    def _first(self, wanted: Wanted, arm_sd: float | None) -> Aim:
        mean, cov = self.knowledge.of(self.setup)
        piece = unbent(self.setup, mean, cov, self.knowledge.scales, wanted.bend_angle)
        press = self._next_press(mean, piece, wanted, arm_sd, passed=0.0)
        stop = press.stop(wanted)
        after = press.after(stop)
        return Aim(
            verdict="again",
            stop_angle=stop,
            sd=after.spread,
            bend_angle=0.0,
            stop_sd=after.spread,
            over_angle=press.over_angle(wanted),
            expected=max(after.centre, 0.0),
            advice=advice.before_first(after, self.knowledge.stopping.sd, wanted),
        )

    def _judged(self, wanted: Wanted, made: list[Press]) -> Aim:
        mean, cov = self.knowledge.of(self.setup)
        piece = judge(self.setup, mean, cov, self.knowledge.scales, made)
        now = Mixture.of(piece.chance, piece.angle, piece.angle_sd)
        passed, wrong = made[-1].peak, piece.last_misread > 0.5
        read = bool(made[-1].measured) and not wrong
        press = self._next_press(mean, piece, wanted, made[-1].arm_sd, passed=passed)
        stop = press.stop(wanted)
        after = press.after(stop)
        if read or (self.bench.arm.follows_tube and not wrong):
            verdict = judge_piece(now, after, wanted, gains=stop > passed, read=read)
        else:
            verdict = "measure"
        return Aim(
            verdict=verdict,
            stop_angle=stop,
            sd=now.spread,
            bend_angle=max(now.centre, 0.0),
            stop_sd=after.spread,
            over_angle=press.over_angle(wanted),
            expected=max(after.centre, 0.0),
            worth=0.0 if read else worth_of_reading(now, wanted, verdict),
            advice=advice.after_press(verdict, now, wanted, piece, read=read),
        )

    def _next_press(
        self,
        mean: Array,
        piece: PieceBelief,
        wanted: Wanted,
        arm_sd: float | None,
        *,
        passed: float,
    ) -> NextPress:
        stopping = self.knowledge.stopping
        stop_var = stopping.sd**2 + (ARM_SD if arm_sd is None else arm_sd) ** 2
        offset, slope, sd = next_press(self.setup, mean, piece, wanted.bend_angle, stop_var)
        return NextPress(Mixture.of(piece.chance, offset, sd), slope, stopping.mean, passed)

    @property
    def setup(self) -> Setup:
        """Give bench, die, tube and lot as one value."""
        return Setup(self.bench, self.die, self.tube, self.lot)


def _check_wanted(bend_angle: float, tolerance: float, over_limit: float) -> None:
    if not 0 < bend_angle <= 360:
        raise Refusal(f"a bend angle of {bend_angle:g} degrees can't be aimed at; give one above 0")
    if not 0 < tolerance < math.inf:
        raise Refusal(f"a tolerance of {tolerance:g} degrees can't be held; give one above 0")
    if not 0 < over_limit < 1:
        raise Refusal(f"a limit of {over_limit:g} is no chance; give one between 0 and 1, as 0.02")


def _check_hits(hits: Iterable[tuple[float | None, ...]]) -> None:
    for number, hit in enumerate(hits, start=1):
        if not readable(hit):
            raise Refusal(
                f"hit {number} holds a reading that no arm can have: {tuple(hit)}; "
                f"give degrees within ±{MOST_DEG:g}"
            )


def _check_sd(sd: float | None) -> None:
    if sd is not None and not 0 <= sd <= MOST_DEG:
        raise Refusal(f"a sensor's standard deviation of {sd:g} degrees can't be; give 0 or more")
