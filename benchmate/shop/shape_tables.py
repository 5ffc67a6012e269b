"""The keys of a job's shape and of the bench's keep-outs, as ``tables`` has those of the files."""

from collections.abc import Iterator
from typing import Any, get_args

from benchmate import units
from benchmate.shop.field_readers import (
    Range,
    Report,
    Row,
    Table,
    choice_of,
    decimal,
    free_text,
    list_of,
    number_of,
    read_table,
    table_of,
    value_of,
    whole_number,
)
from benchmate.shop.keep_out import Box, KeepOut, Plane
from benchmate.shop.nodes import Node
from benchmate.shop.shapes import (
    Arch,
    Bridge,
    Frame,
    Gable,
    Hoop,
    MeasuredAt,
    Ring,
    Shape,
    Step,
)

LENGTH = number_of(units.length_mm, Range(0, 100_000, "mm", above_low=True))
NO_LESS = number_of(units.length_mm, Range(0, 100_000, "mm"))
PLACE = list_of(number_of(units.length_mm, Range(-100_000, 100_000, "mm")), 3, 3)
WAY = list_of(number_of(decimal, Range(-1000, 1000, "")), 3, 3)
SLOPE = number_of(units.angle_deg, Range(1, 89, "deg"))
ROUND = number_of(units.angle_deg, Range(1, 360, "deg"))
BENDS = number_of(whole_number, Range(1, 100, ""))
AT = Row("at", "at", choice_of(*get_args(MeasuredAt)), needed=False)


def _length(key: str, *, needed: bool = True) -> Row:
    return Row(key, f"{key}_mm", LENGTH, needed)


def _pieces() -> tuple[Row, ...]:
    return (
        Row("bends", "bends", BENDS, needed=False),
        Row("leg", "leg_mm", NO_LESS, needed=False),
        AT,
    )


HOOP: Table[Hoop] = Table(Hoop, (_length("height"), _length("width", needed=False), AT))
STEP: Table[Step] = Table(
    Step,
    (
        _length("height"),
        Row("angle", "angle_deg", SLOPE, needed=False),
        _length("length", needed=False),
        _length("first_leg"),
        _length("last_leg"),
    ),
)
BRIDGE: Table[Bridge] = Table(
    Bridge,
    (
        _length("height"),
        Row("angle", "angle_deg", SLOPE),
        _length("flat", needed=False),
        _length("first_leg"),
        _length("last_leg"),
    ),
)
GABLE: Table[Gable] = Table(Gable, (_length("width"), _length("eaves"), _length("ridge"), AT))
ARCH: Table[Arch] = Table(Arch, (_length("width"), _length("height"), *_pieces()))
FRAME: Table[Frame] = Table(
    Frame,
    (
        _length("width"),
        _length("height"),
        _length("joint", needed=False),
        Row("gap", "gap_mm", NO_LESS, needed=False),
        AT,
    ),
)
RING: Table[Ring] = Table(Ring, (_length("radius"), Row("angle", "angle_deg", ROUND), *_pieces()))
SHAPES: dict[str, Table[Any]] = {
    "frame": FRAME,
    "gable": GABLE,
    "hoop": HOOP,
    "arch": ARCH,
    "ring": RING,
    "bridge": BRIDGE,
    "step": STEP,
}
_ONE_OF: Table[Any] = Table(
    dict, tuple(Row(kind, kind, table_of(table), needed=False) for kind, table in SHAPES.items())
)


def shape(node: Node, path: str, report: Report) -> Shape | None:
    """Read one shape, as in ``hoop: {width: 600 mm, height: 800 mm}``."""
    named = read_table(_ONE_OF, node, path, report)
    if named is None:
        return None
    if len(named) != 1:
        report.say(node.line, path, f"{len(named)} shapes are named; name one")
        return None
    found: Shape = next(iter(named.values()))
    return found


def _box(box: Box) -> Iterator[tuple[str, str]]:
    for low, high, axis in zip(box.low_mm, box.high_mm, "xyz", strict=True):
        if low >= high:
            yield "high", f"its {axis} isn't above low's; give the far corner"


def _plane(plane: Plane) -> Iterator[tuple[str, str]]:
    if not any(plane.facing):
        yield "facing", "points nowhere; give a direction, as in [0, 0, 1]"


BOX: Table[Box] = Table(
    Box,
    (
        Row("name", "name", value_of(free_text)),
        Row("low", "low_mm", PLACE),
        Row("high", "high_mm", PLACE),
    ),
    _box,
)
PLANE: Table[Plane] = Table(
    Plane,
    (
        Row("name", "name", value_of(free_text)),
        Row("through", "through_mm", PLACE),
        Row("facing", "facing", WAY),
    ),
    _plane,
)
KEEP_OUT: Table[KeepOut] = Table(
    KeepOut,
    (
        Row("boxes", "boxes", list_of(table_of(BOX), 1, 50), needed=False),
        Row("planes", "planes", list_of(table_of(PLANE), 1, 50), needed=False),
        Row("swings", "swings", choice_of("first end", "last end"), needed=False),
    ),
)
