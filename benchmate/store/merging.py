"""Take in another store's rows, trusting none of it."""

import itertools
import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from benchmate.errors import Failure, Refusal
from benchmate.store import database, hash_chain, rows
from benchmate.store.integrity import Stored, chain_faults, stored
from benchmate.store.schema import (
    LARGEST_PAYLOAD,
    LARGEST_TRACE,
    MOST_HITS,
    TABLES_OF,
    objects_of,
    right_objects,
)
from benchmate.store.writer import Store
from benchmate.wording import printable

STAYS_AT_HOME = ("mount", "calibration", "lost")
"""Findings about one bench's hardware or disk: of no use to another."""
_PLAIN: Mapping[str, type] = {
    **dict.fromkeys(("setup", "sensor", "payload", "job_file", "plan"), dict),
    **dict.fromkeys(("faults", "notes"), list),
}
"""The columns that hold plain data, and what each is."""
_LARGEST_VALUE = LARGEST_TRACE + LARGEST_PAYLOAD
MOST_ROWS = 5_000_000
"""Of a table: more than any bench makes."""


@dataclass(frozen=True, slots=True)
class Merged:
    """What a merge brought."""

    bends: int
    """Rows of bends that are new here."""
    corrections: int
    """Of these, those that correct a bend that was here before."""
    findings: int
    there: int
    """Rows that were here already."""
    new_bends: int = 0
    """Bends that are new here, each counted once however often it was corrected."""
    corrected_bends: int = 0
    """Bends that were here and have a newer version now."""
    same_bends: int = 0
    """Bends of which nothing new came."""
    new_runs: int = 0
    """Runs of parts that are new here."""


def merge(into: Store, other: Path) -> Merged:
    """Add the rows of another store that aren't here, each with its own origin, number and id.

    The other store, of this layout or an older one, is only read. Failure when it isn't whole,
    isn't ours, or is newer; Refusal when it is this very store, or says something else of a row
    that both hold. Nothing is merged then. A second merge of the same store adds nothing.
    """
    other = other.resolve()
    if other == into.path:
        raise Refusal(f"{other}: this is the store itself; name another one to merge")

    def work(connection: sqlite3.Connection) -> Merged:
        with database.reading(other) as source:
            try:
                # One view of it from the first check to the last row taken.
                source.execute("BEGIN")
                layout = _sound_layout(source, other)
            except sqlite3.Error as error:
                raise database.spoken(other, error) from error
            return _take_all(connection, source, other, layout)

    return into.submit(work, lambda _: None).result()


def limit(source: sqlite3.Connection) -> None:
    """Let no value larger than a bench makes be read from a store that isn't trusted."""
    source.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _LARGEST_VALUE)
    source.execute("PRAGMA cell_size_check = ON")


def _sound_layout(source: sqlite3.Connection, path: Path) -> int:
    """Give the layout of a store that is whole; Failure for any other."""
    limit(source)
    layout = database.identify(source, path)
    if layout == 0:
        raise Failure(f"{path}: this file is empty; there is nothing to merge")
    if objects_of(source) != right_objects(layout):
        raise Failure(f"{path}: its tables are not as benchmate makes them; nothing was merged")
    ((told,),) = source.execute("PRAGMA integrity_check(1)")
    faults = [f"its pages are damaged: {printable(str(told))}"] if told != "ok" else []
    for table in TABLES_OF[layout]:
        ((many,),) = source.execute(f"SELECT count(*) FROM {table}")  # noqa: S608 - our own table
        if many > MOST_ROWS:
            faults.append(f"it holds {many} rows, more than any bench makes")
        faults = faults or list(itertools.islice(chain_faults(source, table, layout), 1))
    if faults:
        raise Failure(
            f"{path}: {faults[0]}; nothing was merged: benchmate log rescue saves what is whole"
        )
    return layout


def _take_all(
    connection: sqlite3.Connection, source: sqlite3.Connection, path: Path, layout: int
) -> Merged:
    known = {row[0] for row in connection.execute("SELECT DISTINCT bend_id FROM bend")}
    seen: set[str] = set()
    new: set[str] = set()
    bends = corrections = findings = there = runs = 0
    for table in TABLES_OF[layout]:
        for each in _read(source, table, path, layout):
            if table == "finding" and each.row["kind"] in STAYS_AT_HOME:
                continue
            took = take(connection, table, each, path)
            if table == "bend":
                (new if took else seen).add(each.row["bend_id"])
            if not took:
                there += 1
            elif table == "finding":
                findings += 1
            elif table == "run":
                runs += 1
            elif table == "bend":
                bends += 1
                corrections += each.row["bend_id"] in known
    return Merged(
        bends,
        corrections,
        findings,
        there,
        new_bends=len(new - known),
        corrected_bends=len(new & known),
        same_bends=len(seen - new),
        new_runs=runs,
    )


def _read(source: sqlite3.Connection, table: str, path: Path, layout: int) -> Iterator[Stored]:
    """Give the other store's rows; what goes wrong with it is said of its file, not of ours."""
    try:
        yield from stored(source, table, layout=layout)
    except sqlite3.Error as error:
        raise database.spoken(path, error) from error


def take(connection: sqlite3.Connection, table: str, each: Stored, path: Path) -> bool:
    """Write one row of another store behind our own unless it is here; say whether it was new.

    Refusal when the row here says something else; Failure when no bench writes such a row.
    """
    _refuse_odd(table, each, path)
    row_id = each.row["row_id"]
    here = hash_chain.seq_of(connection, table, row_id)
    if here is not None:
        (ours,) = stored(connection, table, here, here)
        theirs = rows.content(table, each.row, each.hits)
        if rows.content(table, ours.row, ours.hits) != theirs:
            raise Refusal(
                f"{path}: its {table} row {each.row['seq']} says something else than the same row"
                " here; nothing was merged: one of the two stores was tampered with"
            )
        return False
    seq = hash_chain.next_seq(connection, table)
    row = {name: each.row[name] for name in rows.CONTENT[each.row["layout"]][table]}
    row["seq"] = seq
    if table == "bend":
        row["place"] = hash_chain.place_of(connection, row["bend_id"], seq)
    try:
        hash_chain.append(connection, table, row, each.hits)
    except (sqlite3.IntegrityError, sqlite3.InterfaceError, OverflowError) as error:
        raise Failure(
            f"{path}: its {table} row {each.row['seq']} holds what no bench writes ({error});"
            " nothing was merged"
        ) from error
    return True


def _refuse_odd(table: str, each: Stored, path: Path) -> None:
    """Refuse a row whose layout, texts or hits this program would not have written."""
    row = each.row
    odd = row["layout"] not in rows.CONTENT or len(each.hits) > MOST_HITS
    for name in _PLAIN.keys() & row.keys():
        odd = odd or not _canonical(row[name], _PLAIN[name])
    for name in {"faults", "notes"} & row.keys():
        odd = odd or not all(isinstance(each, str) for each in json.loads(row[name]))
    if not odd and table == "bend" and row["layout"] == 1:
        drawn = json.loads(row["setup"]).get("drawn_angle", 0.0)
        odd = not isinstance(drawn, int | float) or not 0 <= drawn <= 720
    if odd:
        raise Failure(
            f"{path}: its {table} row {row['seq']} holds what no bench writes; nothing was merged"
        )


def _canonical(text: object, kind: type) -> bool:
    try:
        value = json.loads(str(text))
        return isinstance(value, kind) and rows.plain_json(value, "text") == text
    except (ValueError, RecursionError, Failure):
        return False
