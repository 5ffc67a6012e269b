"""The calibration store, read without changing it."""

import fcntl
import os
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from benchmate.bench.replay import replay
from benchmate.checks.finding import Finding
from benchmate.errors import Failure, Refusal
from benchmate.store import Log
from benchmate.store.database import OlderStore
from benchmate.store.integrity import problems
from benchmate.store.second_copy import is_behind

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


def look_through_store(path: Path) -> Iterator[Finding]:
    """Look as ``look_at_store``, at the runs as well, and replay every trace."""
    wrong = False
    for finding in look_at_store(path):
        wrong = wrong or finding.mark == "wrong"
        yield finding
    if wrong or not path.exists():
        return
    try:
        with Log.open(path) as log:
            yield _runs(log)
            yield from _traces(log)
    except (OlderStore, Failure) as failure:
        yield Finding("wrong", "store", str(failure))


def _runs(log: Log) -> Finding:
    runs = log.runs()
    inputs = sum(len(run.inputs) for run in runs)
    told = f"{len(runs)} with {inputs} inputs, each behind the one before it"
    if aside := log.inputs_kept() - inputs:
        return Finding("note", "runs", f"{told}; {aside} more are of copies that went on apart")
    return Finding("works", "runs", told)


def _traces(log: Log) -> Iterator[Finding]:
    numbers = log.numbers()
    sound = without = 0
    for logged in log.bends(withdrawn=True):
        named = f"bend {numbers[logged.seq]} of the log"
        if not logged.record.trace:
            without += 1
            continue
        try:
            agrees = replay(logged.record).agrees
        except Refusal as refusal:
            yield Finding("wrong", "traces", f"{named}: {refusal}")
            continue
        if agrees:
            sound += 1
        else:
            told = "its trace doesn't give the hits that were logged; an older program bent it?"
            yield Finding("note", "traces", f"{named}: {told}")
    left = f"; {without} were logged without one" if without else ""
    yield Finding("works", "traces", f"{sound} give the hits that were logged{left}")


def look_at_copy(path: Path, folder: str | None, bench: str) -> Iterator[Finding]:
    """Say whether the store's second copy is there, whole and up to date."""
    if folder is None or not path.exists():
        return
    place = Path(folder).expanduser()
    try:
        behind = is_behind(path, place, bench)
    except Failure as failure:
        yield Finding("wrong", "store copy", str(failure))
        return
    if behind:
        told = "lacks the newest rows; it is made anew after the next finished part"
        yield Finding("note", "store copy", f"{place}: {told}, or now by: benchmate log back-up")
    else:
        yield Finding("works", "store copy", f"{place}, up to date")


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
