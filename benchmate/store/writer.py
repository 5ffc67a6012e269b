"""The one writer of a store: a queue, a thread, a connection, and a commit before every receipt."""

import logging
import queue
import sqlite3
import threading
import uuid
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass
from pathlib import Path
from types import TracebackType
from typing import Any, Generic, Self, TypeVar

from benchmate.clock import Clock, MonotonicClock
from benchmate.errors import BenchmateError, Failure
from benchmate.store import database, hash_chain, high_water, rows, runs, upgrade
from benchmate.store.integrity import QuietCheck, chain_faults
from benchmate.store.lock import WriterLock
from benchmate.store.record import (
    BendRecord,
    Receipt,
    RowRefused,
    RunInput,
    RunRecord,
    Stamp,
)
from benchmate.store.schema import TABLES, VERSION
from benchmate.store.timestamps import StampClocks
from benchmate.store.transactions import Connect, Transactions

_log = logging.getLogger(__name__)
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class _Write(Generic[T]):
    """Something to write, how to see that it is there already, and who waits for it."""

    work: Callable[[sqlite3.Connection], T]
    found: Callable[[sqlite3.Connection], T | None]
    promise: "Future[T]"


class Store:
    """The right to write a store, held by one process at a time.

    Every call gives a ``Future`` at once; it resolves after the commit returned, and fails with
    ``Failure`` when the row could not be kept: ``RowRefused`` when that is for what is in it, else
    a later call tries the disk anew.
    """

    def __init__(self, path: Path, times: StampClocks, connect: Connect) -> None:
        self.path = path
        self._times = times
        self._boot_id = times.boot()
        self._commits = Transactions(path, connect)
        self._looking: QuietCheck | None = None
        self._told_lost: list[str] = []
        self._queue: queue.SimpleQueue[_Write[Any] | None] = queue.SimpleQueue()
        self._closing = threading.Lock()
        self._closed = False
        upgrade.make_folder(path)
        self._lock = WriterLock(path)
        opened: Future[str] = Future()
        self._thread = threading.Thread(
            target=self._write, args=(opened,), name="store writer", daemon=True
        )
        self._thread.start()
        try:
            self.store_id = opened.result()
        except BaseException:
            self._thread.join()
            self._lock.release()
            raise
        for told in self._told_lost:
            self.keep("lost", self._stamp().row_id, {"what": told})

    @classmethod
    def open(
        cls,
        path: Path,
        clock: Clock | None = None,
        *,
        times: StampClocks | None = None,
        connect: Connect = database.for_writing,
    ) -> Self:
        """Open a store for writing, made new or upgraded where due.

        Failure when another process writes it, it isn't ours, is newer, is damaged, or its
        settings won't hold; nothing is changed then.
        """
        return cls(path.resolve(), times or StampClocks(clock or MonotonicClock()), connect)

    def append(self, record: BendRecord) -> "Future[Receipt]":
        """Keep a bend, or a new version of one that has the same ``bend_id``."""
        stamp = self._stamp()

        def work(connection: sqlite3.Connection) -> Receipt:
            seq = hash_chain.next_seq(connection, "bend")
            version, corrects = hash_chain.next_version(connection, record.bend_id)
            row = rows.bend_row(record, stamp._replace(origin_seq=seq), version, corrects)
            row |= {"seq": seq, "place": hash_chain.place_of(connection, record.bend_id, seq)}
            hash_chain.append(connection, "bend", row, rows.hit_rows(record))
            return Receipt(record.bend_id, stamp.row_id, seq)

        def found(connection: sqlite3.Connection) -> Receipt | None:
            seq = hash_chain.seq_of(connection, "bend", stamp.row_id)
            return None if seq is None else Receipt(record.bend_id, stamp.row_id, seq)

        return self.submit(work, found)

    def begin_run(self, record: RunRecord) -> "Future[int]":
        """Keep a run, before the first of its inputs; gives its row number.

        Sent again because its receipt never came, it is found.
        """
        stamp = self._stamp()

        def found(connection: sqlite3.Connection) -> int | None:
            there = connection.execute(
                "SELECT seq FROM run WHERE run_id = ?", (record.run_id,)
            ).fetchone()
            return None if there is None else int(there[0])

        def work(connection: sqlite3.Connection) -> int:
            if (there := found(connection)) is not None:
                return there
            seq = hash_chain.next_seq(connection, "run")
            row = rows.run_row(record, stamp._replace(origin_seq=seq)) | {"seq": seq}
            hash_chain.append(connection, "run", row)
            return seq

        return self.submit(work, found)

    def keep_input(self, given: RunInput) -> "Future[int]":
        """Keep what was done in a run, behind what was done before; gives its row number.

        Sent again because its receipt never came, it is found.
        """
        stamp = self._stamp()

        def work(connection: sqlite3.Connection) -> int:
            return runs.keep_input(connection, given, stamp)

        return self.submit(work, lambda c: hash_chain.seq_of(c, "run_input", stamp.row_id))

    def keep(self, kind: str, key: str, payload: Mapping[str, Any]) -> "Future[int]":
        """Keep a finding ("mount", "calibration", "trial"); the latest of each key counts."""
        stamp = self._stamp()

        def work(connection: sqlite3.Connection) -> int:
            seq = hash_chain.next_seq(connection, "finding")
            row = rows.finding_row(kind, key, payload, stamp._replace(origin_seq=seq))
            hash_chain.append(connection, "finding", row | {"seq": seq})
            return seq

        return self.submit(work, lambda c: hash_chain.seq_of(c, "finding", stamp.row_id))

    def cache(self, name: str, seq: int, blob: bytes) -> "Future[None]":
        """Keep something that can be worked out again from the rows up to ``seq``."""

        def work(connection: sqlite3.Connection) -> None:
            connection.execute("INSERT OR REPLACE INTO cache VALUES (?, ?, ?)", (name, seq, blob))

        return self.submit(work, lambda _: None)

    def submit(
        self,
        work: Callable[[sqlite3.Connection], T],
        found: Callable[[sqlite3.Connection], T | None],
    ) -> "Future[T]":
        """Queue work for the writer thread: one transaction, done once.

        ``found`` looks the work up after a commit of unknown fate; None means that it isn't there.
        """
        promise: Future[T] = Future()
        with self._closing:
            if self._closed:
                promise.set_exception(Failure(f"{self.path}: the store is closed"))
            else:
                self._queue.put(_Write(work, found, promise))
        return promise

    def close(self) -> None:
        """Write what is queued, close, give the lock back; a second call does nothing."""
        with self._closing:
            if not self._closed:
                self._closed = True
                self._queue.put(None)
        self._thread.join()
        if self._looking is not None:
            self._looking.stop()
        self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def _stamp(self) -> Stamp:
        times = self._times
        return Stamp(
            row_id=str(uuid.uuid4()),
            origin=self.store_id,
            origin_seq=0,
            layout=VERSION,
            wall_s=times.wall(),
            clock_synchronised=times.synchronised(),
            boot_id=self._boot_id,
            monotonic_s=times.clock.now(),
        )

    # What follows runs in the writer thread.

    def _write(self, opened: "Future[str]") -> None:
        try:
            opened.set_result(self._open_first())
        except sqlite3.Error as error:
            self._commits.drop()
            opened.set_exception(database.spoken(self.path, error))
            return
        except Exception as error:  # noqa: BLE001 - whatever it is, the opener is told
            self._commits.drop()
            opened.set_exception(error)
            return
        while (write := self._queue.get()) is not None:
            if write.promise.set_running_or_notify_cancel():
                self._do(write)
                self._commits.settle()
        self._commits.drop()

    def _open_first(self) -> str:
        upgrade.make_store(self.path)
        unclean = database.waiting(self.path)
        with database.reading(self.path) as looking:
            found = database.identify(looking, self.path)
        connection = self._commits.connected()
        kept = upgrade.bring_up_to_date(connection, self.path, found=found)
        if kept:
            _log.warning("store upgraded from layout %d; the older one is kept as %s", found, kept)
            for fault in (f for table in TABLES for f in chain_faults(connection, table)):
                _log.error("store: %s: %s", self.path, fault)
        ((store_id,),) = connection.execute("SELECT store_id FROM store")
        for told in high_water.lost(self.path, connection):
            _log.error("store: %s: %s", self.path, told)
            self._told_lost.append(told)
        if unclean:
            self._looking = QuietCheck(self.path)
        return str(store_id)

    def _do(self, write: _Write[Any]) -> None:
        try:
            write.promise.set_result(self._commits.once(write.work, write.found))
        except BenchmateError as told:
            write.promise.set_exception(told)
        except (OverflowError, TypeError, ValueError) as error:
            write.promise.set_exception(RowRefused(f"{self.path}: the row was not kept: {error}"))
        except Exception as error:  # noqa: BLE001 - the thread must outlive any one row
            failure = Failure(f"{self.path}: the row was not kept ({error})")
            failure.__cause__ = error
            write.promise.set_exception(failure)
