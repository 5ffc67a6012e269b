"""Shapes that a job may name instead of bends or points, as frozen values: mm and degrees.

A dimension is taken inside, outside or at the centre of the tube, as ``at`` says.
"""

from typing import Literal, TypeAlias

from benchmate.shop.struct import ShopStruct

MeasuredAt = Literal["inside", "outside", "centre"]


class Hoop(ShopStruct, frozen=True, kw_only=True, tag="hoop"):
    """A U: two legs of one height, and the width between them."""

    height_mm: float
    """From the ends to the back."""
    width_mm: float | None = None
    """None: as wide as one bend of 180 makes it."""
    at: MeasuredAt = "outside"


class Step(ShopStruct, frozen=True, kw_only=True, tag="step"):
    """Two equal bends that carry the tube on beside itself, one level higher. Angle or length."""

    height_mm: float
    """From the centre line of one leg to that of the other."""
    angle_deg: float | None = None
    length_mm: float | None = None
    """Along the first leg's direction, from corner to corner."""
    first_leg_mm: float
    """Straight from the end to the first bend."""
    last_leg_mm: float


class Bridge(ShopStruct, frozen=True, kw_only=True, tag="bridge"):
    """Over something and down again: three bends, or four with a flat top."""

    height_mm: float
    """How far the tube is lifted at its highest."""
    angle_deg: float
    """Of the outer bends."""
    flat_mm: float | None = None
    """Level straight at the top; None: three bends."""
    first_leg_mm: float
    last_leg_mm: float


class Gable(ShopStruct, frozen=True, kw_only=True, tag="gable"):
    """A frame with upright sides and a pitched top, all in one plane."""

    width_mm: float
    eaves_mm: float
    """From the ends to where side and slope would meet."""
    ridge_mm: float
    """From the ends to where the slopes would meet."""
    at: MeasuredAt = "outside"


class Arch(ShopStruct, frozen=True, kw_only=True, tag="arch"):
    """Part of a circle by width and height, made of several small bends."""

    width_mm: float
    height_mm: float
    bends: int | None = None
    """None: as few as keep the tube within 2 mm of the circle."""
    leg_mm: float = 0.0
    """Straight past each end of the arch."""
    at: MeasuredAt = "outside"


class Frame(ShopStruct, frozen=True, kw_only=True, tag="frame"):
    """Four square bends that close on a joint in one of the sides of the width."""

    width_mm: float
    height_mm: float
    joint_mm: float | None = None
    """Start of bend before the joint's corner to the joint; None: half-way."""
    gap_mm: float = 0.0
    """Left open at the joint for the weld."""
    at: MeasuredAt = "outside"


class Ring(ShopStruct, frozen=True, kw_only=True, tag="ring"):
    """Part of a circle by radius and angle, made of several small bends."""

    radius_mm: float
    angle_deg: float
    bends: int | None = None
    """None: as few as keep the tube within 2 mm of the circle."""
    leg_mm: float = 0.0
    at: MeasuredAt = "outside"


Shape: TypeAlias = Hoop | Step | Bridge | Gable | Arch | Frame | Ring
