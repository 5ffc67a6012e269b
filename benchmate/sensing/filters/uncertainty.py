"""How wrong the arm angle may be for reasons that averaging doesn't cure, by arm angle.

What is left of a chip's errors after calibration bends the angle scale. Relative to where the
swing began (arm angle 0) the error at phi is the terms' difference between the two directions.
"""

import math
from collections.abc import Callable

from benchmate.sensing.calibration.error_model import Axes, Rows, spread, swing_terms

_STEP_DEG = 5


class AngleUncertainty:
    """Standard deviation [deg] of the slow part of the arm angle's error, tabled once.

    ``row`` gives, for an arm angle [rad], how far the angle shown moves for each term of
    ``covariance``, in the unit that the covariance holds; ``unit_deg`` is that unit in degrees.
    ``chord_deg`` and what ``sd_deg`` is told grow with the chord of the arm angle.
    """

    def __init__(
        self,
        row: Callable[[float], tuple[float, ...]],
        covariance: Rows,
        unit_deg: float,
        chord_deg: float = 0.0,
    ) -> None:
        start = row(0.0)
        self._table = []
        # One step past the turn: a hair under 0 is 360 to a float.
        for step in range(0, 361 + _STEP_DEG, _STEP_DEG):
            phi = math.radians(step)
            bent = tuple(a - b for a, b in zip(row(phi), start, strict=True))
            chord = 2.0 * abs(math.sin(phi / 2.0))
            self._table.append(math.hypot(unit_deg * spread(bent, covariance), chord_deg * chord))

    def sd_deg(self, arm_deg: float, drift_deg: float = 0.0) -> float:
        """Give the doubt at an arm angle; ``drift_deg`` is what else a quarter turn shows."""
        place, part = divmod(arm_deg % 360.0 / _STEP_DEG, 1.0)
        i = int(place)
        sd = self._table[i] + part * (self._table[i + 1] - self._table[i])
        return math.hypot(sd, drift_deg * 2.0 * math.sin(math.radians(0.5 * arm_deg)))

    def worst_deg(self, arc_deg: float) -> float:
        """Give the largest doubt from arm angle 0 to ``arc_deg``, a full turn at most."""
        return max(self._table[: 1 + math.ceil(arc_deg / _STEP_DEG)])


def swing_uncertainty(
    plane: tuple[Axes, Axes, Axes],
    leverage: float,
    height_g: float,
    covariance: Rows,
    normal_sd_deg: float = 0.0,
) -> AngleUncertainty:
    """Give the doubt of an accelerometer's angle in a swing's ``plane`` (along, across, normal)."""
    return AngleUncertainty(
        lambda phi: swing_terms(plane, leverage, height_g, phi),
        covariance,
        math.degrees(1.0),
        normal_sd_deg * abs(height_g) / leverage,
    )
