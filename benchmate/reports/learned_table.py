"""What is known of a setup, in lines for a person and as plain data for a program."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from benchmate.units import LengthUnit, show_about, show_length
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.springback import Bend, Springback
    from benchmate.springback.belief import Belief, Curve, Figure


@dataclass(frozen=True, slots=True)
class KnownSetup:
    """One setup with its bends and what all bends together say of it."""

    model: "Springback"
    bends: "tuple[Bend, ...]"
    numbers: Mapping[str, int]
    """What the log's list calls each bend that it names."""

    @property
    def names(self) -> tuple[str, str, str, str]:
        """Give bench, die, tube and lot."""
        setup = self.model
        return setup.bench.bench, setup.die.die, setup.tube.tube, setup.lot


def points(known: KnownSetup, curve_of: "Belief") -> list[tuple[float, float, bool]]:
    """Give each bend's last angle and springback, and whether it is outlying. Degrees."""
    slack = curve_of.slack_deg.value
    outlying = {outlier.name for outlier in curve_of.outliers}
    found = []
    for bend in known.bends:
        peak, rest, measured = max(bend.hits, key=lambda hit: hit[0])
        if not known.model.bench.arm.follows_tube:
            rest = None
        if measured is None and rest is None:
            continue
        angle = measured if measured is not None else (rest or 0.0) - slack
        springback = peak - rest if rest is not None else peak - slack - angle
        found.append((angle, springback, bend.name in outlying))
    return found


def curve_for(known: KnownSetup, told: "Belief") -> "Curve":
    """Give the fitted line over all angles that were bent, or that the die can."""
    highest = max([angle for angle, _, _ in points(known, told)], default=0.0)
    end = max(min(known.model.die.max_angle_deg, 200.0), highest, 20.0)
    return known.model.curve([end * step / 60 for step in range(61)])


def as_json(known: KnownSetup) -> dict[str, Any]:
    """Give the belief as plain data: degrees, mm, ratios."""
    bench, die, tube, lot = known.names
    belief = known.model.belief()
    names = {"bench": bench, "die": die, "tube": tube, "lot": lot, "bends": len(known.bends)}
    plain = asdict(belief)
    for outlier in plain["outliers"]:
        outlier["number"] = known.numbers.get(outlier["name"])
    return names | plain


def as_list(found: Sequence[KnownSetup], columns: int = 80) -> list[str]:
    """Give one line a setup; names are cut where the terminal is too narrow for them."""
    rows: list[tuple[str, ...]] = [("die", "tube", "lot", "bends", "slack", "at 90 deg", "odd")]
    for known in found:
        _, *names = known.names
        belief = known.model.belief()
        rows.append(
            (
                *(printable(name, 60) or "-" for name in names),
                str(len(known.bends)),
                _pair(belief.slack_deg, ""),
                _pair(belief.springback_90_deg, ""),
                str(len(belief.outliers) or "-"),
            )
        )
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    while sum(widths) + 2 * len(widths) > columns and max(widths[:3]) > 6:
        widths[widths.index(max(widths[:3]))] -= 1
    lines = [
        "  ".join(cell[:width].ljust(width) for cell, width in zip(row, widths, strict=True))
        for row in rows
    ]
    return [
        *(line.rstrip() for line in lines),
        "",
        "slack, and springback of 90 degrees, give or take what holds 19 times in 20;",
        "name a die, tube or lot to see more",
    ]


def as_text(known: KnownSetup, unit: LengthUnit | None = None) -> list[str]:
    """Give all that is believed of one setup, line by line; lengths in the bench's unit unless."""
    belief = known.model.belief()
    radius = belief.free_radius_mm
    unit = unit or known.model.bench.unit
    steel = printable(known.model.tube.grade, 30)
    bends = len(known.bends)
    lines = [
        ("slack", _pair(belief.slack_deg), _behind(belief.slack_deg, "on this die")),
        ("springback of 90 deg", _pair(belief.springback_90_deg), "legs and arc together"),
        ("of it the legs", _pair(belief.legs_deg), _behind(belief.legs_deg, "on this die")),
        (
            "radius after release",
            f"{show_length(radius.value, unit)} ± {show_about(2 * radius.sd, unit)}",
            "along the centreline",
        ),
        (
            f"{steel} over its strengths",
            _percent(belief.steel_ratio),
            _behind(belief.steel_ratio, "of it"),
        ),
        (
            "this lot over its steel",
            _percent(belief.lot_ratio),
            _behind(belief.lot_ratio, "of this lot"),
        ),
        (
            "this die over others",
            _percent(belief.die_ratio),
            _behind(belief.die_ratio, "on this die"),
        ),
        (
            "scatter of single pieces",
            f"{belief.scatter_deg.value:.2f} deg",
            "one standard deviation",
        ),
        (
            "stopping past the cue",
            f"{belief.stopping_deg.value:+.2f} deg",
            f"scatter {belief.stopping_deg.sd:.2f}, from {belief.stopping_deg.bends:.0f} presses",
        ),
        ("drift of the slack", _drift(belief), "since the die had settled in"),
    ]
    wide = max(len(name) for name, _, _ in lines)
    across = max(len(value) for _, value, _ in lines)
    return [
        title_of(known),
        "" if bends else "never bent: this is what mechanics and other setups say",
        *(f"  {name:<{wide}}  {value:>{across}}  {told}".rstrip() for name, value, told in lines),
        *_outliers(belief, known.numbers),
        "",
        "give or take what holds 19 times in 20",
    ]


def _outliers(belief: "Belief", numbers: Mapping[str, int]) -> list[str]:
    if not belief.outliers:
        return []
    lines = [
        f"  bend {numbers.get(outlier.name, '?')} of the log, {outlier.bend_angle:.1f} deg:"
        f" {outlier.off_deg:+.1f} deg off, {abs(outlier.off_sds):.0f} standard deviations:"
        f" {outlier.why}?"
        for outlier in belief.outliers
    ]
    return ["", "kept at little weight:", *lines]


def _drift(belief: "Belief") -> str:
    return "-" if belief.drift_deg is None else _pair(belief.drift_deg)


def title_of(known: KnownSetup) -> str:
    """Name the setup and count its bends, in one line."""
    bench, die, tube, lot = known.names
    of = f", lot {lot}" if lot else ""
    count = len(known.bends)
    told = f"{count} bend{'' if count == 1 else 's'}"
    return printable(f"bench {bench}, die {die}, tube {tube}{of}: {told}", 200)


def _pair(figure: "Figure", unit: str = "deg", digits: int = 2) -> str:
    return f"{figure.value:.{digits}f} ± {2 * figure.sd:.{digits}f} {unit}".rstrip()


def _percent(figure: "Figure") -> str:
    return f"{100 * figure.value:+.0f} ± {200 * figure.sd:.0f} %"


def _behind(figure: "Figure", whose: str) -> str:
    count = round(figure.bends)
    return f"from {count} bend{'' if count == 1 else 's'} {whose}"
