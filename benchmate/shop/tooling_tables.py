"""The keys that say how a die is made, and those of materials.yaml and of rules/, as ``tables``."""

import re
from collections.abc import Collection, Iterator
from typing import get_args

from benchmate import units
from benchmate.shop.field_readers import (
    Range,
    Row,
    Table,
    choice_of,
    decimal,
    free_text,
    list_of,
    name,
    number_of,
    percentage,
    table_of,
    value_of,
    whole_number,
    yes_or_no,
)
from benchmate.shop.threads import GRADES, is_metric_grade, thread
from benchmate.shop.tooling import (
    Bolts,
    Bushing,
    Core,
    Follower,
    Groove,
    Hold,
    Material,
    Materials,
    Plates,
    Rule,
    RuleSet,
)
from benchmate.units import INCH_MM, MPA_PER_KSI
from benchmate.wording import nearest, printable

SLIPPED_UNIT = 0.12
"""A value that fits within this share once it is taken in the other unit was written in that."""

_LENGTH = number_of(units.length_mm, Range(0, 10_000, "mm", above_low=True))
_STRENGTH = number_of(units.stress_mpa, Range(1, 5000, "MPa"))
_LONG_TEXT = 400


def _long_text(text: str) -> str:
    """Read a sentence or two, a line at a time."""
    pieces = [free_text(text[at : at + 120]) for at in range(0, min(len(text), _LONG_TEXT), 120)]
    if len(text) > _LONG_TEXT:
        raise ValueError(f"{len(text)} characters are too many; write up to {_LONG_TEXT}")
    return "".join(pieces)


def torque_nm(text: str) -> float:
    """Read a torque in N m, ft lb or in lb; a bare number is N m."""
    match = re.fullmatch(
        r"(\d{1,6}(?:\.\d{0,6})?) ?(n ?m|nm|ft[ .-]?lb|lb[ .-]?ft|in[ .-]?lb|lb[ .-]?in)?",
        " ".join(text.lower().split()),
    )
    if match is None:
        raise ValueError(f"'{printable(text, 40)}' is no torque; write it as 85 N m or 63 ft lb")
    unit = re.sub(r"[ .-]", "", match[2] or "nm")
    foot_pound = 1.3558179
    per = {"nm": 1.0, "ftlb": foot_pound, "lbft": foot_pound}.get(unit, foot_pound / 12)
    return float(match[1]) * per


def bolt_size(text: str) -> str:
    """Read a bolt's size; give it as people write it in full."""
    return thread(text).size


def slipped_length(written_mm: float, expected_mm: float) -> str | None:
    """Say what was written instead of mm, where 25.4 makes it fit what is expected."""
    for factor, says in (
        (INCH_MM, f"that many inches would fit: write {written_mm:g} in"),
        (1 / INCH_MM, f"it is 25.4 times too large: write {written_mm / INCH_MM:g} mm"),
    ):
        if abs(written_mm * factor / expected_mm - 1) <= SLIPPED_UNIT:
            return says
    return None


def slipped_stress(written_mpa: float, least_mpa: float, most_mpa: float) -> str | None:
    """Say what was written instead of MPa, where 6.89 puts it between what there is."""
    if written_mpa < least_mpa <= written_mpa * MPA_PER_KSI <= most_mpa:
        return f"6.89 times too small, as ksi are: write {written_mpa:g} ksi"
    if written_mpa > most_mpa >= written_mpa / MPA_PER_KSI >= least_mpa:
        return f"6.89 times too large: write {written_mpa / MPA_PER_KSI:.4g} MPa"
    return None


def groove_problem(width_mm: float, od_mm: float) -> str | None:
    """Say why a groove of that width can't take tube of that diameter; None when it can."""
    slip = slipped_length(width_mm, od_mm)
    if slip is not None:
        return f"{width_mm:g} mm for tube of {od_mm:g} mm; {slip}"
    if width_mm < od_mm * (1 - NARROWER):
        return (
            f"{width_mm:g} mm is narrower than the tube of {od_mm:g} mm; measure across the"
            " groove's edges, it is as wide as the tube or a little wider"
        )
    if width_mm > 1.5 * od_mm:
        return f"{width_mm:g} mm is far wider than the tube of {od_mm:g} mm; measure its edges"
    return None


def depth_problem(depth_mm: float, od_mm: float) -> str | None:
    """Say why a groove can't be that deep for tube of that diameter; None when it can."""
    slip = slipped_length(depth_mm, od_mm / 2)
    if slip is not None:
        return f"{depth_mm:g} mm for tube of {od_mm:g} mm; {slip}"
    if not od_mm / 20 <= depth_mm <= 1.5 * od_mm:
        return (
            f"{depth_mm:g} mm can't be for tube of {od_mm:g} mm; a groove is about half as deep"
            " as the tube is wide"
        )
    return None


NARROWER = 0.002
"""A groove may measure this share under the tube: callipers' own error."""


def _bolts(bolts: Bolts) -> Iterator[tuple[str, str]]:
    bolt = thread(bolts.size)
    if bolt.unified == is_metric_grade(bolts.grade):
        right = "sae-2, sae-5 or sae-8" if bolt.unified else "8.8, 10.9 or 12.9"
        yield "grade", f"{bolts.size} bolts don't come in {bolts.grade}; write {right}"
    engaged, longest = bolts.engaged_mm, 6 * bolt.diameter_mm
    if engaged is not None and not bolt.pitch_mm <= engaged <= longest:
        slip = slipped_length(engaged, bolt.diameter_mm)
        says = slip or f"write the thread in the hole, {bolt.pitch_mm:g} to {longest:g} mm"
        yield "engaged", f"{engaged:g} mm can't be for {bolts.size}; {says}"


def _bushing(bushing: Bushing) -> Iterator[tuple[str, str]]:
    if bushing.bore_mm < bushing.pin_mm:
        yield "bore", f"less than the pin's {bushing.pin_mm:g} mm; a bore is wider than its pin"
    elif slip := slipped_length(bushing.pin_mm, bushing.bore_mm):
        yield "pin", slip


def _material(material: Material) -> Iterator[tuple[str, str]]:
    if material.across_mpa > material.along_mpa:
        yield "across", "more than along; layers and grain are weaker across"


CORE: Table[Core] = Table(
    Core,
    (
        Row("material", "material", value_of(name)),
        Row("infill", "infill_pct", number_of(percentage, Range(5, 100, "%")), needed=False),
        Row("walls", "walls", number_of(whole_number, Range(0, 100, "")), needed=False),
    ),
)
PLATES: Table[Plates] = Table(
    Plates,
    (
        Row("material", "material", value_of(name)),
        Row("thickness", "thickness_mm", number_of(units.length_mm, Range(0.5, 200, "mm"))),
    ),
)
BOLTS: Table[Bolts] = Table(
    Bolts,
    (
        Row("size", "size", value_of(bolt_size)),
        Row("grade", "grade", choice_of(*GRADES)),
        Row("count", "count", number_of(whole_number, Range(1, 100, "bolts"))),
        Row("hold", "hold", choice_of(*get_args(Hold)), needed=False),
        Row("engaged", "engaged_mm", _LENGTH, needed=False),
        Row("radius", "radius_mm", _LENGTH, needed=False),
        Row("torque", "torque_nm", number_of(torque_nm, Range(0.5, 3000, "N m")), needed=False),
    ),
    _bolts,
)
GROOVE: Table[Groove] = Table(
    Groove,
    (Row("width", "width_mm", _LENGTH), Row("depth", "depth_mm", _LENGTH, needed=False)),
)
BUSHING: Table[Bushing] = Table(
    Bushing, (Row("pin", "pin_mm", _LENGTH), Row("bore", "bore_mm", _LENGTH)), _bushing
)
FOLLOWER: Table[Follower] = Table(
    Follower,
    (Row("distance", "distance_mm", _LENGTH), Row("length", "length_mm", _LENGTH, needed=False)),
)
_MATERIAL: Table[Material] = Table(
    Material,
    (
        Row("material", "material", value_of(name)),
        Row("along", "along_mpa", _STRENGTH),
        Row("across", "across_mpa", _STRENGTH),
        Row("modulus", "modulus_gpa", number_of(units.modulus_gpa, Range(0.1, 500, "GPa"))),
        Row("softens", "softens_c", number_of(decimal, Range(20, 2000, "C")), needed=False),
        Row("creeps", "creeps", value_of(yes_or_no), needed=False),
        Row("source", "source", value_of(_long_text)),
    ),
    _material,
)
MATERIALS: Table[Materials] = Table(
    Materials, (Row("materials", "materials", list_of(table_of(_MATERIAL), 1, 100)),)
)
_RULE: Table[Rule] = Table(
    Rule,
    (
        Row("rule", "rule", value_of(_long_text)),
        Row(
            "least_radius",
            "least_radius_od",
            number_of(decimal, Range(0.5, 50, "outside diameters")),
            needed=False,
        ),
        Row(
            "most_ovality",
            "most_ovality_pct",
            number_of(percentage, Range(0.1, 50, "%")),
            needed=False,
        ),
        Row(
            "least_diameters",
            "least_diameter_ratio",
            number_of(decimal, Range(0.5, 1, "")),
            needed=False,
        ),
        Row(
            "least_wall",
            "least_wall_pct",
            number_of(percentage, Range(10, 100, "%")),
            needed=False,
        ),
        Row("source", "source", value_of(_long_text)),
        Row("from_memory", "from_memory", value_of(yes_or_no), needed=False),
    ),
)
RULES: Table[RuleSet] = Table(
    RuleSet,
    (
        Row("rules", "rules", value_of(name)),
        Row("for", "for_", value_of(_long_text)),
        Row("edition", "edition", value_of(free_text)),
        Row("each", "each", list_of(table_of(_RULE), 1, 50)),
    ),
)


def against_die(
    for_od_mm: float, radius_mm: float, groove: Groove | None, bolts: tuple[Bolts, ...]
) -> Iterator[tuple[str, str]]:
    """Give (key, what is wrong) of a die's parts against its own tube and radius."""
    if groove is not None:
        if says := groove_problem(groove.width_mm, for_od_mm):
            yield "groove width", says
        if groove.depth_mm is not None and (says := depth_problem(groove.depth_mm, for_od_mm)):
            yield "groove depth", says
    for number, each in enumerate(bolts, 1):
        if each.radius_mm is None:
            continue
        bottom_mm = radius_mm - for_od_mm / 2
        half_mm = thread(each.size).diameter_mm / 2
        says = None
        if each.radius_mm > radius_mm:
            says = f"{each.radius_mm:g} mm lies where the tube is"
        elif each.radius_mm < half_mm:
            says = f"{each.radius_mm:g} mm puts the bolts on the pivot"
        if says:
            slip = slipped_length(each.radius_mm, bottom_mm)
            right = slip or "write it from the pivot's axis to the middle of a bolt"
            yield f"bolts {number} radius", f"{says}; {right}"


def unknown_material(written: str, known: Collection[str]) -> str:
    """Say that no such material is known, and which is spelt most like it."""
    close = nearest(written, known)
    told = f"no material '{printable(written, 40)}' in materials.yaml"
    return f"{told}; did you mean {close}?" if close else f"{told}; {', '.join(sorted(known))}"
