"""The keys of each shop file, what each may hold, and what the files owe each other.

A new kind of file, or a new key, is a new row here. Limits without a source are plausibility
limits of our own: they catch a slipped unit, not an unusual shop.
"""

import math
from collections.abc import Iterator
from typing import get_args

from benchmate import units
from benchmate.shop.drawing_files import read_points
from benchmate.shop.field_readers import (
    Range,
    Row,
    Table,
    choice_of,
    decimal,
    folder,
    free_text,
    list_of,
    list_or_file,
    name,
    number_of,
    percentage,
    table_of,
    value_of,
    whole_number,
    yes_or_no,
)
from benchmate.shop.gauges import gauge_mm
from benchmate.shop.parts import Arm, Bench, ChipKind, Die, Job, JobBend, Sensor, Signals, Tube
from benchmate.shop.shape_tables import KEEP_OUT, shape
from benchmate.shop.tooling_tables import (
    BOLTS,
    BUSHING,
    CORE,
    FOLLOWER,
    GROOVE,
    PLATES,
    against_die,
    slipped_stress,
)

NAME = value_of(name)
TEXT = value_of(free_text)
YES_OR_NO = value_of(yes_or_no)
UNIT = choice_of(*get_args(units.LengthUnit))
LENGTH = number_of(units.length_mm, Range(0, 100_000, "mm", above_low=True))
ANY_LENGTH = number_of(units.length_mm, Range(-100_000, 100_000, "mm"))
STRENGTH_FOUND = (
    "it stands on the delivery's certificate, else take the least that the steel's standard asks"
    " for: 'benchmate add tube' offers the common ones"
)
MOST_OD_MM = 150.0
"""No bender worked by hand takes larger tube: a larger number was another unit."""


def bend_angle_deg(text: str) -> float:
    """Read a bend angle; ValueError says what a person wants who writes one below 0."""
    angle = units.angle_deg(text)
    if angle < 0:
        raise ValueError(
            f"{angle:g} is below 0: a tube bends one way only; write {-angle:g}, and turn the tube"
            " by 180 before it"
        )
    return angle


BEND_ANGLE = number_of(bend_angle_deg, Range(0, 180, "deg", above_low=True))
TURN = number_of(units.angle_deg, Range(-360, 360, "deg"))
STRENGTH = number_of(units.stress_mpa, Range(10, 5000, "MPa"))
PIN = number_of(whole_number, Range(0, 27, "(BCM numbers)"))

STEEL_MPA = (120.0, 2500.0)
"""Strengths between which steel tube lies: what is outside and fits by 6.89 was another unit."""
STEEL_GPA = 150.0
"""Tube whose modulus is written as less is no steel."""
FIT = 0.01
"""A die fits tube whose outside diameter is within this share; mill tolerance is less."""


def wall_mm(text: str) -> float:
    """Read a wall: a length, or a gauge number as in "14 ga" (Birmingham); ValueError otherwise."""
    gauge = gauge_mm(text)
    return units.length_mm(text) if gauge is None else gauge


def _bench(bench: Bench) -> Iterator[tuple[str, str]]:
    signals = bench.signals
    single = [pin for pin in (signals.buzzer, signals.foot_switch) if pin is not None]
    pins = [*single, *signals.lights]
    for pin in sorted(set(pins)):
        if pins.count(pin) > 1:
            yield "signals", f"pin {pin} is given twice; each signal takes a pin of its own"
    if bench.frame_sensor is not None:
        yield from _frame(bench.sensor, bench.frame_sensor)


def _frame(arm: Sensor, frame: Sensor) -> Iterator[tuple[str, str]]:
    if arm.chip == "as5600":
        yield "frame_sensor", "an as5600 sits on the frame as it is; take frame_sensor out"
        return
    if frame.chip != arm.chip:
        yield "frame_sensor chip", f"not the one on the arm; take another {arm.chip}"
    if frame.bus != arm.bus:
        yield "frame_sensor bus", f"not the one of sensor; wire both to bus {arm.bus}"
    if frame.address is None or arm.address is None or frame.address == arm.address:
        yield "frame_sensor address", "write both chips' addresses, one each, as in 0x6a and 0x6b"


def _too_large(od_mm: float) -> str | None:
    if od_mm <= MOST_OD_MM:
        return None
    inches = od_mm / 25.4
    meant = f"; {inches:g} mm?" if abs(inches - round(inches, 2)) < 1e-6 and inches >= 4 else ""
    return f"{od_mm:g} mm is no tube for a bender worked by hand{meant or '; look at its unit'}"


def _die(die: Die) -> Iterator[tuple[str, str]]:
    if says := _too_large(die.for_od_mm):
        yield "for_od", says
    if die.centreline_radius_mm <= die.for_od_mm / 2:
        yield "centreline_radius", "not more than half of for_od; measure to the tube's centre line"
    yield from against_die(die.for_od_mm, die.centreline_radius_mm, die.groove, die.bolts)


def _tube(tube: Tube) -> Iterator[tuple[str, str]]:
    if says := _too_large(tube.od_mm):
        yield "od", says
    if tube.wall_mm >= tube.od_mm / 2:
        yield "wall", "not less than half of the outside diameter; write the wall's thickness"
    if tube.tensile_strength_mpa < tube.yield_strength_mpa:
        yield "tensile_strength", "below the yield strength; it is the larger of the two"
    if tube.modulus_gpa is None or tube.modulus_gpa > STEEL_GPA:
        for key, strength in (
            ("yield_strength", tube.yield_strength_mpa),
            ("tensile_strength", tube.tensile_strength_mpa),
        ):
            if says := slipped_stress(strength, *STEEL_MPA):
                yield key, f"{strength:g} MPa; {says}"


def _job(job: Job) -> Iterator[tuple[str, str]]:
    ways = {"bends": job.bends, "points": job.points_mm, "shape": job.shape}
    written = [key for key, value in ways.items() if value]
    if not written:
        yield "", "no bends, points or shape; write one of them"
    for key in written[1:]:
        yield key, f"written besides {written[0]}; write one of the two"
    if job.bends and job.tail_mm is None:
        yield "bends", "written without tail; write the straight after the last bend as tail"
    if job.points_mm and job.tail_mm is not None:
        yield "tail", "written besides points; the last point is the tube's end"
    if job.shape and job.tail_mm is not None:
        yield "tail", "written besides a shape, which has its own end"
    for number, angle in enumerate(point_angles(job), start=2):
        if angle is None:
            yield "points", f"point {number} lies on a neighbour; take one of the two out"
        elif angle < 0.1:
            yield "points", f"the tube runs straight through point {number}; take it out"


def point_angles(job: Job) -> list[float | None]:
    """Give the bend angle [deg] at each inner point; None where it lies on a neighbour."""
    angles: list[float | None] = []
    for before, here, after in zip(
        job.points_mm, job.points_mm[1:], job.points_mm[2:], strict=False
    ):
        into = [b - a for a, b in zip(before, here, strict=True)]
        out = [b - a for a, b in zip(here, after, strict=True)]
        lengths = math.hypot(*into) * math.hypot(*out)
        if lengths == 0:
            angles.append(None)
            continue
        along = sum(a * b for a, b in zip(into, out, strict=True))
        cross = math.hypot(
            into[1] * out[2] - into[2] * out[1],
            into[2] * out[0] - into[0] * out[2],
            into[0] * out[1] - into[1] * out[0],
        )
        angles.append(math.degrees(math.atan2(cross, along)))
    return angles


def misfits(tube: Tube, die: Die, unit: units.LengthUnit = "mm") -> str | None:
    """Say why the tube does not go in the die; None when it does."""
    if abs(tube.od_mm - die.for_od_mm) <= FIT * die.for_od_mm:
        return None
    return (
        f"{die.die} takes {units.show_size(die.for_od_mm, unit)} tube and {tube.tube} has "
        f"{units.show_size(tube.od_mm, unit)}; "
        "take a die and a tube of one outside diameter"
    )


def too_far(angle_deg: float, die: Die) -> str | None:
    """Say that the die cannot bend so far; None when it can."""
    if angle_deg <= die.max_angle_deg:
        return None
    return (
        f"{angle_deg:g} deg is above the {die.max_angle_deg:g} deg that die {die.die} bends to; "
        "take a smaller angle or another die"
    )


def against_setup(
    job: Job, tube: Tube | None, die: Die | None, unit: units.LengthUnit = "mm"
) -> Iterator[tuple[str, str]]:
    """Give (key, what is wrong) for a job on its die and tube; None for one that isn't known."""
    if tube is not None and die is not None and (says := misfits(tube, die, job.unit or unit)):
        yield "tube", says
    if die is None:
        return
    for number, bend in enumerate(job.bends, start=1):
        if says := too_far(bend.angle_deg, die):
            yield f"bends {number} angle", says
    for number, angle in enumerate(point_angles(job), start=2):
        if angle is not None and (says := too_far(round(angle, 3), die)):
            yield "points", f"at point {number} {says}"


SENSOR: Table[Sensor] = Table(
    Sensor,
    (
        Row("chip", "chip", choice_of(*get_args(ChipKind))),
        Row("bus", "bus", number_of(whole_number, Range(0, 255, "")), needed=False),
        Row(
            "address",
            "address",
            number_of(whole_number, Range(0x08, 0x77, "(0x08 to 0x77)")),
            needed=False,
        ),
        Row("rate", "rate_hz", number_of(decimal, Range(20, 8000, "a second")), needed=False),
    ),
)
ARM: Table[Arm] = Table(
    Arm,
    (
        Row("plane", "plane", choice_of("vertical", "tilted", "horizontal"), needed=False),
        Row("radius", "radius_mm", number_of(units.length_mm, Range(0, 5000, "mm"))),
        Row("follows_tube", "follows_tube", YES_OR_NO, needed=False),
        Row("bites", "bites", YES_OR_NO, needed=False),
        Row("handed", "handed", choice_of("right", "left"), needed=False),
    ),
)
SIGNALS: Table[Signals] = Table(
    Signals,
    (
        Row("buzzer", "buzzer", PIN, needed=False),
        Row("lights", "lights", list_of(PIN, 1, 10), needed=False),
        Row("foot_switch", "foot_switch", PIN, needed=False),
    ),
)
BENCH: Table[Bench] = Table(
    Bench,
    (
        Row("bench", "bench", NAME),
        Row("sensor", "sensor", table_of(SENSOR)),
        Row("arm", "arm", table_of(ARM)),
        Row("signals", "signals", table_of(SIGNALS), needed=False),
        Row("unit", "unit", UNIT, needed=False),
        Row("kerf", "kerf_mm", number_of(units.length_mm, Range(0, 20, "mm")), needed=False),
        Row("keep_out", "keep_out", table_of(KEEP_OUT), needed=False),
        Row("frame_sensor", "frame_sensor", table_of(SENSOR), needed=False),
        Row("store_copy", "store_copy", value_of(folder), needed=False),
    ),
    _bench,
)
DIE: Table[Die] = Table(
    Die,
    (
        Row("die", "die", NAME),
        Row("for_od", "for_od_mm", LENGTH),
        Row("centreline_radius", "centreline_radius_mm", LENGTH),
        Row(
            "max_angle",
            "max_angle_deg",
            number_of(units.angle_deg, Range(0, 360, "deg", above_low=True)),
        ),
        Row("start_offset", "start_offset_mm", ANY_LENGTH, needed=False),
        Row("slack", "slack_deg", number_of(units.angle_deg, Range(0, 45, "deg")), needed=False),
        Row("grip", "grip_mm", LENGTH, needed=False),
        Row("between", "between_mm", LENGTH, needed=False),
        Row("tail", "tail_mm", LENGTH, needed=False),
        Row("core", "core", table_of(CORE), needed=False),
        Row("plates", "plates", table_of(PLATES), needed=False),
        Row("bolts", "bolts", list_of(table_of(BOLTS), 1, 20), needed=False),
        Row("groove", "groove", table_of(GROOVE), needed=False),
        Row("bushing", "bushing", table_of(BUSHING), needed=False),
        Row("follower", "follower", table_of(FOLLOWER), needed=False),
        Row("step", "step_pct", number_of(percentage, Range(1, 200, "%")), needed=False),
    ),
    _die,
)
TUBE: Table[Tube] = Table(
    Tube,
    (
        Row("tube", "tube", NAME),
        Row("od", "od_mm", LENGTH),
        Row("wall", "wall_mm", number_of(wall_mm, Range(0, 100_000, "mm", above_low=True))),
        Row("grade", "grade", TEXT),
        Row("yield_strength", "yield_strength_mpa", STRENGTH, found=STRENGTH_FOUND),
        Row("tensile_strength", "tensile_strength_mpa", STRENGTH, found=STRENGTH_FOUND),
        Row(
            "modulus",
            "modulus_gpa",
            number_of(units.modulus_gpa, Range(10, 500, "GPa")),
            needed=False,
        ),
        Row("n", "n", number_of(decimal, Range(0, 0.9, "")), needed=False),
        Row("K", "K_mpa", STRENGTH, needed=False),
        Row("stock", "stock_mm", LENGTH, needed=False),
    ),
    _tube,
)
BEND: Table[JobBend] = Table(
    JobBend,
    (
        Row("straight", "straight_mm", LENGTH),
        Row("angle", "angle_deg", BEND_ANGLE),
        Row("turn", "turn_deg", TURN, needed=False),
    ),
)
JOB: Table[Job] = Table(
    Job,
    (
        Row("job", "job", NAME),
        Row("tube", "tube", NAME),
        Row("die", "die", NAME),
        Row("lot", "lot", TEXT, needed=False),
        Row(
            "tolerance",
            "tolerance_deg",
            number_of(units.angle_deg, Range(0, 10, "deg", above_low=True)),
        ),
        Row(
            "over_chance",
            "over_chance_pct",
            number_of(percentage, Range(0.1, 50, "%")),
            needed=False,
        ),
        Row("bends", "bends", list_of(table_of(BEND), 1, 100), needed=False),
        Row("tail", "tail_mm", LENGTH, needed=False),
        Row(
            "points",
            "points_mm",
            list_or_file(list_of(list_of(ANY_LENGTH, 3, 3), 3, 100), read_points),
            needed=False,
        ),
        Row("shape", "shape", shape, needed=False),
        Row(
            "fit",
            "fit",
            list_of(number_of(whole_number, Range(1, 102, "")), 1, 102),
            needed=False,
        ),
        Row("rules", "rules", list_of(NAME, 1, 20), needed=False),
        Row("cut", "cut_mm", LENGTH, needed=False),
        Row("give", "give", choice_of("first", "last", "both"), needed=False),
        Row("count", "count", number_of(whole_number, Range(1, 10_000, "")), needed=False),
        Row("other_end", "other_end", YES_OR_NO, needed=False),
        Row("unit", "unit", UNIT, needed=False),
    ),
    _job,
)
