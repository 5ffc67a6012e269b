"""What is believed of a setup before its first bend, and why.

Every number here is a centre or a standard deviation of a normal belief; docs/decisions/0010 and
0060 give the reasons.
"""

import math
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from benchmate.metal import released_per_mm, section_of, springback_per_degree, steel_of
from benchmate.shop.parts import Bench, Die, Tube

Array = NDArray[np.float64]
Key = tuple[str, ...]

SLACK, LEGS, DIE, BOW, STEEL, LOT = range(6)
"""The terms of a setup, in the order of every block of six."""

SLACK_DEG, SLACK_SD_DEG, STATED_SLACK_SD_DEG = 2.0, 1.2, 0.25
LEGS_OD, LEGS_SD_OD = 1.0, 0.8
"""Effective length of the legs, in outside diameters."""
DIE_SD, LOT_SD, BOW_SD = 0.06, 0.14, 0.04
STEEL_SD, STATED_STEEL_SD = 0.33, 0.15
ABOVE_MINIMUM = 1.10
"""Mill values over the least values that a standard or a certificate line promises."""

DRIFT_SD = (0.015, 0.3, 0.002, 0.002, 0.0, 0.0)
"""Random walk of each term per bend on its die: degrees, mm, ratios."""


_LEAST_STEEP = 0.5
"""A tube never gains twice what the arm turns, whatever wrong readings make believe."""


@dataclass(frozen=True, slots=True)
class Setup:
    """Bench, die, tube and lot, with what mechanics says of them."""

    bench: Bench
    die: Die
    tube: Tube
    lot: str

    @property
    def keys(self) -> tuple[Key, ...]:
        """Name the six terms; equal names share what they learn."""
        at, die, tube = self.bench.bench, self.die.die, self.tube
        size = f"{tube.od_mm:.3f} x {tube.wall_mm:.3f}"
        return (
            ("slack", at, die),
            ("legs", at, die),
            ("die", at, die),
            ("bow", at, die),
            ("steel", tube.grade, "stated" if _stated(tube) else "minimum"),
            ("lot", tube.grade, size, self.lot),
        )

    @property
    def mean(self) -> Array:
        """Give the six centres: slack [deg], legs [mm], then ratios to what mechanics says."""
        slack = SLACK_DEG if self.die.slack_deg is None else self.die.slack_deg
        return np.array([slack, LEGS_OD * self.die.for_od_mm, 0.0, 0.0, 0.0, 0.0])

    @property
    def sd(self) -> Array:
        """Give the six standard deviations."""
        slack = SLACK_SD_DEG if self.die.slack_deg is None else STATED_SLACK_SD_DEG
        steel = STATED_STEEL_SD if _stated(self.tube) else STEEL_SD
        legs = LEGS_SD_OD * self.die.for_od_mm
        return np.array([slack, legs, DIE_SD, BOW_SD, steel, LOT_SD])

    @property
    def per_degree(self) -> float:
        """Give mechanics' springback of the arc per degree of bend angle."""
        return _mechanics(self.tube, self.die.centreline_radius_mm)[0]

    @property
    def legs_deg_per_mm(self) -> float:
        """Give mechanics' elastic rotation of a leg per mm of it [deg/mm]."""
        return _mechanics(self.tube, self.die.centreline_radius_mm)[1]

    def slopes(self, angle: float) -> Array:
        """Give d(arm angle)/d(term) at a bend angle: how much each term moves the arm."""
        arc = self.per_degree * angle
        return np.array([1.0, self.legs_deg_per_mm, arc, arc * bow(angle), arc, arc])

    def arm_angle(self, terms: Array, angle: float) -> float:
        """Give the arm angle at the peak of a hit that leaves the bend angle."""
        return angle * (1 + self.per_degree) + float(self.slopes(angle) @ terms)

    def bend_angle(self, terms: Array, arm: float) -> float:
        """Give the bend angle that a peak leaves: the inverse of ``arm_angle``; below 0 unbent."""
        angle = arm - terms[SLACK]
        for _ in range(4):
            angle += (arm - self.arm_angle(terms, angle)) / self.arm_per_degree(terms, angle)
        return float(angle)

    def arm_per_degree(self, terms: Array, angle: float) -> float:
        """Give d(arm angle)/d(bend angle)."""
        turn = 2 * angle / 90 - 1
        ratio = terms[DIE] + terms[STEEL] + terms[LOT] + turn * terms[BOW]
        return max(1 + self.per_degree * (1 + float(ratio)), _LEAST_STEEP)


def bow(angle: float) -> float:
    """Give how the bow term's share of the springback grows with the angle: 0 at 90 degrees."""
    return angle / 90 - 1


def _stated(tube: Tube) -> bool:
    return tube.n is not None and tube.K_mpa is not None


@lru_cache(maxsize=1024)
def _mechanics(tube: Tube, radius_mm: float) -> tuple[float, float]:
    released = released_per_mm(section_of(tube), steel_of(tube), radius_mm)
    if not _stated(tube):
        released *= ABOVE_MINIMUM
    return springback_per_degree(radius_mm, released), math.degrees(released)
