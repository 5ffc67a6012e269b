"""Take in another store's rows, trusting none of it, or save what can be saved of a damaged one."""

import itertools
import json
import sqlite3
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from benchmate.errors import Failure, Refusal
from benchmate.store import database, hash_chain, rows
from benchmate.store.integrity import Stored, chain_faults, stored
from benchmate.store.schema import (
    LARGEST_PAYLOAD,
    LARGEST_TRACE,
    MOST_HITS,
    TABLES_OF,
    VERSION,
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
_MOST_ROWS = 5_000_000


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


class Salvaged(NamedTuple):
    """What a salvage saved, and the numbers of the rows that nothing vouches for."""

    bends: int
    findings: int
    runs: int
    lost: tuple[str, ...]


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


def salvage(damaged: Path, into: Store) -> Salvaged:
    """Save into another store every row of a damaged one that its own digest vouches for."""

    def work(connection: sqlite3.Connection) -> Salvaged:
        try:
            source = database.unchecked(damaged)
        except Failure as failure:
            raise Failure(
                f"{damaged}: nothing can be read of this store any more; bring back a backup"
            ) from failure
        try:
            _limit(source)
            layout = _layout(source)
            lost: list[str] = []
            saved = {
                table: _save_table(connection, source, table, layout, lost)
                for table in TABLES_OF[layout]
            }
            return Salvaged(saved["bend"], saved["finding"], saved.get("run", 0), tuple(lost))
        finally:
            source.close()

    return into.submit(work, lambda _: None).result()


def _limit(source: sqlite3.Connection) -> None:
    source.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, _LARGEST_VALUE)
    source.execute("PRAGMA cell_size_check = ON")


def _layout(damaged: sqlite3.Connection) -> int:
    """Give the layout that a damaged store says it has, the present one where it says none."""
    try:
        ((layout,),) = damaged.execute("PRAGMA user_version")
    except sqlite3.Error:
        return VERSION
    return int(layout) if layout in TABLES_OF else VERSION


def _sound_layout(source: sqlite3.Connection, path: Path) -> int:
    """Give the layout of a store that is whole; Failure for any other."""
    _limit(source)
    layout = database.identify(source, path)
    if layout == 0:
        raise Failure(f"{path}: this file is empty; there is nothing to merge")
    if objects_of(source) != right_objects(layout):
        raise Failure(f"{path}: its tables are not as benchmate makes them; nothing was merged")
    ((told,),) = source.execute("PRAGMA integrity_check(1)")
    faults = [f"its pages are damaged: {printable(str(told))}"] if told != "ok" else []
    for table in TABLES_OF[layout]:
        ((many,),) = source.execute(f"SELECT count(*) FROM {table}")  # noqa: S608 - our own table
        if many > _MOST_ROWS:
            faults.append(f"it holds {many} rows, more than any bench makes")
        faults = faults or list(itertools.islice(chain_faults(source, table, layout), 1))
    if faults:
        raise Failure(
            f"{path}: {faults[0]}; nothing was merged: benchmate log salvage saves what its"
            " digests vouch for"
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
            took = _take(connection, table, each, path)
            if table == "bend":
                (new if took else seen).add(each.row["bend_id"])
            if not took:
                there += 1
            elif table == "finding":
                findings += each.row["kind"] not in STAYS_AT_HOME
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


def _take(connection: sqlite3.Connection, table: str, each: Stored, path: Path) -> bool:
    """Write one row behind our own unless it is here; say whether it was new."""
    _refuse_odd(table, each, path)
    if table == "finding" and each.row["kind"] in STAYS_AT_HOME:
        return True
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


def _save_table(
    connection: sqlite3.Connection,
    source: sqlite3.Connection,
    table: str,
    layout: int,
    lost: list[str],
) -> int:
    saved = 0
    for seq, each in _one_by_one(source, table, layout):
        try:
            good = each is not None and each.vouched(table)
            saved += bool(
                good and each and _take(connection, table, each, Path("the damaged store"))
            )
        except (Failure, Refusal):
            good = False
        if not good:
            lost.append(f"{table} row {seq}")
    return saved


def _one_by_one(
    source: sqlite3.Connection, table: str, layout: int
) -> Iterator[tuple[int, Stored | None]]:
    """Give each row by its number, None for one that can't be read: a bad page costs its own."""
    seq, misses = 1, 0
    newest = _newest(source, table)
    while seq <= newest if newest is not None else misses < 1000:
        try:
            each = next(stored(source, table, seq, seq, layout=layout), None)
        except sqlite3.Error:
            each = None
        misses = misses + 1 if each is None else 0
        if each is not None or newest is not None:
            yield seq, each
        seq += 1


def _newest(source: sqlite3.Connection, table: str) -> int | None:
    try:
        ((newest,),) = source.execute(f"SELECT ifnull(max(seq), 0) FROM {table}")  # noqa: S608 - our own table
    except sqlite3.Error:
        return None
    return min(int(newest), _MOST_ROWS)
