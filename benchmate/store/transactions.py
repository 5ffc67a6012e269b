"""Write exactly once on a connection whose commits may fail without saying what became of them."""

import logging
import sqlite3
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from benchmate.store import database, high_water
from benchmate.store.record import RowRefused

_log = logging.getLogger(__name__)
_OF_CONTENT = (
    sqlite3.DataError,
    sqlite3.IntegrityError,
    sqlite3.InterfaceError,
    sqlite3.ProgrammingError,
)
"""Errors that a row's content makes, not the disk."""
T = TypeVar("T")
Connect = Callable[[Path], sqlite3.Connection]


class Transactions:
    """The writing connection, opened anew after an error. All calls from one thread."""

    def __init__(self, path: Path, connect: Connect) -> None:
        self._path = path
        self._connect = connect
        self._connection: sqlite3.Connection | None = None
        self._doubtful = False
        self._witnessed: tuple[high_water.HighWater, ...] = ()

    def connected(self) -> sqlite3.Connection:
        """Give the connection, opened if it isn't; Failure or sqlite3.Error when it can't be."""
        if self._connection is None:
            self._connection = self._connect(self._path)
        return self._connection

    def once(
        self,
        work: Callable[[sqlite3.Connection], T],
        found: Callable[[sqlite3.Connection], T | None],
    ) -> T:
        """Do the work in one transaction, exactly once; Failure when it can't be kept.

        After an error ``found`` looks the work up by reading the file anew, and the work is done
        again only where it is missing.
        """
        for attempt in ("first", "last"):
            try:
                connection = self._settled()
                if attempt == "last" and (there := found(connection)) is not None:
                    return there
                return _in_transaction(connection, work)
            except _OF_CONTENT as error:
                raise RowRefused(f"the row was not kept: {error}") from error
            except sqlite3.Error as error:
                _log.warning("store: %s attempt failed: %s", attempt, error)
                # Cursors left in the frames would keep the old connection half open.
                traceback.clear_frames(error.__traceback__)
                self._doubt()
                failed = database.spoken(self._path, error)
        raise failed

    def settle(self) -> None:
        """Move what was committed to the main file, and witness the newest rows.

        One flipped bit in the log would cost all that follows it there.
        """
        if self._connection is None:
            return
        try:
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            newest = high_water.newest(self._connection)
            if newest != self._witnessed:
                high_water.witness(self._path, newest)
                self._witnessed = newest
        except OSError as error:
            _log.warning("store: the newest row could not be witnessed: %s", error)
        except Exception as error:  # noqa: BLE001 - in a damaged store anything; the thread goes on
            _log.warning("store: the newest row could not be settled: %s", error)
            self._doubt()

    def drop(self) -> None:
        """Close the connection; a second call does nothing."""
        if self._connection is not None:
            with suppress(sqlite3.Error):
                self._connection.close()
            self._connection = None

    def _doubt(self) -> None:
        self.drop()
        self._doubtful = True

    def _settled(self) -> sqlite3.Connection:
        """Give a connection whose file holds, durably, all that it shows.

        After a failed sync the kernel may call lost pages clean, so that what a new connection
        reads in the log may not be on the disk: a checkpoint writes it anew in the main file.
        """
        connection = self.connected()
        if self._doubtful:
            ((_, waiting, moved),) = connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            if waiting != moved:
                raise sqlite3.OperationalError("a reader keeps the log from being settled")
            self._doubtful = False
        return connection


def _in_transaction(connection: sqlite3.Connection, work: Callable[[sqlite3.Connection], T]) -> T:
    connection.execute("BEGIN IMMEDIATE")
    try:
        done = work(connection)
        connection.execute("COMMIT")
    except BaseException:
        with suppress(sqlite3.Error):
            if connection.in_transaction:
                connection.execute("ROLLBACK")
        raise
    return done
