"""Is the store whole: its pages, its tables, and the chain that its digests make."""

import itertools
import logging
import sqlite3
import threading
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from benchmate.errors import Failure
from benchmate.store import database, high_water, rows
from benchmate.store.schema import MOST_HITS, TABLES, VERSION, objects_of, right_objects
from benchmate.wording import printable

_log = logging.getLogger(__name__)
_MOST_TOLD = 20


class Stored(NamedTuple):
    """A row as it lies in a store, with its hits."""

    row: rows.Row
    hits: tuple[rows.HitRow, ...]

    def vouched(self, table: str) -> bool:
        """Say whether the row is what its digest was made of."""
        try:
            return bool(rows.digest(table, self.row, self.hits) == self.row["digest"])
        except (KeyError, TypeError, ValueError, OverflowError):
            return False


def stored(
    connection: sqlite3.Connection,
    table: str,
    first: int = 1,
    last: int = 2**62,
    *,
    layout: int = VERSION,
) -> Iterator[Stored]:
    """Give the rows numbered ``first`` to ``last``, in order, every column that the layout has."""
    names = (*rows.local(table), *rows.CONTENT[layout][table])
    found = connection.execute(
        f"SELECT {', '.join(names)} FROM {table} WHERE seq BETWEEN ? AND ? ORDER BY seq",  # noqa: S608 - our own names
        (first, last),
    )
    hits: Iterator[tuple[int, Iterator[tuple[int, ...]]]] = iter(())
    if table == "bend":
        columns = ", ".join(rows.HIT_COLUMNS)
        beside = connection.execute(
            f"SELECT seq, {columns} FROM hit WHERE seq BETWEEN ? AND ? ORDER BY seq, number",  # noqa: S608 - our own names
            (first, last),
        )
        hits = itertools.groupby(beside, key=lambda hit: hit[0])
    waiting = next(hits, None)
    for values in found:
        row = dict(zip(names, values, strict=True))
        made: tuple[rows.HitRow, ...] = ()
        if waiting is not None and waiting[0] == row["seq"]:
            # One more than there may be is enough to see that they are too many.
            made = tuple(tuple(hit[1:]) for hit in itertools.islice(waiting[1], MOST_HITS + 1))
            waiting = next(hits, None)
        yield Stored(row, made)


def problems(path: Path) -> list[str]:
    """Give every fault of a store in one sentence each; none when it is whole or isn't there."""
    if not path.exists() or not path.stat().st_size:
        return []
    try:
        with database.reading(path) as connection:
            database.identify_present(connection, path)
            found = itertools.chain(_faults(connection), high_water.lost(path, connection))
            return list(itertools.islice(found, _MOST_TOLD))
    except Failure as failure:
        return [str(failure)]
    except sqlite3.Error as error:
        return [str(database.spoken(path, error))]


def _faults(connection: sqlite3.Connection) -> Iterator[str]:
    for (told,) in connection.execute("PRAGMA integrity_check"):
        if told != "ok":
            yield f"the store's pages are damaged: {printable(str(told))}"
    for name, _, parent, _ in connection.execute("PRAGMA foreign_key_check"):
        yield f"a row of the table {name} belongs to no {parent}"
    found, right = objects_of(connection), right_objects()
    for name, _ in sorted(found ^ right):
        yield f"the store's {printable(name, 60)} is not as benchmate makes it"
    for table in TABLES:
        yield from chain_faults(connection, table)


def chain_faults(
    connection: sqlite3.Connection, table: str, layout: int = VERSION
) -> Iterator[str]:
    """Follow the chain of a table's digests and say where it doesn't hold."""
    before, digest = 0, rows.FIRST_DIGEST
    for each in stored(connection, table, layout=layout):
        seq = each.row["seq"]
        if seq != before + 1:
            yield f"{table} rows {before + 1} to {seq - 1} are missing"
        elif each.row["previous"] != digest:
            yield f"{table} row {seq} doesn't follow from the row before: one of them was changed"
        if not each.vouched(table):
            yield f"{table} row {seq} is not what was written: its digest doesn't match"
        before, digest = seq, each.row["digest"]


class QuietCheck:
    """A look at the pages after an unclean end, in a thread of its own; what is wrong is logged."""

    def __init__(self, path: Path) -> None:
        self._connection: sqlite3.Connection | None = None
        self._stopped = threading.Event()
        self._thread = threading.Thread(target=self._look, args=(path,), daemon=True)
        self._thread.start()

    def stop(self) -> None:
        """End it, finished or not."""
        self._stopped.set()
        while self._thread.is_alive():
            if self._connection is not None:
                # Between its opening and its closing another thread may only interrupt it.
                with suppress(sqlite3.ProgrammingError):
                    self._connection.interrupt()
            self._thread.join(0.01)

    def _look(self, path: Path) -> None:
        _log.info("store: %s was not closed cleanly; looking through its pages", path)
        try:
            with database.reading(path) as connection:
                self._connection = connection
                told = [row[0] for row in connection.execute("PRAGMA quick_check")]
        except (sqlite3.Error, Failure) as error:
            if not self._stopped.is_set():
                _log.error("store: %s could not be looked through: %s", path, error)
            return
        if told == ["ok"]:
            _log.info("store: %s is whole", path)
        else:
            _log.error("store: %s is damaged: %s", path, told[0])
