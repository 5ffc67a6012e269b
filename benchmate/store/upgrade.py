"""Make a new store, or bring an older one to the present layout after a copy."""

import sqlite3
import time
from collections.abc import Mapping
from pathlib import Path

from benchmate.errors import Failure
from benchmate.files import sync_folder
from benchmate.store import database
from benchmate.store.backup import copy, make_whole
from benchmate.store.schema import MIGRATIONS, VERSION, Migration


def make_folder(path: Path) -> None:
    """Make the folder that the store is to lie in (0750), its name durable, where missing."""
    database.refuse_folder(path)
    if path.parent.exists():
        return
    try:
        path.parent.mkdir(mode=0o750, parents=True, exist_ok=True)
        sync_folder(path.parent.parent)
    except OSError as error:
        raise Failure(
            f"{path.parent}: the store's folder can't be made ({error.strerror})"
        ) from error


def make_store(path: Path) -> None:
    """Make a new store (0640) where there is none or an empty file, whole or not at all."""
    database.refuse_lone_log(path)
    if path.exists() and path.stat().st_size:
        return
    make_whole(path, lambda connection: _run(connection, 0, VERSION, MIGRATIONS))


def bring_up_to_date(
    connection: sqlite3.Connection,
    path: Path,
    *,
    found: int,
    wanted: int = VERSION,
    migrations: Mapping[int, Migration] = MIGRATIONS,
) -> Path | None:
    """Run the steps from layout ``found`` to ``wanted`` in one transaction.

    A store that holds anything is copied first; gives the copy's path, which is kept. When a step
    fails the store is as it was: Failure.
    """
    if found >= wanted:
        return None
    kept = None
    if found:
        day = time.strftime("%Y%m%d-%H%M%S")
        kept = copy(connection, path.with_name(f"{path.name}.layout{found}.{day}"))
    try:
        _run(connection, found, wanted, migrations)
    except sqlite3.Error as error:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise Failure(
            f"{path}: the store could not be brought from layout {found} to {wanted} ({error});"
            " it is as it was"
        ) from error
    return kept


def _run(
    connection: sqlite3.Connection, found: int, wanted: int, migrations: Mapping[int, Migration]
) -> None:
    connection.execute("BEGIN IMMEDIATE")
    for version in range(found, wanted):
        migrations[version](connection)
    connection.execute(f"PRAGMA user_version = {wanted}")
    connection.execute("COMMIT")
