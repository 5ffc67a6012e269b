"""What can be drawn on a page, in mm from its top left corner, black on white."""

from dataclasses import dataclass
from typing import Literal, TypeAlias

Points = tuple[tuple[float, float], ...]
Paper = Literal["a4", "letter"]
SIZES: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line through points."""

    points: Points
    width: float = 0.2
    grey: float = 0.0
    """0 black, 1 white."""
    dash: float = 0.0
    """Length of dashes; 0: none."""


@dataclass(frozen=True, slots=True)
class Rect:
    """A box; filled where a grey is given."""

    x: float
    y: float
    wide: float
    high: float
    width: float = 0.2
    fill: float | None = None


@dataclass(frozen=True, slots=True)
class Text:
    """One line of text; (x, y) is on its baseline, at its start, middle or end."""

    x: float
    y: float
    text: str
    size: float = 3.0
    """Height of a line of type, mm."""
    anchor: Literal["start", "middle", "end"] = "start"
    upright: bool = False
    """Turned to be read from the right."""
    bold: bool = False


Mark: TypeAlias = Stroke | Rect | Text


@dataclass(frozen=True, slots=True)
class PaperPage:
    """One page of marks."""

    wide: float
    high: float
    marks: tuple[Mark, ...]
