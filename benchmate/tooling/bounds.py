"""A figure that mechanics gives only between two bounds."""

from typing import NamedTuple


class Bounds(NamedTuple):
    """The least and the most that a figure can be under the assumptions stated beside it."""

    low: float
    high: float

    def times(self, other: "Bounds | float") -> "Bounds":
        """Multiply; both not negative."""
        by = other if isinstance(other, Bounds) else Bounds(other, other)
        return Bounds(self.low * by.low, self.high * by.high)

    def over(self, other: "Bounds | float") -> "Bounds":
        """Divide; both positive, so that the least is over the most."""
        by = other if isinstance(other, Bounds) else Bounds(other, other)
        return Bounds(self.low / by.high, self.high / by.low)

    def plus(self, other: "Bounds") -> "Bounds":
        """Add."""
        return Bounds(self.low + other.low, self.high + other.high)
