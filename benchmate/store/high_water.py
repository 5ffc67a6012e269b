"""The store's high-water mark: its newest rows, written down in a small file beside it.

A card that lies about what it has kept, or a store put back from an old copy, loses the newest rows
without a sign: what is left is whole. The mark says what was there before.
"""

import os
import sqlite3
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import NamedTuple

from benchmate import files
from benchmate.store.schema import TABLES, TABLES_OF, VERSION

_LARGEST = 4096


class HighWater(NamedTuple):
    """The newest row of a table when the mark was written."""

    store_id: str
    table: str
    seq: int
    digest: bytes


def marks(connection: sqlite3.Connection, layout: int = VERSION) -> tuple[HighWater, ...]:
    """Give the newest row of each table that has any."""
    found: list[HighWater] = []
    for table in TABLES_OF[layout]:
        found += map(
            HighWater._make,
            connection.execute(
                f"SELECT store_id, '{table}', seq, digest FROM {table}, store"  # noqa: S608 - our own table
                " ORDER BY seq DESC LIMIT 1"
            ),
        )
    return tuple(found)


def write(path: Path, newest: tuple[HighWater, ...]) -> None:
    """Write down the newest rows, durably; OSError when that fails."""
    lines = [f"{store} {table} {seq} {digest.hex()}\n" for store, table, seq, digest in newest]
    fd = files.create(_beside(path), 0)
    try:
        # Longer numbers come, shorter ones don't: the file never has to be cut.
        os.pwrite(fd, "".join(lines).encode("ascii"), 0)
        os.fdatasync(fd)
    finally:
        os.close(fd)


def lost(path: Path, connection: sqlite3.Connection) -> Iterator[str]:
    """Say what was marked as there and isn't in the store any longer."""
    ((store_id,),) = connection.execute("SELECT store_id FROM store")
    # Another store may have lain here before this one.
    return missing(connection, (each for each in _read(path) if each.store_id == store_id))


def missing(connection: sqlite3.Connection, marked: Iterable[HighWater]) -> Iterator[str]:
    """Say which of these rows the store doesn't hold as they were."""
    for _, table, seq, digest in marked:
        found = connection.execute(
            f"SELECT digest FROM {table} WHERE seq = ?",  # noqa: S608 - our own table
            (seq,),
        ).fetchone()
        if found == (digest,):
            continue
        ((ends,),) = connection.execute(f"SELECT ifnull(max(seq), 0) FROM {table}")  # noqa: S608 - our own table
        yield (
            f"the store once held {table} row {seq} and now ends at {ends}"
            if ends < seq
            else f"{table} row {seq} is another than the one that the store once held"
        ) + ": its disk dropped rows, or an older copy was put in its place"


def _read(path: Path) -> Iterator[HighWater]:
    try:
        text = _beside(path).read_bytes()[:_LARGEST].decode("ascii")
    except (FileNotFoundError, UnicodeDecodeError):
        return
    for line in text.splitlines():
        match line.split(" "):
            case [store_id, table, seq, digest] if (
                table in TABLES and seq.isdecimal() and len(digest) == 64
            ):
                try:
                    yield HighWater(store_id, table, int(seq), bytes.fromhex(digest))
                except ValueError:
                    continue
            case _:
                continue


def _beside(path: Path) -> Path:
    return path.with_name(path.name + ".tail")
