"""How far each kind of reading strays, and how far a piece strays from its setup. Degrees.

The scatter of a piece is ``scale`` times a constant and a share of its springback; the scale is
learned on a grid. Beside ordinary bends three rare stories are weighed: the clamp slipped, the
reading was wrong, the die was set anew (its slack jumped).
"""

import math
from dataclasses import dataclass

import numpy as np

from benchmate.springback.prior import Array

ARM_SD = 0.08
"""Peak and rest, each, where the sensor doesn't say its own."""
LEAST_ARM_SD = 0.01
"""No sensor is believed to be better."""
ZERO_SD = 0.03
"""Error of a bend's zero, the same in all its peaks and rests."""
READING_SD = {"protractor": 0.105, "digital level": 0.08, "sensor": 0.15}
"""One reading of the tube's angle, by what it was read with."""
GAUGE_SD = 0.06
"""Error that all readings of one piece share; a protractor's with the above 0.12."""

PIECE_DEG = 0.12
PIECE_SHARE = 0.015

SCALES = np.array([0.5, 0.7, 1.0, 1.4, 2.0, 2.8])
SCALE_PRIOR = np.array([0.05, 0.25, 0.4, 0.2, 0.08, 0.02])

SLIP_SD, MISREAD_SD, JUMP_SD = 3.0, 5.0, 1.5
SLIP_CHANCE, MISREAD_CHANCE, JUMP_CHANCE = 0.01, 0.005, 0.001
SLIP, MISREAD, JUMP = "clamp slipped, or another tube or lot", "wrong reading", "die set anew"


@dataclass(frozen=True, slots=True)
class Stories:
    """What may have happened, one entry each: the ordinary scales first, then the rare ones.

    A slip, a jump of the slack, then one wrong reading for each reading that was made.
    """

    chance: Array
    piece_var: Array
    misread_var: Array
    """(stories, readings): what a person's reading may be off beside its usual error."""
    jump_var: Array


def piece_sd(springback: float) -> float:
    """Give the usual scatter of a piece of this springback, at scale 1 [deg]."""
    return math.hypot(PIECE_DEG, PIECE_SHARE * springback)


def stories(scale_weights: Array, springback: float, *, readings: int) -> Stories:
    """Lay out every story for a piece of about this springback [deg] with so many readings.

    Without a protractor a reading can't be wrong nor a jump of slack be seen: no such story.
    """
    piece = (SCALES * piece_sd(springback)) ** 2
    usual = float(scale_weights @ piece)
    rare = np.full(2 + readings, MISREAD_CHANCE)
    rare[:2] = SLIP_CHANCE, JUMP_CHANCE if readings else 0.0
    count = len(SCALES)
    misread = np.zeros((count + len(rare), readings))
    misread[count + 2 :] = MISREAD_SD**2 * np.eye(readings)
    jump = np.zeros(count + len(rare))
    jump[count + 1] = JUMP_SD**2
    return Stories(
        chance=np.append((1 - min(rare.sum(), 0.5)) * scale_weights, rare),
        piece_var=np.concatenate((piece, [SLIP_SD**2], np.full(1 + readings, usual))),
        misread_var=misread,
        jump_var=jump,
    )
