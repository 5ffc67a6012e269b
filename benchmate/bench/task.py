"""What a session at the bender is to do, as one frozen value."""

from dataclasses import dataclass, field
from typing import Any

from benchmate.shop.parts import Die, Tube


@dataclass(frozen=True, slots=True, kw_only=True)
class Task:
    """The bends to make, on which setup, and what goes into every row beside them."""

    job: str
    die: Die
    tube: Tube
    lot: str
    tolerance_deg: float
    bend_angles: tuple[float, ...]
    first_bend: int = 1
    """Number of the bend to start with, from 1."""
    follows_tube: bool = True
    bites: bool = False
    simulated: bool = False
    caution: str = ""
    """What to know of this bench before each bend, in a sentence; else empty."""
    setup: dict[str, Any] = field(default_factory=dict)
    """The snapshot for the store: bench, die and tube as plain data."""
    sensor: dict[str, Any] = field(default_factory=dict)
    """Chip, address, rate, mount and estimator facts for the store."""
