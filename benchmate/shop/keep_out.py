"""What stands round the bender that the tube must not sweep into, as frozen values, mm.

Places are told from the die: the origin is the start of bend on the tube's centreline with the arm
at zero, x runs along the straight tube away from its first end, y to the side that the tube is bent
to, z along the bend's axis so that x, y, z are right-handed.
"""

from typing import Literal

from benchmate.shop.struct import ShopStruct

PointMm = tuple[float, float, float]


class Box(ShopStruct, frozen=True, kw_only=True):
    """A block with its edges along x, y and z: a bench, a post."""

    name: str
    low_mm: PointMm
    high_mm: PointMm


class Plane(ShopStruct, frozen=True, kw_only=True):
    """A floor or wall: the tube stays on the side that ``facing`` points to."""

    name: str
    through_mm: PointMm
    facing: PointMm
    """Any length."""


class KeepOut(ShopStruct, frozen=True, kw_only=True):
    """What the tube must keep out of, and which end of it moves while bending."""

    boxes: tuple[Box, ...] = ()
    planes: tuple[Plane, ...] = ()
    swings: Literal["first end", "last end"] = "first end"
    """The end that goes round with the arm; the other lies still in the bender."""
