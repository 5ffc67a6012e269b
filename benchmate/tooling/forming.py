"""What bending does to the tube itself: wall, roundness, wrinkles, before any is cut."""

from collections.abc import Iterable
from typing import Literal, NamedTuple

from benchmate.shop.parts import Tube
from benchmate.shop.tooling import Rule, RuleSet
from benchmate.tooling.bounds import Bounds

Risk = Literal["small", "some", "likely"]

DECIDES = "the governing rule book and licensed practice decide"


class Forming(NamedTuple):
    """What to expect of a tube on a radius."""

    radius_od: float
    """Centreline radius in outside diameters."""
    slimness: float
    """Diameter over wall."""
    wall_outside: Bounds
    """Wall outside the bend over the wall before it."""
    wall_inside: Bounds
    ovality_pct: Bounds
    severity: float
    """Slimness over radius in diameters."""
    wrinkle: Risk
    kink: Risk
    sources: tuple[str, ...]


def forming_of(tube: Tube, radius_mm: float) -> Forming:
    """Give what to expect of the tube bent to the centreline radius, with nothing inside it.

    Wall: between 1/(1 + D/2R), volume kept and the ring's girth unchanged, and its square root, a
    strip pulled lengthwise that thins in both directions; inside likewise. Both neglect that the
    neutral line moves inwards, which thins the outside a little more.
    Ovality: at most 20 D/R per cent, what boiler codes let a bend have (EN 12952-5, from memory);
    at least a tenth of it, in a groove that fits.
    """
    ratio = radius_mm / tube.od_mm
    slim = tube.od_mm / tube.wall_mm
    out, inside = 1 + 1 / (2 * ratio), 1 - 1 / (2 * ratio)
    severity = slim / ratio
    return Forming(
        radius_od=ratio,
        slimness=slim,
        wall_outside=Bounds(1 / out, out**-0.5),
        wall_inside=Bounds(inside**-0.5, 1 / inside),
        ovality_pct=Bounds(2 / ratio, 20 / ratio),
        severity=severity,
        wrinkle=_risk(severity, WRINKLES),
        kink=_risk(severity, KINKS),
        sources=(
            "wall: strain D/2R outside, volume kept; from memory of any text on tube bending",
            "ovality: EN 12952-5's 20 D/R per cent as the most, from memory; a tenth as the least",
            "wrinkle and kink: diameter over wall, over radius over diameter; common practice for"
            " tube with nothing inside it, no source",
        ),
    )


WRINKLES = Bounds(6.0, 10.0)
"""Severity up to which the risk is small, and past which a wrinkle inside is likely."""
KINKS = Bounds(9.0, 15.0)
"""The same for a kink."""


def free_radius_od(tube: Tube) -> float | None:
    """Give the radius, in diameters, under which the tube would buckle in free bending.

    Critical strain 0.5 t/D - 0.0025: A. M. Gresnigt, "Plastic design of buried steel pipelines in
    settlement areas", HERON 31 (1986) no. 4; from memory. A groove that fits holds the inside and
    lets it be bent far tighter. None where that strain is nought: as slim a tube buckles at once.
    """
    strain = 0.5 * tube.wall_mm / tube.od_mm - 0.0025
    return 1 / (2 * strain) if strain > 0 else None


class Broken(NamedTuple):
    """A rule that a bend doesn't keep, or may not."""

    rules: str
    edition: str
    rule: str
    found: str
    surely: bool
    source: str
    from_memory: bool

    def says(self) -> str:
        """Give one sentence, with source and the caution."""
        how = "not kept" if self.surely else "may not be kept: measure the bend"
        memory = ", from memory" if self.from_memory else ""
        return f"{self.rules}, {self.rule}: {how} ({self.found}; {self.source}{memory}); {DECIDES}"


def broken_rules(forming: Forming, sets: Iterable[RuleSet]) -> tuple[Broken, ...]:
    """Give the rules that the bend breaks, or may."""
    return tuple(
        Broken(each.rules, each.edition, rule.rule, found, surely, rule.source, rule.from_memory)
        for each in sets
        for rule in each.each
        for found, surely in _against(forming, rule)
    )


def _against(forming: Forming, rule: Rule) -> list[tuple[str, bool]]:
    said = []
    if rule.least_radius_od is not None and forming.radius_od < rule.least_radius_od - 1e-9:
        said.append((f"radius {forming.radius_od:.2f} outside diameters", True))
    oval = forming.ovality_pct
    if rule.most_ovality_pct is not None and oval.high > rule.most_ovality_pct:
        found = f"ovality {oval.low:.1f} to {oval.high:.1f} %"
        said.append((found, oval.low > rule.most_ovality_pct))
    if rule.least_diameter_ratio is not None:
        # Of an oval of mean diameter D: (1 - u/2) / (1 + u/2).
        worst, best = ((1 - u / 200) / (1 + u / 200) for u in (oval.high, oval.low))
        if worst < rule.least_diameter_ratio:
            found = f"least over largest diameter {worst:.2f} to {best:.2f}"
            said.append((found, best < rule.least_diameter_ratio))
    wall = forming.wall_outside
    if rule.least_wall_pct is not None and 100 * wall.low < rule.least_wall_pct:
        found = f"wall outside {100 * wall.low:.0f} to {100 * wall.high:.0f} %"
        said.append((found, 100 * wall.high < rule.least_wall_pct))
    return said


def _risk(severity: float, at: Bounds) -> Risk:
    if severity <= at.low:
        return "small"
    return "some" if severity <= at.high else "likely"
