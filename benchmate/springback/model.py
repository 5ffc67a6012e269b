"""The library's front: what a setup is known to do, and where to stop."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from benchmate.errors import Refusal
from benchmate.shop.parts import Bench, Die, Tube
from benchmate.springback.aim import WantedAngle
from benchmate.springback.belief import Belief, Curve, believed, springback_curve
from benchmate.springback.bend import MOST_DEG, Aim, Bend, Hit, readable
from benchmate.springback.knowledge import Knowledge
from benchmate.springback.limits import Limits
from benchmate.springback.pressing import AtBender
from benchmate.springback.prior import Setup

OVER_LIMIT = 0.02
"""Chance of over-bending that a bend may have, unless the person sets another."""

Hits = tuple[tuple[float, float | None, float | None], ...]


@dataclass(frozen=True, slots=True)
class Springback:
    """What is known of one setup. Frozen: ``learn`` gives a new one."""

    bench: Bench
    die: Die
    tube: Tube
    lot: str = ""
    knowledge: Knowledge = field(default_factory=Knowledge)
    over_limit: float = OVER_LIMIT
    """Chance of ending over tolerance that a bend may have, unless ``aim`` is told another."""

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
        over_limit: float | None = None,
        *,
        arm_sd: float | None = None,
        limits: Limits | None = None,
    ) -> Aim:
        """Say what to do next with a piece that took these hits so far: see ``Aim``.

        ``limits`` are the drawing's where planning anew moved the angle that is aimed at; None:
        the angle and its tolerance.

        Degrees; ``over_limit`` is the chance of ending over tolerance that the whole bend may have
        (None: the model's own), ``arm_sd`` the standard deviation of peaks and rests where the
        sensor says one. Refusal for what is no angle, tolerance, limit or reading.
        """
        over_limit = self.over_limit if over_limit is None else over_limit
        _check_wanted(bend_angle, tolerance, over_limit)
        _check_hits(hits)
        _check_sd(arm_sd)
        _check_limits(bend_angle, limits)
        wanted = WantedAngle(bend_angle, tolerance, over_limit, limits)
        at = AtBender.of(self.setup, self.knowledge, wanted, arm_sd)
        return at.judged(tuple(Hit(*hit) for hit in hits)) if hits else at.first()

    def free_radius_mm(self) -> tuple[float, float]:
        """Give the centreline radius after release and its standard deviation [mm]: R (1 + b)."""
        figure = self.belief().free_radius_mm
        return figure.value, figure.sd

    def slack_deg(self) -> float:
        """Give the arm rotation from zero that is expected to bend nothing."""
        return self.belief().slack_deg.value

    def belief(self) -> Belief:
        """Give what is known of this setup in trade words."""
        return believed(self.knowledge, self.setup)

    def curve(self, angles: Iterable[float]) -> Curve:
        """Give the springback believed at these bend angles, with 68 % and 95 % bands to draw."""
        return springback_curve(self.knowledge, self.setup, np.array(list(angles), dtype=float))

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


def _check_limits(bend_angle: float, limits: Limits | None) -> None:
    if limits is not None and not limits.lowest < bend_angle < limits.highest:
        raise Refusal(
            f"a bend angle of {bend_angle:g} degrees isn't between its limits, "
            f"{limits.lowest:g} and {limits.highest:g}; aim between them"
        )


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
