"""Make a new store, or bring an older one to the present layout after a copy."""

import sqlite3
import time
import uuid
from collections.abc import Mapping
from pathlib import Path

from benchmate import files
from benchmate.errors import Failure
from benchmate.store import database
from benchmate.store.backup import copy, make_whole
from benchmate.store.schema import MIGRATIONS, VERSION, Migration, make_tables


def make_folder(path: Path) -> None:
    """Make the folder that the store is to lie in (0700), its name durable, where missing."""
    database.refuse_folder(path)
    try:
        files.make_folders(path.parent)
    except OSError as error:
        raise Failure(
            f"{path.parent}: the store's folder can't be made ({error.strerror})"
        ) from error


def make_store(path: Path) -> None:
    """Make a new store (0600) where there is none or an empty file, whole or not at all."""
    database.refuse_lone_log(path)
    if path.exists() and path.stat().st_size:
        return
    make_whole(path, fill_new)


def fill_new(connection: sqlite3.Connection, store_id: str | None = None) -> None:
    """Make the tables of a new store in an empty file; it has a new id unless told one."""
    connection.execute("BEGIN IMMEDIATE")
    make_tables(connection)
    connection.execute(
        "INSERT INTO store (one, store_id) VALUES (1, ?)", (store_id or str(uuid.uuid4()),)
    )
    connection.execute("COMMIT")


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
        connection.execute("BEGIN IMMEDIATE")
        make_tables(connection, wanted, found=found, migrations=migrations)
        connection.execute("COMMIT")
    except sqlite3.Error as error:
        if connection.in_transaction:
            connection.execute("ROLLBACK")
        raise Failure(
            f"{path}: the store could not be brought from layout {found} to {wanted} ({error});"
            " it is as it was"
        ) from error
    return kept
