"""What all the chips share: a register pointer, what they feel, how far from perfect they are."""

import errno
import math
import os
from abc import ABC, abstractmethod
from collections.abc import Callable
from typing import NamedTuple

from benchmate.sim.draws import chance

Triple = tuple[float, float, float]

FIRST_ORDER = math.pi / 2
"""Noise bandwidth of a first-order low-pass over its corner frequency."""


class Felt(NamedTuple):
    """What acts on the chip at one instant, in the chip's own frame."""

    accel_g: Triple
    """Specific force: a chip at rest feels 1 g upwards."""
    turn_dps: Triple
    shaft_deg: float
    """Angle of the pivot's magnet against the chip."""
    temperature_c: float


Feel = Callable[[float], Felt]
"""What acts on the chip at a time [s], which may lie a little back."""


class Flaws(NamedTuple):
    """How one chip of its kind differs from the data sheet."""

    offset: Triple
    gain: tuple[Triple, Triple, Triple]
    """Row by row: what the axis makes of each true axis; 1 and 0 on a perfect chip."""
    drift_per_c: Triple
    """Shift of the offset for each degree away from 25 C."""


def draw_flaws(
    *names: object,
    offset: float,
    gain: float,
    cross: float,
    drift_per_c: float,
    mean_gain: Triple = (1.0, 1.0, 1.0),
) -> Flaws:
    """Draw a chip's flaws, normal with these deviations, kept within two of them."""
    draw = chance(*names)

    def triple(deviation: float) -> Triple:
        x, y, z = (deviation * draw.standard_normal(3).clip(-2.0, 2.0)).tolist()
        return x, y, z

    shift, spread, drift = triple(offset), triple(gain), triple(drift_per_c)
    rows = []
    for axis in range(3):
        row = list(triple(cross))
        row[axis] = mean_gain[axis] * (1.0 + spread[axis])
        rows.append((row[0], row[1], row[2]))
    return Flaws(shift, (rows[0], rows[1], rows[2]), drift)


def through(flaws: Flaws, true: Triple, temperature_c: float) -> Triple:
    """Give what a flawed chip makes of a true vector, before noise and quantisation."""
    x, y, z = true
    (xx, xy, xz), (yx, yy, yz), (zx, zy, zz) = flaws.gain
    a, b, c = flaws.offset
    da, db, dc = flaws.drift_per_c
    warm = temperature_c - 25.0
    return (
        xx * x + xy * y + xz * z + a + da * warm,
        yx * x + yy * y + yz * z + b + db * warm,
        zx * x + zy * y + zz * z + c + dc * warm,
    )


class Ticks(NamedTuple):
    """When samples come: first one period after ``start`` [s], then at ``rate_hz``; 0: never."""

    start: float
    rate_hz: float

    def count(self, t: float) -> int:
        """Say how many samples there are by the time t [s]."""
        return int((t - self.start) * self.rate_hz + 1e-9) if self.rate_hz else 0

    def time(self, count: int) -> float:
        """Give the time [s] of the count-th sample, from 1."""
        return self.start + count / self.rate_hz


def shifted(flaws: Flaws, step: Triple) -> Flaws:
    """Give the flaws with the offset moved on by a step."""
    x, y, z = (a + b for a, b in zip(flaws.offset, step, strict=True))
    return flaws._replace(offset=(x, y, z))


def settled(count: int) -> float:
    """Give the share of the signal that the count-th sample after a change of set-up shows."""
    return 1.0 if count > 16 else 1.0 - 0.25**count


def clip(value: float, lowest: int, highest: int) -> int:
    """Round to a count and hold it at the converter's ends."""
    return max(lowest, min(highest, round(value)))


def refused() -> OSError:
    """Give the error of a transfer that no chip acknowledged."""
    return OSError(errno.EREMOTEIO, os.strerror(errno.EREMOTEIO))


class Chip(ABC):
    """A chip on the bus: the first byte written sets the register pointer, all others follow it on.

    ``t`` is always the time [s] of the transfer.
    """

    def __init__(self, feel: Feel) -> None:
        self.frozen = False
        """Its outputs repeat for ever although it says that it measures."""
        self._feel = feel
        self._pointer = 0
        self._saturated_axis: int | None = None
        self._pace = 1.0

    @abstractmethod
    def power_up(self, t: float) -> None:
        """Take the reset values, as after a loss of power."""

    def leave_self_test_on(self) -> None:
        """Switch the self-test on, as a program might have left it; ValueError when it has none."""
        raise ValueError("this chip has no self-test")

    def saturate(self, axis: int) -> None:
        """Let an axis stick at its end stop; ValueError when it has no axes."""
        self._saturated_axis = axis

    def shift_zero(self, step_g: Triple) -> None:  # noqa: ARG002 - others have one
        """Move the zero of each axis, for good; ValueError when it measures no acceleration."""
        raise ValueError("this chip has no zero-g offset")

    def lose_magnet(self) -> None:
        """Take the magnet away; ValueError when it needs none."""
        raise ValueError("this chip needs no magnet")

    def move_magnet(self, gain: int) -> None:  # noqa: ARG002 - others have one
        """Change the gain that the magnet's field asks for; ValueError when it needs none."""
        raise ValueError("this chip needs no magnet")

    def change_pace(self, t: float, pace: float) -> None:
        """Sample so many times as fast as its trim says from now on."""
        self._pace = pace
        self._restart(t)

    def mend(self) -> None:
        """End what ails its outputs."""
        self.frozen, self._saturated_axis = False, None

    @abstractmethod
    def _restart(self, t: float) -> None:
        """Begin sampling anew."""

    @abstractmethod
    def _latch(self, t: float, count: int) -> None:
        """Bring the outputs that the next count bytes may show up to date."""

    @abstractmethod
    def _peek(self, t: float, register: int) -> int:
        """Give a register's byte, with what reading it does."""

    @abstractmethod
    def _poke(self, t: float, register: int, value: int) -> None:
        """Write a register."""

    def _next(self, register: int) -> int:
        return (register + 1) & 0xFF

    def write(self, t: float, data: bytes) -> None:
        """Take a write transfer: pointer, then values."""
        if not data:
            return
        self._pointer = data[0]
        for value in data[1:]:
            self._poke(t, self._pointer, value)
            self._pointer = self._next(self._pointer)

    def read(self, t: float, count: int) -> bytes:
        """Answer a read transfer of so many bytes from the pointer on."""
        self._latch(t, count)
        answer = bytearray()
        for _ in range(count):
            answer.append(self._peek(t, self._pointer))
            self._pointer = self._next(self._pointer)
        return bytes(answer)
