"""Records to rows and back, and the digest that chains each row to the one before.

A row's content is every column but those that say where it lies in this store (``seq``, ``place``,
``previous``, ``digest``), so that a merged row can be held against its origin's. The digest is
BLAKE2b (RFC 7693) over the previous digest, the place and the content, trace included.
"""

import hashlib
import json
import math
from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

from benchmate.errors import Failure
from benchmate.store.record import BendRecord, HitRecord, LoggedBend, Stamp
from benchmate.store.schema import DIGEST_BYTES, LARGEST_TRACE

Row: TypeAlias = dict[str, Any]
"""Column name to value, exactly as SQLite keeps it."""
HitRow: TypeAlias = tuple[Any, ...]

FIRST_DIGEST = bytes(DIGEST_BYTES)
"""What the first row names as the digest before it."""
HIT_COLUMNS = ("stop_angle", "stop_sd", "peak", "rest", "measured", "how_measured")
_STAMP = Stamp._fields
_BEND = (
    *("bend_id", "version", "corrects", "bench", "job", "bend", "die", "tube", "lot"),
    *("bend_angle", "tolerance", "verdict", "setup", "sensor", "faults"),
    *("withdrawn", "simulated", "note", "trace"),
)
CONTENT: Mapping[int, Mapping[str, tuple[str, ...]]] = {
    1: {"bend": (*_STAMP, *_BEND), "finding": (*_STAMP, "kind", "name", "payload")}
}
"""What a row's digest covers, by the layout that wrote it: never changed, only added to."""
LOCAL = {
    "bend": ("seq", "place", "previous", "digest"),
    "finding": ("seq", "previous", "digest"),
}


def content(table: str, row: Row, hits: Sequence[HitRow] = ()) -> bytes:
    """Give the row's content in one canonical way, the same in every store that holds it."""
    names = CONTENT[row["layout"]][table]
    plain = [row[name] for name in names if name != "trace"]
    text = json.dumps([table, plain, [list(hit) for hit in hits]], allow_nan=False)
    return text.encode() + b"\n" + bytes(row.get("trace", b""))


def digest(table: str, row: Row, hits: Sequence[HitRow] = ()) -> bytes:
    """Give the digest that the row must carry where it lies, from its content and ``previous``."""
    place = f"{row['seq']} {row.get('place', 0)}\n".encode()
    said = bytes(row["previous"]) + place + content(table, row, hits)
    return hashlib.blake2b(said, digest_size=DIGEST_BYTES).digest()


def bend_row(record: BendRecord, stamp: Stamp, version: int, corrects: str | None) -> Row:
    """Give the content of a bend's row; Failure names the number that isn't one."""
    bench = record.setup.get("bench")
    trace, note = record.trace, record.note
    if len(trace) > LARGEST_TRACE:
        # The bend is worth more than its trace.
        trace, note = b"", f"{note} (trace of {len(trace)} bytes left out: too large)".strip()
    return {
        **_stamped(stamp),
        "bend_id": record.bend_id,
        "version": version,
        "corrects": corrects,
        "bench": str(bench.get("bench", "")) if isinstance(bench, dict) else "",
        "job": record.job,
        "bend": int(record.bend),
        "die": record.die,
        "tube": record.tube,
        "lot": record.lot,
        "bend_angle": _finite(record.bend_angle, "bend_angle"),
        "tolerance": _finite(record.tolerance, "tolerance"),
        "verdict": record.verdict,
        "setup": plain_json(record.setup, "setup"),
        "sensor": plain_json(record.sensor, "sensor"),
        "faults": plain_json(list(record.faults), "faults"),
        "withdrawn": int(record.withdrawn),
        "simulated": int(record.simulated),
        "note": note,
        "trace": bytes(trace),
    }


def hit_rows(record: BendRecord) -> list[HitRow]:
    """Give the columns of the bend's hits, in order."""
    return [
        (
            _finite(hit.stop_angle, "stop_angle"),
            _finite(hit.stop_sd, "stop_sd"),
            _finite(hit.peak, "peak"),
            None if hit.rest is None else _finite(hit.rest, "rest"),
            None if hit.measured is None else _finite(hit.measured, "measured"),
            hit.how_measured,
        )
        for hit in record.hits
    ]


def finding_row(kind: str, name: str, payload: Mapping[str, Any], stamp: Stamp) -> Row:
    """Give the content of a finding's row."""
    text = plain_json(dict(payload), "payload")
    return {**_stamped(stamp), "kind": kind, "name": name, "payload": text}


def logged_bend(row: Row, hits: Sequence[HitRow]) -> LoggedBend:
    """Read a bend's row back; a row without its trace gives an empty one."""
    record = BendRecord(
        bend_id=row["bend_id"],
        job=row["job"],
        bend=row["bend"],
        die=row["die"],
        tube=row["tube"],
        lot=row["lot"],
        bend_angle=row["bend_angle"],
        tolerance=row["tolerance"],
        hits=tuple(HitRecord(**dict(zip(HIT_COLUMNS, hit, strict=True))) for hit in hits),
        verdict=row["verdict"],
        setup=json.loads(row["setup"]),
        sensor=json.loads(row["sensor"]),
        faults=tuple(json.loads(row["faults"])),
        withdrawn=bool(row["withdrawn"]),
        simulated=bool(row["simulated"]),
        note=row["note"],
        trace=row.get("trace", b""),
    )
    stamp = Stamp(*(row[name] for name in _STAMP))
    return LoggedBend(
        record=record,
        seq=row["place"],
        row_seq=row["seq"],
        version=row["version"],
        corrects=row["corrects"],
        bench=row["bench"],
        stamp=stamp._replace(clock_synchronised=bool(stamp.clock_synchronised)),
    )


def plain_json(value: Any, name: str) -> str:
    """Write a JSON value in one canonical way; Failure when it holds what JSON has no word for."""
    try:
        return json.dumps(value, sort_keys=True, allow_nan=False)
    except (TypeError, ValueError) as error:
        raise Failure(f"the row was not kept: its {name} is no plain data ({error})") from error


def _stamped(stamp: Stamp) -> Row:
    row: Row = stamp._asdict()
    row["clock_synchronised"] = int(stamp.clock_synchronised)
    row["wall_s"] = _finite(stamp.wall_s, "wall_s")
    row["monotonic_s"] = _finite(stamp.monotonic_s, "monotonic_s")
    return row


def _finite(value: float, name: str) -> float:
    if not math.isfinite(value):
        raise Failure(f"the row was not kept: its {name} is {value}, where a number is due")
    # SQLite keeps -0.0 as 0.0: the digest must be of what is read back.
    return float(value) + 0.0
