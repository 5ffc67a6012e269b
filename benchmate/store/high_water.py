"""A witness of the newest rows, in a small file beside the store.

A card that lies about what it has kept, or a store put back from an old copy, loses the newest rows
without a sign: what is left is whole. The witness says what was there before.
"""

import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from benchmate.store.schema import TABLES

_LARGEST = 4096


class HighWater(NamedTuple):
    """The newest row of a table when the witness was written."""

    store_id: str
    table: str
    seq: int
    digest: bytes


def newest(connection: sqlite3.Connection) -> tuple[HighWater, ...]:
    """Give the newest row of each table that has any."""
    found: list[HighWater] = []
    for table in TABLES:
        found += map(
            HighWater._make,
            connection.execute(
                f"SELECT store_id, '{table}', seq, digest FROM {table}, store"  # noqa: S608 - our own table
                " ORDER BY seq DESC LIMIT 1"
            ),
        )
    return tuple(found)


def witness(path: Path, seen: tuple[HighWater, ...]) -> None:
    """Write down the newest rows, durably; OSError when that fails."""
    lines = [f"{store} {table} {seq} {digest.hex()}\n" for store, table, seq, digest in seen]
    fd = os.open(_beside(path), os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o640)
    try:
        # Longer numbers come, shorter ones don't: the file never has to be cut.
        os.pwrite(fd, "".join(lines).encode("ascii"), 0)
        os.fdatasync(fd)
    finally:
        os.close(fd)


def lost(path: Path, connection: sqlite3.Connection) -> Iterator[str]:
    """Say what the witness saw that the store no longer holds."""
    ((store_id,),) = connection.execute("SELECT store_id FROM store")
    for witnessed, table, seq, digest in _seen(path):
        if witnessed != store_id:
            # Another store lay here before this one.
            continue
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


def _seen(path: Path) -> Iterator[HighWater]:
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
