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

from benchmate.store.record import (
    BendRecord,
    HitRecord,
    LoggedBend,
    LoggedRun,
    RowRefused,
    RunInput,
    RunRecord,
    Stamp,
)
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
_FINDING = (*_STAMP, "kind", "name", "payload")
CONTENT: Mapping[int, Mapping[str, tuple[str, ...]]] = {
    1: {"bend": (*_STAMP, *_BEND), "finding": _FINDING},
    2: {
        "bend": (*_STAMP, *_BEND, "run", "drawn_angle", "came_to", "came_to_sd", "notes"),
        "finding": _FINDING,
        "run": (
            *(*_STAMP, "run_id", "bench", "job", "first_bend", "simulated"),
            *("setup", "job_file", "plan", "learned_to"),
        ),
        "run_input": (*_STAMP, "run_id", "number", "follows", "kind", "payload"),
    },
}
"""What a row's digest covers, by the layout that wrote it: never changed, only added to."""
_SUPPLY = "supply: "
"""How layout 1 began a note on the supply, among the faults."""


def local(table: str) -> tuple[str, ...]:
    """Give the columns that say where a row lies in this store."""
    return ("seq", *(("place",) if table == "bend" else ()), "previous", "digest")


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
    """Give the content of a bend's row; RowRefused names the number that isn't one."""
    trace, note = record.trace, record.note
    if len(trace) > LARGEST_TRACE:
        # The bend is worth more than its trace.
        trace, note = b"", f"{note} (trace of {len(trace)} bytes left out: too large)".strip()
    return {
        **_stamped(stamp),
        "bend_id": record.bend_id,
        "version": version,
        "corrects": corrects,
        "bench": _bench(record.setup),
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
        "run": record.run,
        "drawn_angle": _finite_or_none(record.drawn_angle, "drawn_angle"),
        "came_to": _finite_or_none(record.came_to, "came_to"),
        "came_to_sd": _finite_or_none(record.came_to_sd, "came_to_sd"),
        "notes": plain_json(list(record.notes), "notes"),
    }


def hit_rows(record: BendRecord) -> list[HitRow]:
    """Give the columns of the bend's hits, in order."""
    return [
        (
            _finite(hit.stop_angle, "stop_angle"),
            _finite(hit.stop_sd, "stop_sd"),
            _finite(hit.peak, "peak"),
            _finite_or_none(hit.rest, "rest"),
            _finite_or_none(hit.measured, "measured"),
            hit.how_measured,
        )
        for hit in record.hits
    ]


def finding_row(kind: str, name: str, payload: Mapping[str, Any], stamp: Stamp) -> Row:
    """Give the content of a finding's row."""
    text = plain_json(dict(payload), "payload")
    return {**_stamped(stamp), "kind": kind, "name": name, "payload": text}


def run_row(record: RunRecord, stamp: Stamp) -> Row:
    """Give the content of a run's row."""
    return {
        **_stamped(stamp),
        "run_id": record.run_id,
        "bench": _bench(record.setup),
        "job": record.job,
        "first_bend": int(record.first_bend),
        "simulated": int(record.simulated),
        "setup": plain_json(record.setup, "setup"),
        "job_file": plain_json(record.job_file, "job_file"),
        "plan": plain_json(record.plan, "plan"),
        "learned_to": int(record.learned_to),
    }


def input_row(given: RunInput, stamp: Stamp, follows: str | None) -> Row:
    """Give the content of the row of a run's input; ``follows`` is the row id of the one before."""
    return {
        **_stamped(stamp),
        "run_id": given.run_id,
        "number": int(given.number),
        "follows": follows,
        "kind": given.kind,
        "payload": plain_json(given.payload, "payload"),
    }


def logged_run(row: Row, inputs: Sequence[Row]) -> LoggedRun:
    """Read a run's row back, with those of its inputs."""
    stamp = _stamp(row)
    newest = _stamp(inputs[-1]) if inputs else stamp
    return LoggedRun(
        record=RunRecord(
            run_id=row["run_id"],
            job=row["job"],
            first_bend=row["first_bend"],
            simulated=bool(row["simulated"]),
            setup=json.loads(row["setup"]),
            job_file=json.loads(row["job_file"]),
            plan=json.loads(row["plan"]),
            learned_to=row["learned_to"],
        ),
        inputs=tuple(
            RunInput(
                run_id=each["run_id"],
                number=each["number"],
                kind=each["kind"],
                payload=json.loads(each["payload"]),
            )
            for each in inputs
        ),
        bench=row["bench"],
        stamp=stamp,
        row_seq=row["seq"],
        wall_s=newest.wall_s,
        clock_synchronised=newest.clock_synchronised,
        boot_id=newest.boot_id,
        monotonic_s=newest.monotonic_s,
    )


def logged_bend(row: Row, hits: Sequence[HitRow]) -> LoggedBend:
    """Read a bend's row back, of any layout; a row without its trace gives an empty one."""
    setup, faults = json.loads(row["setup"]), tuple(json.loads(row["faults"]))
    drawn, notes = row["drawn_angle"], tuple(json.loads(row["notes"]))
    verdict = row["verdict"]
    if row["layout"] == 1:
        drawn = setup.pop("drawn_angle", None)
        drawn = None if drawn is None else float(drawn)
        notes = tuple(each for each in faults if each.startswith(_SUPPLY))
        faults = tuple(each for each in faults if each not in notes)
        verdict = _verdict_of_layout_1(row, hits, drawn)
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
        verdict=verdict,
        run=row["run"],
        drawn_angle=drawn,
        came_to=row["came_to"],
        came_to_sd=row["came_to_sd"],
        setup=setup,
        sensor=json.loads(row["sensor"]),
        faults=faults,
        notes=notes,
        withdrawn=bool(row["withdrawn"]),
        simulated=bool(row["simulated"]),
        note=row["note"],
        trace=row.get("trace", b""),
    )
    return LoggedBend(
        record=record,
        seq=row["place"],
        row_seq=row["seq"],
        version=row["version"],
        corrects=row["corrects"],
        bench=row["bench"],
        stamp=_stamp(row),
    )


def _verdict_of_layout_1(row: Row, hits: Sequence[HitRow], drawn: float | None) -> str:
    """Give the verdict on a bend of layout 1, where an angle measured later changed none."""
    measured = hits[-1][HIT_COLUMNS.index("measured")] if hits else None
    if measured is None:
        return str(row["verdict"])
    from benchmate.springback.limits import limits, verdict_of

    wanted = row["bend_angle"]
    within = limits(wanted if drawn is None else drawn, wanted, row["tolerance"])
    return verdict_of(measured, within)


def plain_json(value: Any, name: str) -> str:
    """Write a JSON value in one canonical way; RowRefused for what JSON has no word for."""
    try:
        return json.dumps(value, sort_keys=True, allow_nan=False)
    except (TypeError, ValueError) as error:
        raise RowRefused(f"the row was not kept: its {name} is no plain data ({error})") from error


def _bench(setup: Mapping[str, Any]) -> str:
    bench = setup.get("bench")
    return str(bench.get("bench", "")) if isinstance(bench, dict) else ""


def _stamp(row: Row) -> Stamp:
    stamp = Stamp(*(row[name] for name in _STAMP))
    return stamp._replace(clock_synchronised=bool(stamp.clock_synchronised))


def _stamped(stamp: Stamp) -> Row:
    row: Row = stamp._asdict()
    row["clock_synchronised"] = int(stamp.clock_synchronised)
    row["wall_s"] = _finite(stamp.wall_s, "wall_s")
    row["monotonic_s"] = _finite(stamp.monotonic_s, "monotonic_s")
    return row


def _finite(value: float, name: str) -> float:
    if not math.isfinite(value):
        raise RowRefused(f"the row was not kept: its {name} is {value}, where a number is due")
    # SQLite keeps -0.0 as 0.0: the digest must be of what is read back.
    return float(value) + 0.0


def _finite_or_none(value: float | None, name: str) -> float | None:
    return None if value is None else _finite(value, name)
