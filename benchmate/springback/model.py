"""The library's front: what a setup is known to do, and where to stop."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from benchmate.errors import Refusal
from benchmate.shop.parts import Bench, Die, Tube
from benchmate.springback.aim import Mixture, Wanted, decide
from benchmate.springback.bend import Aim, Bend
from benchmate.springback.knowledge import Knowledge
from benchmate.springback.piece import judge, next_press, presses, unbent
from benchmate.springback.prior import DIE, LOT, STEEL, Setup

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
            known = known.learn(Setup(self.bench, bend.die, bend.tube, bend.lot), bend)
        return replace(self, knowledge=known)

    def aim(
        self, bend_angle: float, tolerance: float, hits: Hits = (), over_limit: float = 0.02
    ) -> Aim:
        """Say what to do next with a piece that took these hits so far: see ``Aim``. Degrees."""
        _check_wanted(bend_angle, tolerance, over_limit)
        _check_hits(hits)
        follows = self.bench.arm.follows_tube
        made = presses(hits, rests_count=follows)
        mean, cov = self.knowledge.of(self.setup)
        scales, stopping = self.knowledge.scales, self.knowledge.stopping
        if made:
            piece = judge(self.setup, mean, cov, scales, made)
            now = Mixture.of(piece.chance, piece.angle, piece.angle_sd)
        else:
            piece = unbent(self.setup, mean, cov, scales, bend_angle)
            now = None
        offset, slope, sd = next_press(self.setup, mean, piece, bend_angle, stopping.sd**2)
        aim = decide(
            Wanted(bend_angle, tolerance, over_limit),
            now,
            Mixture.of(piece.chance, offset, sd),
            slope=slope,
            passed=made[-1].peak if made else 0.0,
            stop_mean=stopping.mean,
        )
        if made and not follows and not made[-1].measured:
            return replace(aim, verdict="measure")
        return aim

    def free_radius_mm(self) -> tuple[float, float]:
        """Give the centreline radius after release and its standard deviation [mm]: R (1 + b)."""
        mean, cov = self.knowledge.of(self.setup)
        share = self.die.centreline_radius_mm * self.setup.per_degree
        ratio = [DIE, STEEL, LOT]
        radius = self.die.centreline_radius_mm + share * (1 + float(mean[ratio].sum()))
        return radius, share * math.sqrt(float(cov[np.ix_(ratio, ratio)].sum()))

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


def _check_hits(hits: Hits) -> None:
    for number, hit in enumerate(hits, start=1):
        if not all(reading is None or math.isfinite(reading) for reading in hit):
            raise Refusal(f"hit {number} holds a reading that is no number: {tuple(hit)}")
