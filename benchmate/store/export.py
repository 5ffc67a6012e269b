"""The log as text for other programs: CSV for spreadsheets, JSON lines that lose nothing."""

import base64
import csv
import io
import json
import sys
import unicodedata
from collections.abc import Iterable, Iterator
from typing import Any

import msgspec

from benchmate.store.record import LoggedBend
from benchmate.wording import printable

_FORMULA = ("=", "+", "-", "@")
"""A spreadsheet takes a cell that begins so for a formula and runs it, spaces before it or not
(OWASP, CSV injection); some take the wide forms of these signs as well."""
CSV_COLUMNS = (
    *("seq", "id", "version", "wall_s", "clock_synchronised", "bench", "job", "bend"),
    *("die", "tube", "lot", "bend_angle_deg", "tolerance_deg", "verdict", "simulated"),
    *("withdrawn", "faults", "note"),
    *("hit", "stop_angle_deg", "stop_sd_deg", "peak_deg", "rest_deg", "measured_deg"),
    *("how_measured", "run", "drawn_angle_deg", "came_to_deg", "came_to_sd_deg", "notes"),
)


def as_plain(logged: LoggedBend) -> dict[str, Any]:
    """Give a bend as plain data: what it was to be, its hits, what it came to. Degrees."""
    record = logged.record
    # Null until a person measures: a press after it doesn't make it unmeasured again.
    readings = [(at, hit.measured) for at, hit in enumerate(record.hits, 1)]
    known = [(at, angle) for at, angle in readings if angle is not None]
    measured_hit, measured = known[-1] if known else (None, None)
    return {
        "id": record.bend_id,
        "seq": logged.seq,
        "run": record.run,
        "job": record.job,
        "bend": record.bend,
        "die": record.die,
        "tube": record.tube,
        "lot": record.lot,
        "bend_angle": record.bend_angle,
        "drawn_angle": record.drawn,
        "hits": msgspec.to_builtins(record.hits),
        "measured": measured,
        "measured_hit": measured_hit,
        "simulated": record.simulated,
        "tolerance": record.tolerance,
        "verdict": record.verdict,
        "came_to": record.came_to,
        "came_to_sd": record.came_to_sd,
        "faults": list(record.faults),
        "notes": list(record.notes),
        "withdrawn": record.withdrawn,
        "note": record.note,
        "bench": logged.bench,
        "version": logged.version,
        "row_seq": logged.row_seq,
        "wall_s": logged.wall_s,
        "clock_synchronised": logged.clock_synchronised,
    }


def json_lines(bends: Iterable[LoggedBend]) -> Iterator[str]:
    """Give one JSON object a bend, a line each, with all that its row holds; bytes as base64."""
    for logged in bends:
        record = logged.record
        whole = as_plain(logged) | {
            "row_id": logged.row_id,
            "corrects": logged.corrects,
            "origin": logged.stamp.origin,
            "origin_seq": logged.stamp.origin_seq,
            "boot_id": logged.stamp.boot_id,
            "monotonic_s": logged.stamp.monotonic_s,
            "setup": record.setup,
            "sensor": record.sensor,
            "trace": base64.b64encode(record.trace).decode("ascii"),
        }
        yield json.dumps(whole, ensure_ascii=True, allow_nan=False) + "\n"


def csv_lines(bends: Iterable[LoggedBend]) -> Iterator[str]:
    """Give a line of comma-separated values for each hit, after one of names (RFC 4180)."""
    yield _csv(CSV_COLUMNS)
    for logged in bends:
        record = logged.record
        told = as_plain(logged) | {
            "bend_angle_deg": record.bend_angle,
            "tolerance_deg": record.tolerance,
            "faults": "; ".join(record.faults),
            "drawn_angle_deg": record.drawn,
            "came_to_deg": record.came_to,
            "came_to_sd_deg": record.came_to_sd,
            "notes": "; ".join(record.notes),
        }
        for number, hit in enumerate(record.hits or (None,), 1):
            made = {"hit": number if hit else None} | (
                {}
                if hit is None
                else {
                    "stop_angle_deg": hit.stop_angle,
                    "stop_sd_deg": hit.stop_sd,
                    "peak_deg": hit.peak,
                    "rest_deg": hit.rest,
                    "measured_deg": hit.measured,
                    "how_measured": hit.how_measured,
                }
            )
            yield _csv(_cell((told | made).get(name)) for name in CSV_COLUMNS)


def _cell(value: object) -> object:
    match value:
        case bool():
            return int(value)
        case str():
            # For people and spreadsheets: what steers a terminal stands as escapes.
            text = printable(value, sys.maxsize)
            begins = unicodedata.normalize("NFKC", text.lstrip()[:1])
            return "'" + text if begins in _FORMULA else text
        case _:
            return value


def _csv(cells: Iterable[object]) -> str:
    line = io.StringIO()
    csv.writer(line).writerow(cells)
    return line.getvalue()
