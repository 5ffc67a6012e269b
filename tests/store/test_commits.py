"""A commit that fails leaves its fate open: kept once, or said to be lost, never both or twice."""

import pytest

from benchmate.errors import Failure
from benchmate.store import Log, Store
from benchmate.store.database import for_writing


def bends_in(path):
    with Log.open(path) as log:
        assert log.check() == []
        return [each.record.bend for each in log.bends()]


@pytest.mark.parametrize("done_anyway", [True, False])
@pytest.mark.parametrize("statement", ["BEGIN", "INSERT INTO bend", "INSERT INTO hit", "COMMIT"])
def test_one_failure_costs_nothing(path, a_bend, failing, statement, done_anyway):
    plan, connect = failing
    with Store.open(path, connect=connect) as store:
        store.append(a_bend(bend=1)).result()
        plan.append((statement, done_anyway))
        receipt = store.append(a_bend(bend=2)).result()
        assert plan == []
        assert receipt.seq == 2
        store.append(a_bend(bend=3)).result()
    assert bends_in(path) == [1, 2, 3]


@pytest.mark.parametrize("done_anyway", [True, False])
def test_a_finding_is_kept_once_too(path, failing, done_anyway):
    plan, connect = failing
    with Store.open(path, connect=connect) as store:
        plan.append(("COMMIT", done_anyway))
        assert store.keep("mount", "east-wall", {}).result() == 1
        assert store.keep("mount", "east-wall", {}).result() == 2


def test_failing_again_is_said_and_the_next_row_is_tried_anew(path, a_bend, failing):
    plan, connect = failing
    with Store.open(path, connect=connect) as store:
        plan += [("COMMIT", False), ("COMMIT", False)]
        with pytest.raises(Failure, match=r"the disk failed .*SQLITE_IOERR_FSYNC"):
            store.append(a_bend(bend=1)).result()
        store.append(a_bend(bend=2)).result()
    assert bends_in(path) == [2]


def test_no_receipt_while_the_log_cannot_be_settled(path, a_bend, failing):
    # The row may show in the log and not be on the disk: only a checkpoint that went through tells.
    plan, connect = failing
    with Store.open(path, connect=connect) as store:
        plan += [("COMMIT", True), ("PRAGMA wal_checkpoint", False)]
        with pytest.raises(Failure):
            store.append(a_bend(bend=1)).result()
        # It turned out to be there: the same bend again is a second version, nothing is lost.
        store.append(a_bend(bend=2)).result()
    assert bends_in(path) == [1, 2]


def test_every_statement_may_fail_once_from_the_first_to_the_last(tmp_path, a_bend):
    """Fail the Nth statement for every N until none fails any more."""
    failed_at = 0
    while True:
        failed_at += 1
        path = tmp_path / f"{failed_at}.db"
        count = {"left": failed_at, "on": False}

        class Counting:
            def __init__(self, real, count=count):
                self.real, self.count = real, count

            def execute(self, statement, *values):
                if self.count["on"]:
                    self.count["left"] -= 1
                    if self.count["left"] == 0:
                        raise sqlite3_error()
                return self.real.execute(statement, *values)

            def __getattr__(self, name):
                return getattr(self.real, name)

        with Store.open(path, connect=lambda at, w=Counting: w(for_writing(at))) as store:
            count["on"] = True
            kept = [store.append(a_bend(bend=n)) for n in (1, 2)]
            kept = [n for n, receipt in zip((1, 2), kept, strict=True) if not receipt.exception()]
        assert bends_in(path) == kept == [1, 2]
        if count["left"] > 0:
            break
    assert failed_at > 10


def sqlite3_error():
    import sqlite3

    error = sqlite3.OperationalError("disk I/O error")
    error.sqlite_errorname = "SQLITE_IOERR_WRITE"
    return error


def test_a_full_disk_is_said_and_costs_no_row_that_was_acknowledged(path, a_bend):
    def small(at):
        connection = for_writing(at)
        connection.execute("PRAGMA max_page_count = 60")
        return connection

    kept = []
    with Store.open(path, connect=small) as store:
        for number in range(1, 40):
            receipt = store.append(a_bend(bend=number, trace=bytes(9000)))
            if failure := receipt.exception():
                break
            kept.append(number)
        assert isinstance(failure, Failure)
        assert "the disk is full and the row was not kept; free some space" in str(failure)
    assert kept
    assert bends_in(path) == kept


def test_a_disk_with_room_again_takes_the_next_row(path, a_bend):
    room = {"pages": 1}

    def small(at):
        connection = for_writing(at)
        connection.execute(f"PRAGMA max_page_count = {room['pages']}")
        return connection

    Store.open(path).close()
    with Store.open(path, connect=small) as store:
        assert store.append(a_bend(trace=bytes(50_000))).exception() is not None
        room["pages"] = 10_000
        # The failed connection was closed; the next row opens a new one.
        assert store.append(a_bend(bend=2)).result().seq == 1
