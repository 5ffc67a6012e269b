"""The store's copy on a second medium: a stick, a network folder, another disk."""

import sqlite3
from contextlib import ExitStack
from pathlib import Path

from benchmate.errors import Failure
from benchmate.store import database, high_water
from benchmate.store.backup import copy, make_whole


def second_copy(store: Path, folder: Path, name: str) -> Path:
    """Bring the store's copy in that folder up to date; give its path.

    It is there whole or not at all: a stick pulled on the way leaves the copy of before. Failure
    when the folder isn't there or lies on the store's own disk, when the copy there is another
    store's, or when it holds what this store has lost: it may be the only one that is left.
    """
    target = folder / f"{name}.db"
    _refuse_folder(store, folder)
    with ExitStack() as closing:
        source = closing.enter_context(database.reading(store))
        if database.identify(source, store) == 0:
            raise Failure(f"{store}: nothing is logged yet; there is nothing to copy")
        if not target.exists():
            return copy(source, target)
        if _holds_all(source, target):
            return target
        return make_whole(target, source.backup)


def is_behind(store: Path, folder: Path, name: str) -> bool:
    """Say whether the copy lacks anything that the store holds; Failure as ``second_copy``."""
    target = folder / f"{name}.db"
    _refuse_folder(store, folder)
    if not target.exists():
        return True
    with database.reading(store) as source:
        return not _holds_all(source, target)


def _refuse_folder(store: Path, folder: Path) -> None:
    try:
        if not folder.is_dir():
            raise Failure(
                f"{folder}: no folder is there for the store's copy: is the stick plugged in?"
            )
        if folder.stat().st_dev == store.parent.stat().st_dev:
            raise Failure(
                f"{folder}: this lies on the same disk as the store, so a copy would go with it:"
                " is the stick plugged in?"
            )
    except OSError as error:
        raise Failure(f"{folder}: the store's copy can't be reached ({error.strerror})") from error


def _holds_all(source: sqlite3.Connection, target: Path) -> bool:
    """Say whether the copy has the store's newest rows; Failure when it may not be written over."""
    try:
        with database.reading(target) as there:
            layout = database.identify(there, target)
            copied = high_water.marks(there, layout)
            stored = high_water.marks(source)
            ids = {each.store_id for each in (*copied, *stored)}
            if len(ids) > 1:
                raise Failure(
                    f"{target}: this is another store, not a copy of this one; name another folder"
                    " as store_copy"
                )
            for told in high_water.missing(source, copied):
                raise Failure(
                    f"{target}: the copy holds what the store has lost ({told}); keep the copy, and"
                    " benchmate log rescue puts the two together"
                )
            return set(stored) == set(copied)
    except sqlite3.Error as error:
        raise Failure(
            f"{target}: the copy can't be read ({error}); move it away, and a new one is made"
        ) from error
