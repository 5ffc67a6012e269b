"""The calibration store, read without changing it."""

import fcntl
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from benchmate.checks.finding import Finding
from benchmate.errors import Failure
from benchmate.store import Log
from benchmate.store.database import OlderStore
from benchmate.store.integrity import problems

WAL_RESET_MENDED = (3, 51, 3)
"""SQLite release notes: connections that write and checkpoint at one instant could lose pages
from 3.7.0 on, until this release."""


def look_at_store(path: Path) -> Iterator[Finding]:
    """Say what SQLite it is opened with, whether it opens, and whether its chain holds."""
    yield look_at_sqlite(sqlite3.sqlite_version_info)
    if not path.exists():
        yield Finding("works", "store", f"none at {path} yet; the first bend logged makes it")
        return
    try:
        with Log.open(path) as log:
            bends = sum(1 for _ in log.bends(traces=False))
    except OlderStore as older:
        yield Finding("works", "store", str(older))
        return
    except Failure as failure:
        yield Finding("wrong", "store", str(failure))
        return
    faults = problems(path)
    for fault in faults:
        yield Finding("wrong", "store", f"{path}: {fault}")
    if faults:
        cure = "keep its files aside; benchmate log rescue saves what is whole"
        yield Finding("wrong", "store", f"{path}: {cure}")
    else:
        many = f"{bends} bend{'' if bends == 1 else 's'}"
        yield Finding("works", "store", f"{path}, {many}, every row as it was written")


def look_at_sqlite(version: tuple[int, int, int]) -> Finding:
    """Say which SQLite it is, and whether its write-ahead log's known fault concerns it."""
    told = ".".join(map(str, version))
    if version >= WAL_RESET_MENDED:
        return Finding("works", "SQLite", told)
    mended = ".".join(map(str, WAL_RESET_MENDED))
    return Finding(
        "note",
        "SQLite",
        f"{told}; nothing to do while only benchmate writes the store, which lets one program write"
        f" at a time. Don't write to it with another SQLite program meanwhile: before {mended} two"
        " writers at one instant could lose rows. System updates bring that version in time",
    )


def writer_of(path: Path) -> str | None:
    """Name the process that holds the store for writing; None when nobody does."""
    try:
        lock = os.open(path.with_name(path.name + ".lock"), os.O_RDONLY | os.O_CLOEXEC)
    except OSError:
        return None
    try:
        fcntl.flock(lock, fcntl.LOCK_SH | fcntl.LOCK_NB)
    except BlockingIOError:
        return os.pread(lock, 20, 0).decode("ascii", "replace").strip() or "unknown"
    finally:
        os.close(lock)
    return None
