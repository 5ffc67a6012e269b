"""Make a database that is there whole or not at all: a copy of a store, or a new one."""

import os
import sqlite3
from collections.abc import Callable
from pathlib import Path

from benchmate import files
from benchmate.errors import Failure
from benchmate.store import database


def backup(path: Path, target: Path) -> Path:
    """Copy the store at ``path`` to a new file, even while it is written; Failure if it can't."""
    with database.reading(path) as source:
        database.identify(source, path)
        return copy(source, target)


def copy(source: sqlite3.Connection, target: Path) -> Path:
    """Copy a whole store, live or not, to a new file, checked and durable before it is named."""
    if target.exists():
        raise Failure(f"{target}: there is such a file already; name another")
    return make_whole(target, source.backup)


def make_whole(target: Path, fill: Callable[[sqlite3.Connection], None]) -> Path:
    """Fill a database beside the target, check it, make it durable, then give it its name.

    A power cut on the way leaves nothing under that name. Failure when it can't be made.
    """
    part = target.with_name(target.name + ".part")
    try:
        _clear(part)
        os.close(files.create(part))
        _fill(part, fill)
        files.sync_file(part)
        part.rename(target)
        files.sync_folder(target.parent)
    except sqlite3.Error as error:
        raise database.spoken(part, error) from error
    except OSError as error:
        raise Failure(f"{target}: the file can't be made ({error.strerror})") from error
    finally:
        _clear(part)
    return target


def _fill(part: Path, fill: Callable[[sqlite3.Connection], None]) -> None:
    connection = sqlite3.connect(part, isolation_level=None)
    try:
        # Nobody else knows of it yet; and a network folder can't share a log's index.
        connection.execute("PRAGMA locking_mode = EXCLUSIVE")
        # Switched here, so that the file never has to be switched under its own name.
        connection.execute("PRAGMA journal_mode = WAL")
        fill(connection)
        problems = connection.execute("PRAGMA integrity_check").fetchall()
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    finally:
        connection.close()
    if problems != [("ok",)] or database.waiting(part):
        raise Failure(f"{part}: the new file is not sound ({problems[0][0]})")


def _clear(part: Path) -> None:
    for ending in ("", "-wal", "-shm", "-journal"):
        part.with_name(part.name + ending).unlink(missing_ok=True)
