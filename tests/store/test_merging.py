import sqlite3
from contextlib import closing, suppress
from dataclasses import replace

import pytest

from benchmate.errors import BenchmateError, Failure, Refusal
from benchmate.store import Log, Store, merge, merging
from benchmate.store.rows import digest
from benchmate.store.schema import make_tables


@pytest.fixture
def other(tmp_path, a_bend):
    """Give a closed store of another bench with two bends."""
    path = tmp_path / "other" / "bends.db"
    with Store.open(path) as store:
        store.append(a_bend(job="rack"))
        store.append(a_bend(job="rack", bend=2))
        store.keep("mount", "loft", {"tilt": 2.0})
        store.keep("trial", "three-inch", {"radius_mm": 76.0}).result()
    return path


def jobs_in(path):
    with Log.open(path) as log:
        assert log.check() == []
        return [(each.record.job, each.record.bend) for each in log.bends()]


def rewritten(path, change):
    """Change a store as somebody with the file in hand and our source can: digests made good."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        _rewrite(connection, change)


def _rewrite(connection, change):
    triggers = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
    kept = triggers.fetchall()
    for name, _ in kept:
        connection.execute(f"DROP TRIGGER {name}")
    connection.execute("PRAGMA ignore_check_constraints = ON")
    connection.execute(change)
    connection.row_factory = sqlite3.Row
    before = bytes(32)
    for found in connection.execute("SELECT * FROM bend ORDER BY seq").fetchall():
        row = dict(found) | {"previous": before}
        hits = connection.execute(
            "SELECT stop_angle, stop_sd, peak, rest, measured, how_measured FROM hit"
            " WHERE seq = ? ORDER BY number",
            (row["seq"],),
        )
        before = digest("bend", row, [tuple(hit) for hit in hits])
        connection.execute(
            "UPDATE bend SET previous = ?, digest = ? WHERE seq = ?",
            (row["previous"], before, row["seq"]),
        )
    for _, sql in kept:
        connection.execute(sql)


def test_a_merge_adds_each_row_once_and_says_what_it_did(store, path, other, a_bend):
    store.append(a_bend()).result()
    done = merge(store, other)
    assert (done.bends, done.corrections, done.findings, done.there) == (2, 0, 1, 0)
    assert jobs_in(path) == [("gate", 1), ("rack", 1), ("rack", 2)]
    again = merge(store, other)
    assert (again.bends, again.findings, again.there) == (0, 0, 3)
    assert jobs_in(path) == [("gate", 1), ("rack", 1), ("rack", 2)]


def test_a_merged_row_keeps_its_origin(store, path, other):
    merge(store, other)
    with Log.open(path) as here, Log.open(other) as there:
        for ours, theirs in zip(here.bends(), there.bends(), strict=True):
            assert ours.record == theirs.record
            assert ours.stamp == theirs.stamp
            assert ours.stamp.origin != store.store_id


def test_what_belongs_to_the_other_benchs_hardware_stays_there(store, path, other):
    merge(store, other)
    with Log.open(path) as log:
        assert log.findings("mount") == {}
        assert log.finding("trial", "three-inch") == {"radius_mm": 76.0}


def test_our_own_finding_goes_before_a_merged_one(store, path, other):
    store.keep("trial", "three-inch", {"radius_mm": 75.0}).result()
    merge(store, other)
    with Log.open(path) as log:
        assert log.finding("trial", "three-inch") == {"radius_mm": 75.0}


def test_two_stores_merged_both_ways_say_the_same(store, path, other, a_bend, tmp_path):
    shared = a_bend(job="shared")
    store.append(shared).result()
    with Store.open(other) as theirs:
        merge(theirs, path)
        theirs.append(replace(shared, note="amended there")).result()
    store.append(replace(shared, note="amended here")).result()
    merge(store, other)
    with Store.open(other) as theirs:
        merge(theirs, path)
    with Log.open(path) as here, Log.open(other) as there:
        said = {each.record.bend_id: each.record for each in here.bends()}
        assert said == {each.record.bend_id: each.record for each in there.bends()}
        assert len(here.history(shared.bend_id)) == len(there.history(shared.bend_id)) == 3


def test_corrections_of_bends_that_were_here_are_counted(store, path, other, a_bend):
    bend = a_bend()
    store.append(bend).result()
    with Store.open(other) as theirs:
        merge(theirs, path)
        theirs.append(replace(bend, withdrawn=True)).result()
    done = merge(store, other)
    assert done.corrections == 1
    assert (done.new_bends, done.corrected_bends, done.same_bends) == (2, 1, 0)
    assert ("gate", 1) not in jobs_in(path)


def test_bends_are_counted_once_however_often_they_were_corrected(store, path, other, a_bend):
    with Store.open(other) as theirs:
        bend = a_bend()
        theirs.append(bend).result()
        before = merge(store, other)
        theirs.append(replace(bend, note="once")).result()
        theirs.append(replace(bend, note="twice")).result()
    assert before.new_bends >= 1
    after = merge(store, other)
    assert (after.bends, after.new_bends, after.corrected_bends) == (2, 0, 1)
    assert after.same_bends == before.new_bends - 1


def test_a_store_is_not_merged_with_itself(store, path):
    with pytest.raises(Refusal, match="this is the store itself"):
        merge(store, path)


def refused(store, path, other, words):
    before = jobs_in(path)
    with pytest.raises(BenchmateError, match=words):
        merge(store, other)
    assert jobs_in(path) == before


def test_a_row_that_was_changed_is_refused_whole(store, path, other):
    content = other.read_bytes().replace(b"trace of this bend", b"trace of that bend", 1)
    other.write_bytes(content)
    refused(store, path, other, "digest doesn't match; nothing was merged")


def test_a_row_that_both_hold_and_that_differs_is_refused(store, path, other):
    merge(store, other)
    rewritten(other, "UPDATE bend SET bend_angle = 10 WHERE seq = 1")
    refused(store, path, other, "says something else than the same row here")
    # It is what was asked that is wrong, and the other file that it is in.
    with pytest.raises(Refusal, match=f"^{other}: its bend row 1 says"):
        merge(store, other)


def test_a_disk_that_fails_under_the_other_store_is_said_of_that_one(
    store, path, other, monkeypatch
):
    real = merging.stored

    def failing(connection, table, *args, **said):
        # The rows are taken after the chain was followed, in the module's own reading of them.
        yield next(real(connection, table, *args, **said))
        error = sqlite3.OperationalError("disk I/O error")
        error.sqlite_errorname = "SQLITE_IOERR_READ"
        raise error

    monkeypatch.setattr(merging, "stored", failing)
    with pytest.raises(Failure, match=f"^{other}: the disk failed"):
        merge(store, other)
    assert jobs_in(path) == []


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE bend SET bend_angle = 9e999 WHERE seq = 2",
        "UPDATE bend SET tolerance = -1 WHERE seq = 2",
        "UPDATE bend SET version = 20000, corrects = row_id WHERE seq = 2",
        "UPDATE bend SET origin_seq = 9000000000000000000 WHERE seq = 2",
        "UPDATE bend SET layout = 9 WHERE seq = 2",
        "UPDATE bend SET verdict = 'perfect' WHERE seq = 2",
        "UPDATE bend SET row_id = 'short' WHERE seq = 2",
        "UPDATE bend SET setup = '{\"a\": NaN}' WHERE seq = 2",
        "UPDATE bend SET setup = '{\"a\":1}' WHERE seq = 2",
        "UPDATE bend SET setup = '[]' WHERE seq = 2",
        "UPDATE bend SET faults = '[1]' WHERE seq = 2",
        "UPDATE bend SET job = printf('%0201d', 1) WHERE seq = 2",
        "UPDATE hit SET peak = 9e999 WHERE seq = 2",
    ],
)
def test_a_row_that_no_bench_writes_is_refused_although_its_digest_is_good(
    store, path, other, change
):
    # Where no digest of ours can be made at all, the one that is there no longer matches.
    with suppress(KeyError, ValueError):
        rewritten(other, change)
    refused(store, path, other, "nothing was merged")


def test_a_bomb_of_brackets_is_refused(store, path, other):
    deep = '{"a": ' + "[" * 20_000 + "]" * 20_000 + "}"
    rewritten(other, "UPDATE bend SET setup = '" + deep + "' WHERE seq = 1")  # noqa: S608 - our own
    refused(store, path, other, "holds what no bench writes")


def test_a_value_too_large_is_refused_before_it_is_read(store, path, other):
    rewritten(other, "UPDATE bend SET note = printf('%020000000d', 1) WHERE seq = 1")
    refused(store, path, other, "bends.db")


@pytest.mark.parametrize(
    "addition",
    [
        "CREATE VIEW more AS SELECT * FROM bend",
        "CREATE TRIGGER late AFTER INSERT ON cache BEGIN DELETE FROM cache; END",
        "DROP TRIGGER bend_follows",
        "CREATE TABLE more (x)",
    ],
)
def test_tables_that_are_not_ours_are_refused(store, path, other, addition):
    connection = sqlite3.connect(other)
    connection.execute(addition)
    connection.commit()
    connection.close()
    refused(store, path, other, "its tables are not as benchmate makes them")


def test_a_store_whose_bends_are_a_view_is_refused(store, path, tmp_path):
    trap = tmp_path / "trap.db"
    connection = sqlite3.connect(trap, isolation_level=None)
    make_tables(connection)
    connection.execute("DROP TABLE bend")
    connection.execute("CREATE VIEW bend AS SELECT * FROM finding")
    connection.close()
    refused(store, path, trap, "its tables are not as benchmate makes them")


def test_what_is_no_store_is_refused(store, path, tmp_path):
    empty, text, foreign = (tmp_path / name for name in ("empty.db", "text.db", "foreign.db"))
    empty.touch()
    text.write_text("no database " * 100)
    connection = sqlite3.connect(foreign)
    connection.execute("CREATE TABLE songs (x)")
    connection.commit()
    connection.close()
    refused(store, path, empty, "is empty")
    refused(store, path, text, "not a database")
    refused(store, path, foreign, "another program's")
    refused(store, path, tmp_path / "none.db", "there is no such store")


def test_the_other_store_is_only_read(store, other):
    before = other.read_bytes()
    merge(store, other)
    assert other.read_bytes() == before
