"""Save what is whole of a damaged store and its copies into a new one."""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import NamedTuple

from benchmate.errors import BenchmateError, Failure, Refusal
from benchmate.store import database, upgrade
from benchmate.store.backup import make_whole
from benchmate.store.integrity import Stored, stored
from benchmate.store.merging import MOST_ROWS, limit, take
from benchmate.store.schema import TABLES, TABLES_OF, VERSION

_MOST_MISSES = 1000
"""Numbers without a row after which a table that can't say how long it is counts as ended."""


class Rescued(NamedTuple):
    """How many rows of each kind were saved, and which ones nothing vouches for."""

    bends: int
    findings: int
    runs: int
    lost: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Source:
    """A store, damaged or not, that rows are taken from."""

    path: Path
    connection: sqlite3.Connection
    layout: int
    store_id: str | None
    """None where it can't be read any more."""

    def newest(self, table: str) -> int | None:
        """Give the number of a table's newest row, None where it can't be told."""
        if table not in TABLES_OF[self.layout]:
            return 0
        try:
            ((newest,),) = self.connection.execute(
                f"SELECT ifnull(max(seq), 0) FROM {table}"  # noqa: S608 - our own table
            )
        except sqlite3.Error:
            return None
        return min(int(newest), MOST_ROWS)

    def row(self, table: str, seq: int) -> Stored | None:
        """Give a row that is as it was written; None where there is none such."""
        if table not in TABLES_OF[self.layout]:
            return None
        try:
            each = next(stored(self.connection, table, seq, seq, layout=self.layout), None)
        except sqlite3.Error:
            # A bad page costs its own rows.
            return None
        return each if each is not None and each.vouched(table) else None


def copies_beside(path: Path) -> list[Path]:
    """Give the copies that benchmate itself left beside a store, the newest first."""
    found = [
        each
        for ending in ("layout", "saved")
        for each in path.parent.glob(f"{path.name}.{ending}*")
        if each.suffix not in (".part", "-wal", "-shm")
    ]
    return sorted(found, key=lambda each: each.stat().st_mtime, reverse=True)


def rescue(damaged: Path, target: Path, copies: Sequence[Path] = ()) -> Rescued:
    """Make a new store of all rows that are as they were written, in their order.

    A row that the damaged store lost is taken from the first copy that has it whole. The new store
    carries the old one's id: a run can be gone on with. Refusal for a copy of another store;
    Failure when nothing can be read, or the new file can't be made.
    """
    if target.exists():
        raise Refusal(f"{target}: there is such a file already; name a new one")
    with ExitStack() as closing:
        sources = _opened([damaged, *copies], closing)
        if not sources:
            raise Failure(
                f"{damaged}: nothing can be read of this store any more; bring back a backup"
            )
        ids = {source.store_id: source.path for source in sources if source.store_id}
        if len(ids) > 1:
            first, other, *_ = ids.values()
            raise Refusal(f"{other}: this is no copy of {first}; benchmate log merge takes it in")
        saved = dict.fromkeys(TABLES, 0)
        lost: list[str] = []

        def fill(connection: sqlite3.Connection) -> None:
            upgrade.fill_new(connection, next(iter(ids), None))
            connection.execute("BEGIN IMMEDIATE")
            for table in TABLES:
                saved[table] = _saved(connection, table, sources, lost)
            connection.execute("COMMIT")

        make_whole(target, fill)
    return Rescued(saved["bend"], saved["finding"], saved["run"], tuple(lost))


def _opened(paths: Sequence[Path], closing: ExitStack) -> list[_Source]:
    sources = []
    for path in paths:
        try:
            connection = closing.enter_context(database.reading(path))
        except Failure:
            continue
        limit(connection)
        sources.append(_Source(path, connection, *_named(connection)))
    return sources


def _named(connection: sqlite3.Connection) -> tuple[int, str | None]:
    """Give a store's layout and id, as far as it still tells."""
    layout, store_id = VERSION, None
    with suppress(sqlite3.Error, ValueError):
        ((said,),) = connection.execute("PRAGMA user_version")
        layout = int(said) if said in TABLES_OF else VERSION
        ((store_id,),) = connection.execute("SELECT store_id FROM store")
    return layout, None if store_id is None else str(store_id)


def _saved(
    connection: sqlite3.Connection, table: str, sources: Sequence[_Source], lost: list[str]
) -> int:
    """Take a table's rows in the order of their numbers; give how many there are now.

    Where a copy was gone on with by itself, both rows of a number are taken.
    """
    saved = 0
    for seq in _numbers(table, sources):
        whole = False
        for source in sources:
            with suppress(BenchmateError):
                if (each := source.row(table, seq)) is not None:
                    saved += take(connection, table, each, source.path)
                    whole = True
        if not whole:
            lost.append(f"{table} row {seq}")
    return saved


def _numbers(table: str, sources: Sequence[_Source]) -> Iterator[int]:
    """Give the numbers that a table has, as far as any of the sources tells."""
    newest = [source.newest(table) for source in sources]
    known = max((each for each in newest if each is not None), default=0)
    yield from range(1, known + 1)
    seq, misses = known + 1, 0
    while None in newest and misses < _MOST_MISSES:
        there = any(source.row(table, seq) is not None for source in sources)
        misses = 0 if there else misses + 1
        if there:
            yield seq
        seq += 1
