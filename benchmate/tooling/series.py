"""What each bend says of its die, freed of what its tube and lot are known to do."""

import math
from collections.abc import Iterable
from typing import NamedTuple

from benchmate.springback import Bend, Knowledge, noise
from benchmate.springback.prior import ABOVE_MINIMUM, LOT, SLACK, STEEL, Setup
from benchmate.tooling.drift import (
    BENDS_TO_FALSE_ALARM,
    BENDS_TO_FALSE_ALARM_BY_SPRINGBACK,
    SETTLING,
    Drift,
    Point,
    drift_in,
)
from benchmate.tooling.load import Share

CAUSES = {
    "slack": "a bolt let go, the pivot's bushing wears, the groove wears wide",
    "springback on this die": "the core creeps or is crushed and the radius changes; the sensor or"
    " its clamp moved; the tube isn't the lot that is written",
}


class Changed(NamedTuple):
    """A drift, and what of."""

    of: str
    drift: Drift

    @property
    def causes(self) -> str:
        """Name what usually causes it."""
        return CAUSES[self.of]


def slack_points(bends: Iterable[Bend], knowledge: Knowledge) -> list[Point]:
    """Give the slack that each measured bend showed: peak less what the tube took of it."""
    points = []
    for bend in bends:
        measured = [hit for hit in bend.hits if hit[2] is not None]
        if bend.bench is None or not measured:
            continue
        peak, _, angle = measured[-1]
        if angle is None or peak < max(hit[0] for hit in bend.hits) - 1e-9:
            continue
        taken, scatter = _taken(bend, angle, knowledge)
        how = bend.how_measured[-1] if bend.how_measured else None
        reading = noise.READING_SD.get(how or "protractor", noise.READING_SD["protractor"])
        arm = bend.arm_sd or noise.ARM_SD
        sd = math.hypot(scatter, reading, noise.GAUGE_SD, arm, noise.ZERO_SD)
        points.append(Point(_seq(bend), peak - taken, sd))
    return points


def springback_points(bends: Iterable[Bend], knowledge: Knowledge) -> list[Point]:
    """Give by how much each bend sprang back more than expected, by peak and rest alone."""
    points = []
    for bend in bends:
        if bend.bench is None or not bend.bench.arm.follows_tube or not bend.hits:
            continue
        peak, rest, _ = max(bend.hits, key=lambda hit: hit[0])
        if rest is None:
            continue
        setup = Setup(bend.bench, bend.die, bend.tube, bend.lot)
        angle = rest - float(knowledge.of(setup)[0][SLACK])
        taken, scatter = _taken(bend, angle, knowledge)
        arm = bend.arm_sd or noise.ARM_SD
        sd = math.hypot(scatter, arm * math.sqrt(2))
        points.append(Point(_seq(bend), peak - rest - (taken - angle), sd))
    return points


def changed(
    bends: Iterable[Bend], knowledge: Knowledge, *, settles: bool, since_seq: int = 0
) -> Changed | None:
    """Look for a change of the die among its bends after ``since_seq``: the latest one.

    ``settles``: the core is printed, and its first bends after that are left out.
    """
    watched = [bend for bend in bends if _seq(bend) > since_seq]
    settling = SETTLING if settles else 0
    found = [
        Changed(of, drift)
        for of, points, seldom in (
            ("slack", slack_points(watched, knowledge), BENDS_TO_FALSE_ALARM),
            (
                "springback on this die",
                springback_points(watched, knowledge),
                BENDS_TO_FALSE_ALARM_BY_SPRINGBACK,
            ),
        )
        if (drift := drift_in(points, settling=settling, bends_to_false_alarm=seldom)) is not None
    ]
    return max(found, key=lambda each: each.drift.found_seq, default=None)


def share_of(knowledge: Knowledge, setup: Setup) -> Share:
    """Give the steel's and lot's share of the moment that mechanics expects of the strengths.

    Springback is M/(E I), so what was learned of it is a measurement of the moment itself.
    """
    mean, cov = knowledge.of(setup)
    stated = setup.tube.n is not None and setup.tube.K_mpa is not None
    usual = 1.0 if stated else ABOVE_MINIMUM
    ratio = 1 + float(mean[STEEL] + mean[LOT])
    var = float(cov[STEEL, STEEL] + cov[LOT, LOT] + 2 * cov[STEEL, LOT])
    return Share(usual * ratio, usual * math.sqrt(max(var, 0.0)))


def _taken(bend: Bend, angle: float, knowledge: Knowledge) -> tuple[float, float]:
    """Give the arm angle that the tube itself takes to stay bent, and its scatter."""
    if bend.bench is None:
        raise ValueError("a bend without a bench says nothing of a die")
    setup = Setup(bend.bench, bend.die, bend.tube, bend.lot)
    terms = knowledge.of(setup)[0].copy()
    terms[SLACK] = 0.0
    taken = setup.arm_angle(terms, angle)
    scale = float(knowledge.scales @ noise.SCALES)
    return taken, scale * noise.piece_sd(taken - angle)


def _seq(bend: Bend) -> int:
    return int(bend.name) if bend.name.isdecimal() else 0
