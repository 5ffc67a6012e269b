"""Gravity's length at rest: 1 g whichever way the box lies, unless the chip's zero has shifted.

A shift shows in the length by as much of it as lies along gravity; the rest of it shows once the
arm stands another way.
"""

import math
from typing import NamedTuple

from benchmate.sensing.calibration.error_model import (
    Axes,
    Calibration,
    angle_terms,
    from_factory,
    spread,
)
from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.sample import Vector

SURELY = 4.0
"""A length so many standard deviations off is told."""
FLOOR_G = 0.02
FACTORY_SURELY = 3.0
NONLINEAR_G = 2e-3
"""What no calibration takes out, 1 sd: a thousandth of the range of 2 g."""
WARMED_C = 10.0
"""A chip without a thermometer may be so much warmer than at its calibration."""
WARMING_C_PER_S = WARMED_C / 600.0
"""It takes ten minutes for that at least."""


class _Rest(NamedTuple):
    t: float
    length_g: float
    row: tuple[float, ...]
    temperature_c: float | None


class GravityNormMonitor:
    """Judges one chip's means at rest, against 1 g and against the rest before."""

    def __init__(self, facts: ChipFacts, calibration: Calibration | None = None) -> None:
        self._facts = facts
        self._calibrated = calibration is not None
        self._known = from_factory(facts) if calibration is None else calibration
        # As an uncalibrated chip may give it: offset and gain.
        self._wide_g = FLOOR_G + FACTORY_SURELY * math.hypot(facts.offset_g, facts.gain)
        self._rest: _Rest | None = None
        self._doubted = False
        self._stood = False
        """The window before was at rest as well."""

    def moved(self) -> None:
        """Take in that the box didn't stand still."""
        self._doubted = self._stood = False

    def off(
        self, mean_g: Vector, samples: int, t: float, temperature_c: float | None
    ) -> str | None:
        """Take in one standstill's mean; say what is wrong with its length, None if nothing is.

        Only a gross one is told at once. A stroke's acceleration can look like rest for a moment,
        so others are told when the next standstill, with no move between, bears them out.
        """
        felt = self._known.correct(mean_g)
        length = math.hypot(*felt)
        if abs(length - 1.0) > self._wide_g:
            return (
                f"gravity reads {length:.2f} g at rest: the box was knocked or the chip is broken; "
                "clamp it and align again"
            )
        up: Axes = (felt[0] / length, felt[1] / length, felt[2] / length)
        rest = _Rest(t, length, angle_terms(felt, up, 1.0), temperature_c)
        told = self._stepped(rest, up, samples) or self._off_1_g(rest, up, samples)
        before, self._doubted = self._doubted, told is not None
        if told is None and self._stood:
            self._rest = rest
        self._stood = True
        return told if before else None

    def _off_1_g(self, rest: _Rest, up: Axes, samples: int) -> str | None:
        if not self._calibrated:
            return None
        doubt = math.hypot(
            self._noise_g(up, samples),
            NONLINEAR_G,
            spread(rest.row, self._known.covariance),
            self.drift_g(up, self._warmed_c(rest)),
        )
        if abs(rest.length_g - 1.0) <= SURELY * doubt:
            return None
        return (
            f"gravity reads {rest.length_g:.3f} g at rest: the chip's zero has shifted since it "
            "was calibrated; run benchmate align --turn, then align"
        )

    def _stepped(self, rest: _Rest, up: Axes, samples: int) -> str | None:
        before = self._rest
        if before is None:
            return None
        unknown = min(WARMED_C, WARMING_C_PER_S * (rest.t - before.t))
        turned = tuple(a - b for a, b in zip(rest.row, before.row, strict=True))
        doubt = math.hypot(
            math.sqrt(2.0) * self._noise_g(up, samples),
            NONLINEAR_G,
            spread(turned, self._known.covariance),
            # What has drifted since the calibration lies another way to gravity now.
            self.drift_g((turned[6], turned[7], turned[8]), self._warmed_c(rest)),
            self.drift_g(up, _apart_c(rest.temperature_c, before.temperature_c, unknown)),
        )
        if abs(rest.length_g - before.length_g) <= SURELY * doubt:
            return None
        return (
            f"gravity at rest went from {before.length_g:.3f} to {rest.length_g:.3f} g: a knock "
            "shifted the chip's zero; measure this bend with a protractor, then align --turn and "
            "align"
        )

    def _warmed_c(self, rest: _Rest) -> float:
        """Give by how much it is warmer or colder than at its calibration, as far as is known."""
        return _apart_c(rest.temperature_c, self._known.temperature_c, WARMED_C)

    def _noise_g(self, up: Axes, samples: int) -> float:
        noise = (u * n for u, n in zip(up, self._facts.accel_noise_g, strict=True))
        return math.hypot(math.hypot(*noise) / math.sqrt(samples), self._facts.slow_noise_g)

    def drift_g(self, way: Axes, degrees_c: float) -> float:
        """Give what the zero drifts along ``way`` in so many degrees Celsius [g], 1 sd."""
        x, y, z = way
        a_degree = self._facts.offset_drift_g_per_c
        return degrees_c * a_degree * math.hypot(x, y, self._facts.z_drifts_more * z)


def _apart_c(now: float | None, then: float | None, unknown: float) -> float:
    return unknown if now is None or then is None else abs(now - then)
