"""What the arm can reach, and which turn of an angle seen modulo a whole one is meant."""

import math
from typing import NamedTuple

from benchmate.sensing.calibration.error_model import Calibration
from benchmate.sensing.calibration.harmonics import correction_deg
from benchmate.sensing.mount.alignment import Mount
from benchmate.sensing.sample import Sample

BEYOND_DIE_DEG = 60.0
"""Slack, springback, an arm snug past its rest, and as much again."""


class Reach(NamedTuple):
    """From where to where the arm can stand [deg], 0 being its rest when it was aligned."""

    least_deg: float = -90.0
    """An arm goes a little behind its rest, or is taken back a pin hole."""
    most_deg: float = 270.0
    """A die's greatest angle, its slack and springback, and a little more."""

    @classmethod
    def of_die(cls, max_angle_deg: float) -> "Reach":
        """Give what an arm reaches with a die that bends so far: slack and springback beyond."""
        return cls(most_deg=max_angle_deg + BEYOND_DIE_DEG)

    @property
    def is_whole_turn(self) -> bool:
        """Tell whether every direction lies within reach."""
        return self.most_deg - self.least_deg >= 360.0

    def holds(self, arm_deg: float) -> bool:
        """Tell whether the arm can stand there."""
        return self.least_deg <= arm_deg <= self.most_deg

    def clamp(self, arm_deg: float) -> float:
        """Give the angle within reach that is nearest."""
        return min(max(arm_deg, self.least_deg), self.most_deg)

    def unwrap(self, shown_deg: float, last_deg: float) -> float:
        """Give the turn of ``shown_deg`` within reach that is nearest to where the arm was.

        Where no turn of it lies within reach, the nearest to where the arm can be.
        """
        last = self.clamp(last_deg)
        nearest = last + math.remainder(shown_deg - last, 360.0)
        turns = [nearest - 360.0, nearest, nearest + 360.0]
        within = [turn for turn in turns if self.holds(turn)]
        if within:
            return min(within, key=lambda turn: abs(turn - last))
        return min(turns, key=lambda turn: abs(turn - self.clamp(turn)))


ANY_REACH = Reach()
"""Of a bender whose dies nobody named: every direction lies within it."""


def shown_arm_deg(sample: Sample, mount: Mount, known: Calibration) -> float | None:
    """Give where one sample by itself shows the arm [deg], any whole turns off.

    The box's own acceleration is still in it. None for a sample that shows no angle.
    """
    if sample.angle_deg is not None:
        shown, start = (
            angle + correction_deg(angle, known.harmonics_deg)
            for angle in (sample.angle_deg, mount.start_deg)
        )
        return mount.sense * (shown - start)
    if sample.accel_g is None:
        return None
    felt = known.correct(sample.accel_g)
    x, y = (
        sum(f * part for f, part in zip(felt, axis, strict=True))
        for axis in (mount.along, mount.across)
    )
    return math.degrees(math.atan2(y, x))
