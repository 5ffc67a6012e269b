"""A box knocked round within the arm's own plane: gravity has turned and the gyro saw less of it.

Slow slipping looks like the arm's own turning to both; a knock is faster than the gyro's range.
"""

import math

from benchmate.sensing.sample import Sample, Vector

LEAST_DEG = 2.0
UNSEEN = 0.5
"""A knock: the gyro saw less than this part of the turn."""
LONGEST_S = 30.0
"""Between two standstills further apart the gyro's own drift would count."""


class MountShiftDetector:
    """Adds up the gyro between standstills."""

    def __init__(self) -> None:
        self._spun = (0.0, 0.0, 0.0)
        self._t: float | None = None
        self._since = 0.0
        self._accel: Vector | None = None
        self._bias = Vector(0.0, 0.0, 0.0)

    def see(self, sample: Sample) -> None:
        """Take one sample in."""
        if sample.gyro_dps is not None and self._t is not None:
            dt = sample.t - self._t
            x, y, z = self._spun
            gx, gy, gz = sample.gyro_dps
            self._spun = (x + gx * dt, y + gy * dt, z + gz * dt)
        self._t = sample.t

    def stands(self, accel_g: Vector, gyro_dps: Vector, t: float) -> float | None:
        """Take a standstill's means; give how far [deg] gravity turned unseen since the last."""
        before, bias, lasted = self._accel, self._bias, t - self._since
        spun = (s - b * lasted for s, b in zip(self._spun, bias, strict=True))
        seen = math.sqrt(sum(s * s for s in spun))
        self._accel, self._bias, self._since = accel_g, gyro_dps, t
        self._spun = (0.0, 0.0, 0.0)
        if before is None or lasted > LONGEST_S:
            return None
        turned = _between_deg(before, accel_g)
        return turned if turned > LEAST_DEG and seen < UNSEEN * turned else None


def _between_deg(a: Vector, b: Vector) -> float:
    dot = sum(p * q for p, q in zip(a, b, strict=True))
    return math.degrees(math.acos(max(-1.0, min(1.0, dot / math.hypot(*a) / math.hypot(*b)))))
