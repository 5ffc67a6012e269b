"""Shop files written as the person could have written them, and never over another."""

import json
import re
from collections.abc import Mapping, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from benchmate import units
from benchmate.errors import Failure, Refusal
from benchmate.shop.field_readers import Report, Row, Table, read_table
from benchmate.shop.folder import FOLDERS, FileKind, Shop
from benchmate.shop.gauges import gauge_in
from benchmate.shop.nodes import ScalarNode, UnreadableError, parse_nodes
from benchmate.shop.parts import Die, Job, Tube
from benchmate.shop.tables import DIE, JOB, TUBE, against_setup
from benchmate.wording import printable

TABLES: dict[FileKind, Table[Any]] = {"tube": TUBE, "die": DIE, "job": JOB}
Bend = Mapping[str, str]
"""Keys of one bend with what the person wrote."""
_LENGTHS = {
    "od", "wall", "stock", "for_od", "centreline_radius", "start_offset", "grip", "between", "tail",
    "straight", "width", "height", "length", "eaves", "ridge", "joint", "gap", "leg", "radius",
    "flat", "first_leg", "last_leg",
}  # fmt: skip
_NOTES = {
    "od": "outside diameter",
    "wall": "measure it: a nominal wall can be a sixth off",
    "yield_strength": "the certificate's, else the standard's least",
    "for_od": "tube's outside diameter",
    "centreline_radius": "to the middle of the tube",
    "max_angle": "degrees that the bender reaches",
    "start_offset": "mark held at the die's line to the start of bend",
    "slack": "arm rotation that bends nothing",
    "tolerance": "degrees either way",
    "count": "how many to make",
    "tail": "straight after the last bend",
}


def in_unit(key: str, written: str, unit: units.LengthUnit) -> str:
    """Give a bare length the unit that people at this bench write; anything else as it is."""
    if key not in _LENGTHS or not units.is_bare(written):
        return written
    return f"{written.strip()} {'mm' if unit == 'mm' else 'in'}"


def refuse_value(kind: FileKind, key: str, written: str) -> None:
    """Raise ValueError, in a sentence, for what a key of that kind of file can't hold."""
    check_value(next(row for row in TABLES[kind].rows if row.key == key), written)


def check_value(row: Row, written: str) -> None:
    """Raise ValueError, in a sentence, for what this row can't read."""
    report = Report("")
    row.read(ScalarNode(0, written), row.key, report)
    if report.problems:
        raise ValueError(report.problems[0].says)


def composed(kind: FileKind, values: Mapping[str, str], bends: Sequence[Bend] = ()) -> str:
    """Give the text of a shop file: keys in the order of the table, bends in place, with remarks.

    ``values`` hold what the person wrote by key; a shape's or a list's is taken as YAML.
    """
    known = [row.key for row in TABLES[kind].rows]
    unknown = [key for key in values if key not in known]
    lines = [
        f"# Written by 'benchmate add {kind}'. Change it as you like: it is never written over."
    ]
    for key in [*known, *unknown]:
        if key == "bends" and bends:
            lines += ["bends:", *(f"  - {{{_flow(bend)}}}" for bend in bends)]
        elif key in values:
            raw = key in ("shape", "points", "fit", "rules", "bends") or key not in known
            written = values[key] if raw else _scalar(values[key])
            lines.append(f"{key}: {written}{_remark(key, values[key])}")
    return "\n".join(lines) + "\n"


def write_part(shop: Shop, kind: FileKind, name: str, text: str) -> Path:
    """Write a new shop file; give its path.

    Refusal, with all that is wrong in the text, a line each, or when there is such a file already;
    nothing is written then.
    """
    path = shop.path / FOLDERS[kind] / f"{name}.yaml"
    if path.exists():
        raise Refusal(f"{printable(str(path), 400)}: there is such a file; take another name")
    checked(shop, kind, text)
    try:
        path.parent.mkdir(exist_ok=True)
        with path.open("x", encoding="utf-8") as file:
            file.write(text)
    except OSError as error:
        raise Failure(
            f"{printable(str(path), 400)}: can't be written ({error.strerror})"
        ) from error
    return path


def checked(shop: Shop, kind: FileKind, text: str) -> Tube | Die | Job:
    """Give what the text says, held against the shop; Refusal with all that is wrong."""
    report = Report(f"the new {kind}", shop.path / FOLDERS[kind])
    found: Tube | Die | Job | None = None
    try:
        found = read_table(TABLES[kind], parse_nodes(text), "", report)
    except UnreadableError as error:
        report.say(error.line, "", error.says)
    if isinstance(found, Job):
        for key, there in (("tube", shop.tubes), ("die", shop.dies)):
            wanted = getattr(found, key)
            if wanted not in there:
                names = ", ".join(sorted(there)) or "none yet"
                report.say_of(key, f"no {key} '{wanted}' on the rack; there are: {names}")
        tube, die = shop.tubes.get(found.tube), shop.dies.get(found.die)
        unit = "mm" if shop.good_bench is None else shop.good_bench.unit
        for key, says in against_setup(found, tube, die, unit):
            report.say_of(key, says)
    if report.problems or found is None:
        raise Refusal("\n".join(map(str, report.problems)))
    return found


def _remark(key: str, written: str) -> str:
    notes = [_NOTES[key]] if key in _NOTES else []
    if key == "wall":
        # A number that the gauge doesn't have is told when the text is read.
        with suppress(ValueError):
            if (inches := gauge_in(written)) is not None:
                notes.insert(0, f"{inches} in by the Birmingham gauge")
    return f"    # {'; '.join(notes)}" if notes else ""


def _flow(bend: Bend) -> str:
    return ", ".join(f"{key}: {_scalar(value)}" for key, value in bend.items())


def _scalar(written: str) -> str:
    plain = re.fullmatch(r"[A-Za-z0-9+-][A-Za-z0-9 ._/+%-]*", written) is not None
    return written if plain else json.dumps(written, ensure_ascii=False)
