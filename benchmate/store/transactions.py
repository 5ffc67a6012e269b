"""Write exactly once on a connection whose commits may fail without saying what became of them."""

import logging
import sqlite3
import time
import traceback
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import TypeVar

from benchmate.errors import Failure
from benchmate.files import FileIdentity
from benchmate.store import backup, database, high_water
from benchmate.store.record import RowRefused

_log = logging.getLogger(__name__)
_OF_CONTENT = (
    sqlite3.DataError,
    sqlite3.IntegrityError,
    sqlite3.InterfaceError,
    sqlite3.ProgrammingError,
)
"""Errors that a row's content makes, not the disk."""
_OF_DAMAGE = ("SQLITE_CORRUPT", "SQLITE_NOTADB")
T = TypeVar("T")
Connect = Callable[[Path], sqlite3.Connection]


class Transactions:
    """The writing connection, opened anew after an error. All calls from one thread."""

    def __init__(self, path: Path, connect: Connect) -> None:
        self._path = path
        self._connect = connect
        self._connection: sqlite3.Connection | None = None
        self._doubtful = False
        self._file: FileIdentity | None = None
        self._saved_as: Path | None = None
        self._damage = ""
        self._marked: tuple[high_water.HighWater, ...] = ()

    def connected(self) -> sqlite3.Connection:
        """Give the connection, opened if it isn't; Failure or sqlite3.Error when it can't be."""
        if self._connection is None:
            connection = self._connect(self._path)
            try:
                self._refuse_another(connection)
            except BaseException:
                connection.close()
                raise
            self._connection = connection
            self._file = FileIdentity.of(self._path)
        return self._connection

    def once(
        self,
        work: Callable[[sqlite3.Connection], T],
        found: Callable[[sqlite3.Connection], T | None],
    ) -> T:
        """Do the work in one transaction, exactly once; Failure when it can't be kept.

        After an error ``found`` looks the work up by reading the file anew, and the work is done
        again only where it is missing. The file must still lie under its name, before and after.
        """
        self._refuse_displaced()
        for attempt in ("first", "last"):
            try:
                connection = self._settled()
                done = found(connection) if attempt == "last" else None
                if done is None:
                    done = _in_transaction(connection, work)
                self._refuse_displaced()
                self._settle_without_log()
            except _OF_CONTENT as error:
                raise RowRefused(f"the row was not kept: {error}") from error
            except sqlite3.Error as error:
                _log.warning("store: %s attempt failed: %s", attempt, error)
                self._note_damage(error)
                # Cursors left in the frames would keep the old connection half open.
                traceback.clear_frames(error.__traceback__)
                self._doubt()
                failed = database.spoken(self._path, error)
            else:
                return done
        raise failed

    def settle(self) -> None:
        """Move what was committed to the main file, and witness the newest rows.

        One flipped bit in the log would cost all that follows it there.
        """
        if self._connection is None or self._displaced():
            return
        try:
            self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
            now = FileIdentity.of(self._path)
            if now is not None and now.same_file(self._file):
                self._file = now
            newest = high_water.marks(self._connection)
            if newest != self._marked:
                high_water.write(self._path, newest)
                self._marked = newest
        except OSError as error:
            _log.warning("store: the newest row could not be witnessed: %s", error)
        except Exception as error:  # noqa: BLE001 - in a damaged store anything; the thread goes on
            _log.warning("store: the newest row could not be settled: %s", error)
            self._note_damage(error)
            self._doubt()

    def drop(self) -> None:
        """Close the connection; a second call does nothing."""
        if self._connection is not None:
            with suppress(sqlite3.Error):
                self._connection.close()
            self._connection = None

    def _note_damage(self, error: Exception) -> None:
        """Write no more into a store once SQLite found it damaged: what is whole may be saved."""
        if getattr(error, "sqlite_errorname", "").startswith(_OF_DAMAGE):
            self._damage = str(error)

    def _displaced(self) -> str:
        """Say what became of the file that was opened; empty while it lies under its name."""
        opened, now = self._file, FileIdentity.of(self._path)
        if opened is None or self._connection is None:
            return ""
        if now is None:
            return "the store's file was deleted or moved away while it was being written"
        if not opened.same_file(now):
            return "another file was put in the store's place while it was being written"
        if now.size < opened.size:
            return (
                f"the store's file was cut from {opened.size} to {now.size} bytes while it was"
                " being written; end the bench, and benchmate log rescue saves what is whole"
            )
        return ""

    def _refuse_displaced(self) -> None:
        """Raise Failure when what is written wouldn't be found under the store's name.

        What was promised before is still in the file that lost its name, as long as it is open: it
        is put back, or, where another file lies there, saved beside it.
        """
        if self._damage:
            raise Failure(
                f"{self._path}: the store is damaged ({self._damage}) and isn't written any more;"
                " end the bench, and benchmate log rescue saves what is whole"
            )
        if not (told := self._displaced()):
            return
        now = FileIdentity.of(self._path)
        if now is not None and self._file is not None and self._file.same_file(now):
            raise Failure(f"{self._path}: {told}")
        target = self._path if now is None else self._aside()
        connection = self.connected()
        if self._saved_as != target:
            try:
                connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
                backup.copy(connection, target)
            except (sqlite3.Error, Failure) as error:
                raise Failure(f"{self._path}: {told}, and can't be saved ({error})") from error
        if now is None:
            self.drop()
            raise Failure(f"{self._path}: {told}; it was put back with all that it held")
        self._saved_as = target
        raise Failure(
            f"{self._path}: {told}; what it held is saved as {target.name}: put that in its place"
        )

    def _aside(self) -> Path:
        if self._saved_as is not None:
            return self._saved_as
        return self._path.with_name(f"{self._path.name}.saved.{time.strftime('%Y%m%d-%H%M%S')}")

    def _settle_without_log(self) -> None:
        """Move what was committed to the main file at once where the log lost its name."""
        if not database.log_beside(self._path).exists():
            self._doubtful = True
            self._settled()
            self.drop()

    def _refuse_another(self, connection: sqlite3.Connection) -> None:
        """Raise Failure for another store than the one before, or one that lost what it held."""
        if not self._marked:
            return
        ((store_id,),) = connection.execute("SELECT store_id FROM store")
        if store_id != self._marked[0].store_id or any(
            high_water.missing(connection, self._marked)
        ):
            raise Failure(
                f"{self._path}: this is another store than the one that was being written, or an"
                " older copy of it; put the right one in its place, or end the bench"
            )

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
