"""The arm's motion in closed form: smooth moves, one after the other, exact at any time."""

import cmath
import math
from typing import NamedTuple

_RING = complex(-20.0, 2.0 * math.pi * 9.0)
"""Decay and frequency [1/s] of the bounce after a move."""
_KEPT = 200
"""Moves kept: far more than any filter's delay looks back."""


class Turning(NamedTuple):
    """Angle [deg], rate [deg/s] and acceleration [deg/s2] of the arm at one instant."""

    deg: float
    dps: float
    dps2: float


def both(one: Turning, other: Turning) -> Turning:
    """Give what turns with both."""
    return Turning(one.deg + other.deg, one.dps + other.dps, one.dps2 + other.dps2)


class Move(NamedTuple):
    """From a start on: the rate it began with dies away, a sine-shaped push goes so far."""

    start: float
    lasts: float
    origin: float
    """Angle [deg] at the start."""
    push: float
    """Degrees gained by the push; negative on the way back."""
    rate: float = 0.0
    """Rate [deg/s] at the start."""
    bounce: float = 0.0
    """How far [deg], about, the arm gives back when the move ends, before it settles there."""
    loads: bool = False
    """The arm presses the tube in this move."""

    @property
    def end(self) -> float:
        """Angle [deg] at which the move comes to rest."""
        return self.origin + 0.5 * self.rate * self.lasts + self.push

    @property
    def done(self) -> float:
        """Time [s] at which the push is over; the bounce follows."""
        return self.start + self.lasts

    def reach(self, t: float) -> float:
        """Give the angle [deg] reached by the time t, bounce left out."""
        return self.at(t).deg if t < self.done else self.end

    def at(self, t: float) -> Turning:
        """Give where the arm is at the time t [s], not before the start."""
        if t < self.done:
            return self._under_way((t - self.start) / self.lasts)
        if self.bounce == 0.0 or t > self.done + 1.0:
            return Turning(self.end, 0.0, 0.0)
        # -bounce (e1 - e2)(1 - cos wt), e1 and e2 decaying once and twice as fast: begins with no
        # jump in angle or rate and never passes the end.
        age = t - self.done
        total = [0.0, 0.0, 0.0]
        for weight, speed in _BOUNCE:
            term = -self.bounce * weight * cmath.exp(speed * age)
            for order in range(3):
                total[order] += term.real
                term *= speed
        return Turning(self.end + total[0], total[1], total[2])

    def _under_way(self, part: float) -> Turning:
        half, full = math.pi * part, 2.0 * math.pi * part
        lasts, rate, push = self.lasts, self.rate, self.push
        return Turning(
            self.origin
            + rate * lasts * (0.5 * part + math.sin(half) / (2.0 * math.pi))
            + push * (part - math.sin(full) / (2.0 * math.pi)),
            0.5 * rate * (1.0 + math.cos(half)) + push / lasts * (1.0 - math.cos(full)),
            -0.5 * math.pi * rate / lasts * math.sin(half)
            + 2.0 * math.pi * push / lasts**2 * math.sin(full),
        )


_DECAY = complex(_RING.real)
_BOUNCE = (
    (1.0, _DECAY),
    (-1.0, 2.0 * _DECAY),
    (-1.0, _RING),
    (1.0, _RING + _DECAY),
)


class Motion:
    """The moves made so far and those already decided."""

    def __init__(self, t: float, deg: float) -> None:
        self._moves = [Move(t, 0.0, deg, 0.0)]

    @property
    def last(self) -> Move:
        """The move decided last, which may still lie ahead."""
        return self._moves[-1]

    def current(self, t: float) -> Move:
        """Give the move that the arm is in at the time t [s]."""
        for move in reversed(self._moves):
            if move.start <= t:
                return move
        return self._moves[0]

    def at(self, t: float) -> Turning:
        """Give where the arm is at the time t [s]; before the first move it stands still."""
        move = self.current(t)
        return move.at(t) if move.start <= t else Turning(move.origin, 0.0, 0.0)

    def add(self, move: Move) -> None:
        """Let one more move follow."""
        self._moves.append(move)
        if len(self._moves) > 2 * _KEPT:
            del self._moves[:_KEPT]

    def cut(self, t: float) -> Turning:
        """Drop the moves that have not begun by the time t [s]; give where the arm is then."""
        while len(self._moves) > 1 and self._moves[-1].start > t:
            self._moves.pop()
        return self.at(t)
