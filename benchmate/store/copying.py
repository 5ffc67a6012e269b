"""Copy a store, live or not, to one file that can be carried about."""

import os
import sqlite3
from pathlib import Path

from benchmate.errors import Failure
from benchmate.store import opening


def backup(path: Path, target: Path) -> Path:
    """Copy the store at ``path`` to a new file, even while it is written; Failure if it can't."""
    source = opening.unchecked(path)
    try:
        opening.identify(source, path)
        return copy(source, target)
    finally:
        source.close()


def copy(source: sqlite3.Connection, target: Path) -> Path:
    """Copy a whole store, live or not, to a new file, checked and durable before it is named."""
    if target.exists():
        raise Failure(f"{target}: there is such a file already; name another")
    part = target.with_name(target.name + ".part")
    part.unlink(missing_ok=True)
    try:
        os.close(os.open(part, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_CLOEXEC, 0o640))
        _copy_into(source, part)
        _sync_file(part)
        part.rename(target)
        opening.sync_folder(target.parent)
    except OSError as error:
        raise Failure(f"{target}: the copy can't be written ({error.strerror})") from error
    finally:
        part.unlink(missing_ok=True)
    return target


def _copy_into(source: sqlite3.Connection, part: Path) -> None:
    try:
        other = sqlite3.connect(part)
        try:
            source.backup(other)
            # One file that can be carried about: no log beside it.
            other.execute("PRAGMA journal_mode = DELETE")
            problems = other.execute("PRAGMA integrity_check").fetchall()
        finally:
            other.close()
    except sqlite3.Error as error:
        raise opening.spoken(part, error) from error
    if problems != [("ok",)]:
        raise Failure(f"{part}: the copy of the store is not sound ({problems[0][0]})")


def _sync_file(path: Path) -> None:
    fd = os.open(path, os.O_RDWR | os.O_CLOEXEC)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)
