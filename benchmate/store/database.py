"""Open a store's file, for writing or for reading, or say in one sentence why not.

Never touch a store with plain open(): closing such a descriptor drops the locks that SQLite holds
for the whole process. Settings: Write-Ahead Logging and PRAGMA synchronous, SQLite documentation.
"""

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from benchmate.errors import Failure
from benchmate.store.schema import APPLICATION_ID, VERSION
from benchmate.wording import printable

_SETTINGS = (
    ("journal_mode", "WAL", "wal"),
    ("synchronous", "FULL", 2),
    ("foreign_keys", "ON", 1),
    ("recursive_triggers", "ON", 1),
    ("trusted_schema", "OFF", 0),
    ("cell_size_check", "ON", 1),
    ("busy_timeout", "2000", 2000),
    ("mmap_size", "0", 0),
)
"""Name, what is asked, what must be read back."""
_OLDEST_SQLITE = (3, 37, 0)


class OlderStore(Failure):
    """The store has an older layout: it is upgraded when next opened for writing."""


def for_writing(path: Path) -> sqlite3.Connection:
    """Open an existing file with the store's settings; Failure when one won't hold."""
    if sqlite3.sqlite_version_info < _OLDEST_SQLITE:
        raise Failure(
            f"this Python brings SQLite {sqlite3.sqlite_version}, too old for the store;"
            " it takes 3.37 or newer"
        )
    connection = _connect(path, "mode=rw")
    try:
        for name, asked, right in _SETTINGS:
            _set(connection, path, name, asked, right)
        _refuse_read_only(connection)
    except sqlite3.Error as error:
        connection.close()
        raise spoken(path, error) from error
    except Failure:
        connection.close()
        raise
    return connection


def _refuse_read_only(connection: sqlite3.Connection) -> None:
    """Try a write: a file that may only be read is opened all the same, and refuses that."""
    ((version,),) = connection.execute("PRAGMA user_version")
    connection.execute("BEGIN IMMEDIATE")
    try:
        connection.execute(f"PRAGMA user_version = {int(version)}")
    finally:
        connection.execute("ROLLBACK")


def _set(
    connection: sqlite3.Connection, path: Path, name: str, asked: str, right: str | int
) -> None:
    connection.execute(f"PRAGMA {name} = {asked}")
    got = connection.execute(f"PRAGMA {name}").fetchone()
    # A SQLite built without memory mapping answers nothing to mmap_size: none is what is wanted.
    if got != (right,) and not (name == "mmap_size" and got is None):
        found = "nothing" if got is None else got[0]
        raise Failure(
            f"{path}: SQLite keeps {name} at {found} where {asked} was asked; bends would not be"
            " durable there, so none are logged: put the store on a local disk"
        )


def unchecked(path: Path) -> sqlite3.Connection:
    """Open a file read-only whatever it holds; Failure when it is no readable database."""
    if not path.exists():
        raise Failure(f"{path}: there is no such store")
    refuse_lone_log(path)
    connection = _connect(path, "mode=ro")
    try:
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except sqlite3.Error as error:
        connection.close()
        # A folder that may not be written, and nothing waiting in a log beside the file.
        if error.sqlite_errorname.startswith("SQLITE_READONLY") and not waiting(path):
            return _connect(path, "immutable=1")
        raise spoken(path, error) from error
    return connection


@contextmanager
def reading(path: Path) -> Iterator[sqlite3.Connection]:
    """Do as ``unchecked`` and close it in the end, leaving no file that wasn't there before."""
    alone = not log_beside(path).exists()
    connection = unchecked(path)
    try:
        yield connection
    finally:
        connection.close()
        if alone:
            _tidy(path)


def _tidy(path: Path) -> None:
    """Take away the empty write-ahead log that a reader made: the last writer to close does that.

    A reader may not; where another one still has the store open, it stays.
    """
    if not log_beside(path).exists() or waiting(path):
        return
    with suppress(sqlite3.Error, Failure):
        connection = _connect(path, "mode=rw")
        try:
            connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
        finally:
            connection.close()


def identify(connection: sqlite3.Connection, path: Path) -> int:
    """Give the store's layout, 0 for an empty file; Failure for a foreign, newer or damaged one."""
    try:
        ((application,),) = connection.execute("PRAGMA application_id")
        ((version,),) = connection.execute("PRAGMA user_version")
        ((things,),) = connection.execute("SELECT count(*) FROM sqlite_schema")
    except sqlite3.Error as error:
        raise spoken(path, error) from error
    if application == 0 and version == 0 and things == 0:
        return 0
    if application != APPLICATION_ID:
        raise Failure(
            f"{path}: this database is another program's, not a store of benchmate's;"
            " nothing was changed: name another file with --store"
        )
    if version > VERSION:
        raise Failure(
            f"{path}: a newer benchmate wrote this store (layout {version}; this one knows up to"
            f" {VERSION}): install the newer benchmate; nothing was changed"
        )
    if version < 1:
        raise Failure(
            f"{path}: the store's head is damaged (layout {version}); nothing was changed"
        )
    return int(version)


def identify_present(connection: sqlite3.Connection, path: Path) -> int:
    """Do as ``identify``; OlderStore for a store that must be upgraded before it is read."""
    found = identify(connection, path)
    if 0 < found < VERSION:
        raise OlderStore(
            f"{path}: this store has layout {found} and this benchmate reads {VERSION}; it is"
            " upgraded, after a copy, when next opened for writing"
        )
    return found


def refuse_lone_log(path: Path) -> None:
    """Refuse a folder, and an empty or missing store whose write-ahead log still holds bends."""
    refuse_folder(path)
    if waiting(path) and not (path.exists() and path.stat().st_size):
        raise Failure(
            f"{path}: the store is empty but bends lie in {path.name}-wal beside it; nothing was"
            " changed: keep both files and bring back a backup"
        )


def refuse_folder(path: Path) -> None:
    """Refuse a folder where a file is due."""
    if path.is_dir():
        raise Failure(f"{path}: this is a folder; name the store's file in it")


def spoken(path: Path, error: sqlite3.Error) -> Failure:
    """Put an error of SQLite's in one sentence: what happened, what to do."""
    name = getattr(error, "sqlite_errorname", None) or type(error).__name__
    for begins, words in _WORDS:
        if name.startswith(begins):
            return Failure(f"{path}: {words} ({name})")
    return Failure(f"{path}: the store failed: {printable(str(error))} ({name})")


_WORDS = (
    ("SQLITE_NOTADB", "this file is not a database; nothing was changed"),
    (
        "SQLITE_CORRUPT",
        "the store is damaged; nothing was changed: keep its files aside, then"
        " benchmate log rescue saves what is whole",
    ),
    ("SQLITE_FULL", "the disk is full and the row was not kept; free some space"),
    ("SQLITE_IOERR", "the disk failed while the store was read or written"),
    ("SQLITE_READONLY", "the store or its folder may not be written"),
    ("SQLITE_CANTOPEN", "the store can't be opened; look at its folder and rights"),
    ("SQLITE_PERM", "the store may not be opened; look at its rights"),
    ("SQLITE_BUSY", "another program keeps the store busy"),
)


def _connect(path: Path, mode: str) -> sqlite3.Connection:
    try:
        connection = sqlite3.connect(f"{path.absolute().as_uri()}?{mode}", uri=True, timeout=2.0)
    except sqlite3.Error as error:
        raise spoken(path, error) from error
    connection.isolation_level = None
    connection.execute("PRAGMA trusted_schema = OFF")
    return connection


def waiting(path: Path) -> bool:
    """Say whether the write-ahead log beside a store holds anything."""
    try:
        return log_beside(path).stat().st_size > 0
    except FileNotFoundError:
        return False


def log_beside(path: Path) -> Path:
    """Give where the write-ahead log of a store lies."""
    return path.with_name(path.name + "-wal")
