"""A part's points out of a drawing: rows of a CSV file, or the lines of a DXF."""

import csv
import math
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple, cast

from benchmate.shop.nodes import UnreadableError
from benchmate.units import length_mm
from benchmate.wording import printable

if TYPE_CHECKING:
    from ezdxf.document import Drawing
    from ezdxf.entities.arc import Arc
    from ezdxf.entities.dxfentity import DXFEntity
    from ezdxf.entities.lwpolyline import LWPolyline
    from ezdxf.entities.polyline import Polyline

Point = tuple[float, float, float]
LARGEST_BYTES = 4 * 1024 * 1024
MOST_POINTS = 100
JOIN_MM = 0.1
"""Ends of lines nearer than this are one point."""
ASKEW_MM = 0.5
"""How far two lines may pass each other and still count as meeting."""
TANGENT_DEG = 1.0
"""How far a straight's direction may be off its arc's tangent: coordinates rounded to 0.1 mm."""
MOST_SWEPT_DEG = 180.0 - 0.01
"""An arc of more has no point in which its straights meet."""
BROKEN = (
    OSError,
    ValueError,
    LookupError,
    TypeError,
    AttributeError,
    ArithmeticError,
    StopIteration,
)
"""A broken drawing fails wherever its reader first trips over it."""
UNITS_MM = {0: 1.0, 1: 25.4, 2: 304.8, 4: 1.0, 5: 10.0, 6: 1000.0}
"""Length of a DXF header's $INSUNITS; 0, no unit, is taken as mm."""


def read_points(path: Path) -> tuple[Point, ...]:
    """Read the points in which a part's straights meet, mm, from a .csv or .dxf file.

    UnreadableError with line and sentence for anything that is no such file.
    """
    kinds = {".csv": _from_csv, ".dxf": _from_dxf}
    read = kinds.get(path.suffix.lower())
    if read is None:
        raise UnreadableError(0, "points come from a file that ends in .csv or .dxf")
    if not path.is_file():
        raise UnreadableError(0, "there is no such file")
    if path.stat().st_size > LARGEST_BYTES:
        raise UnreadableError(0, f"larger than {LARGEST_BYTES // 1024**2} MB; give the part alone")
    points = tuple(read(path))
    if not 3 <= len(points) <= MOST_POINTS:
        raise UnreadableError(0, f"holds {len(points)} points; a part takes 3 to {MOST_POINTS}")
    return points


def _from_csv(path: Path) -> list[Point]:
    """Read rows of x, y, z, each a length as people write it; one heading row may come first."""
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        raise UnreadableError(0, "not UTF-8 text; save the file as UTF-8") from error
    split = ";" if ";" in text else "\t" if "\t" in text else ","
    points: list[Point] = []
    for number, line in enumerate(text.splitlines(), start=1):
        cells = [cell.strip() for cell in _cells(number, line, split)]
        if not any(cells) or cells[0].startswith("#"):
            continue
        if not points and [cell.lower() for cell in cells] == ["x", "y", "z"]:
            continue
        if len(cells) != 3:
            raise UnreadableError(number, f"{len(cells)} values; write x, y and z")
        try:
            points.append((length_mm(cells[0]), length_mm(cells[1]), length_mm(cells[2])))
        except ValueError as error:
            raise UnreadableError(number, str(error)) from error
    return points


def _cells(number: int, line: str, split: str) -> list[str]:
    try:
        return next(csv.reader([line], delimiter=split), [])
    except csv.Error as error:
        says = f"can't be taken apart ({error}); write x, y and z"
        raise UnreadableError(number, says) from error


class _Piece(NamedTuple):
    """A line or an arc of a drawing: its ends, and the directions (unit vectors) that it has there.

    Directions are those of someone who goes from ``one`` to ``two``.
    """

    one: Point
    two: Point
    leaves: Point
    arrives: Point
    swept_deg: float = 0.0
    """0: a line."""
    where: str = ""
    """What to call it, with its ends as the drawing has them."""

    @property
    def straight(self) -> bool:
        return not self.swept_deg

    def turned(self) -> "_Piece":
        back = self._replace(one=self.two, two=self.one)
        return back._replace(leaves=_times(self.arrives, -1), arrives=_times(self.leaves, -1))

    def scaled(self, by: float) -> "_Piece":
        return self._replace(one=_times(self.one, by), two=_times(self.two, by))


def _from_dxf(path: Path) -> list[Point]:
    """Read one 3D polyline, or lines and arcs that join by their ends, of the model space."""
    try:
        from ezdxf.filemanagement import readfile
        from ezdxf.lldxf.const import DXFError
    except ImportError as error:
        raise UnreadableError(
            0, "DXF takes ezdxf, which isn't installed here: pip install 'benchmate[dxf]'"
        ) from error
    try:
        drawing = readfile(path)
        unit = UNITS_MM.get(drawing.header.get("$INSUNITS", 0))
        pieces = _pieces(drawing)
    except (*BROKEN, DXFError) as error:
        raise UnreadableError(0, f"no DXF that can be read: {printable(str(error))}") from error
    if unit is None:
        raise UnreadableError(0, "the drawing's unit is unknown; draw it in mm or inches")
    return _corners(_joined([piece.scaled(unit) for piece in pieces]))


def _pieces(drawing: "Drawing") -> list[_Piece]:
    """Give lines and arcs of the model space, polylines taken apart; texts are left out."""
    pieces: list[_Piece] = []
    for entity in drawing.modelspace():
        kind = entity.dxftype()
        if kind in ("POLYLINE", "LWPOLYLINE"):
            line = cast("Polyline | LWPolyline", entity)
            pieces += [_piece(part) for part in line.virtual_entities()]
        elif kind in ("LINE", "ARC"):
            pieces.append(_piece(entity))
        elif kind in ("SPLINE", "ELLIPSE", "CIRCLE"):
            raise UnreadableError(0, f"holds a {kind.lower()}; a centreline takes lines and arcs")
    if not pieces:
        raise UnreadableError(0, "holds no polyline, line or arc in its model space")
    return pieces


def _piece(entity: "DXFEntity") -> _Piece:
    if entity.dxftype() == "LINE":
        one, two = _point(entity.dxf.start), _point(entity.dxf.end)
        along = _unit(_minus(two, one))
        return _Piece(one, two, along, along, where=f"the line {_span(one, two)}")
    arc = cast("Arc", entity)
    one, two = _point(arc.start_point), _point(arc.end_point)
    centre = _point(arc.ocs().to_wcs(arc.dxf.center))
    # Arcs run anticlockwise about their extrusion direction.
    axis = _unit(_point(arc.dxf.extrusion))
    swept = (arc.dxf.end_angle - arc.dxf.start_angle) % 360.0 or 360.0
    return _Piece(
        one,
        two,
        _unit(_cross(axis, _minus(one, centre))),
        _unit(_cross(axis, _minus(two, centre))),
        swept,
        f"the arc of {swept:.0f} deg {_span(one, two)}",
    )


def _span(one: Point, two: Point) -> str:
    return f"from ({_told(one)}) to ({_told(two)})"


def _told(point: Point) -> str:
    return ", ".join(f"{round(each, 1) + 0.0:g}" for each in point)


def _joined(pieces: Sequence[_Piece]) -> list[_Piece]:
    """Put pieces end to end, whichever way each was drawn."""
    if len(pieces) > 3 * MOST_POINTS:
        raise UnreadableError(0, f"holds {len(pieces)} lines and arcs; give one part's centreline")
    left = list(pieces)
    chain = [left.pop(0)]
    while left:
        ends = chain[0].one, chain[-1].two
        for piece in left:
            if near := _continued(piece, ends[1]):
                chain.append(near)
            elif near := _continued(piece, ends[0]):
                chain.insert(0, near.turned())
            else:
                continue
            left.remove(piece)
            break
        else:
            raise UnreadableError(
                0, f"{len(left)} of its lines and arcs join no end of the others; join them"
            )
    return chain


def _continued(piece: _Piece, end: Point) -> _Piece | None:
    if math.dist(piece.one, end) < JOIN_MM:
        return piece
    return piece.turned() if math.dist(piece.two, end) < JOIN_MM else None


def _corners(chain: Sequence[_Piece]) -> list[Point]:
    """Give the ends and where straights meet; an arc's straights meet beyond its ends."""
    for end in (chain[0], chain[-1]):
        if not end.straight:
            raise UnreadableError(
                0, f"the centreline ends in {end.where}; draw the straight after it"
            )
    points = [chain[0].one]
    for number, piece in enumerate(chain[1:], start=1):
        before = chain[number - 1]
        if piece.straight and before.straight:
            points.append(piece.one)
        elif piece.straight:
            points.append(_meeting(chain[number - 2], before, piece))
        elif not before.straight:
            raise UnreadableError(
                0, f"{piece.where} follows an arc; a bend takes a straight on each side"
            )
    return [*points, chain[-1].two]


def _refuse_arc(before: _Piece, arc: _Piece, after: _Piece) -> None:
    """Refuse an arc that is no bend between these two straights."""
    if arc.swept_deg > MOST_SWEPT_DEG:
        raise UnreadableError(
            0,
            f"{arc.where} is no one bend between points: its straights meet nowhere ahead; draw two"
            " arcs with a straight between them, or write the part as bends",
        )
    for line, here, there in (
        (before, before.arrives, arc.leaves),
        (after, arc.arrives, after.leaves),
    ):
        off = _angle_deg(here, there)
        if off > TANGENT_DEG:
            raise UnreadableError(
                0,
                f"{arc.where} doesn't run on from {line.where}: their directions differ by"
                f" {off:.1f} deg; draw the arc tangent to its straights",
            )


def _meeting(one: _Piece, arc: _Piece, two: _Piece) -> Point:
    """Give where the two straights of an arc, made longer, come nearest to each other."""
    _refuse_arc(one, arc, two)
    along, back = _minus(one.two, one.one), _minus(two.one, two.two)
    apart = _minus(two.two, one.one)
    a, b, c = _dot(along, along), _dot(along, back), _dot(back, back)
    level = a * c - b * b
    if level < 1e-12 * a * c:
        raise UnreadableError(
            0, f"{arc.where} lies between two lines side by side; write the part as bends"
        )
    d, e = _dot(along, apart), _dot(back, apart)
    here = _plus(one.one, _times(along, (c * d - b * e) / level))
    there = _plus(two.two, _times(back, (b * d - a * e) / level))
    if math.dist(here, there) > ASKEW_MM:
        raise UnreadableError(
            0,
            f"the straights of {arc.where} pass {math.dist(here, there):.1f} mm apart; draw"
            " them to meet",
        )
    return _times(_plus(here, there), 0.5)


def _point(place: Iterable[float]) -> Point:
    x, y, z = place
    return float(x), float(y), float(z)


def _plus(one: Point, two: Point) -> Point:
    return one[0] + two[0], one[1] + two[1], one[2] + two[2]


def _minus(one: Point, two: Point) -> Point:
    return one[0] - two[0], one[1] - two[1], one[2] - two[2]


def _times(point: Point, by: float) -> Point:
    return point[0] * by, point[1] * by, point[2] * by


def _dot(one: Point, two: Point) -> float:
    return sum(a * b for a, b in zip(one, two, strict=True))


def _cross(one: Point, two: Point) -> Point:
    return (
        one[1] * two[2] - one[2] * two[1],
        one[2] * two[0] - one[0] * two[2],
        one[0] * two[1] - one[1] * two[0],
    )


def _unit(way: Point) -> Point:
    return _times(way, 1 / (math.hypot(*way) or 1.0))


def _angle_deg(one: Point, two: Point) -> float:
    return math.degrees(math.atan2(math.hypot(*_cross(one, two)), _dot(one, two)))
