"""The tube's cross-section: what resists bending."""

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Section:
    """A round tube's section by outside diameter and wall [mm].

    Formulas: any strength-of-materials text, e.g. Timoshenko, "Strength of Materials", part 1
    (elastic) and part 2 (plastic bending).
    """

    od_mm: float
    wall_mm: float

    @property
    def outer_mm(self) -> float:
        """Give the outside radius [mm]."""
        return self.od_mm / 2

    @property
    def inner_mm(self) -> float:
        """Give the bore's radius [mm]; 0 for a solid bar."""
        return self.od_mm / 2 - self.wall_mm

    @property
    def area_mm2(self) -> float:
        """Give the area of the steel [mm2]."""
        return math.pi * (self.outer_mm**2 - self.inner_mm**2)

    @property
    def inertia_mm4(self) -> float:
        """Give the second moment of area about a diameter [mm4]."""
        return math.pi / 4 * (self.outer_mm**4 - self.inner_mm**4)

    @property
    def elastic_modulus_mm3(self) -> float:
        """Give the elastic section modulus [mm3]: times yield stress, the moment at first yield."""
        return self.inertia_mm4 / self.outer_mm

    @property
    def plastic_modulus_mm3(self) -> float:
        """Give the plastic section modulus [mm3]: times yield stress, the full plastic moment."""
        return 4 / 3 * (self.outer_mm**3 - self.inner_mm**3)
