import sqlite3

import pytest

from benchmate.errors import Failure
from benchmate.store import Log, Store
from benchmate.store.backup import backup
from benchmate.store.database import for_writing
from benchmate.store.schema import MIGRATIONS, VERSION
from benchmate.store.upgrade import bring_up_to_date


def add_a_column(connection):
    connection.execute("ALTER TABLE bend ADD COLUMN bender TEXT NOT NULL DEFAULT ''")


def fail_halfway(connection):
    add_a_column(connection)
    connection.execute("CREATE TABLE bend (seq)")


LATER = VERSION + 1


@pytest.fixture
def connection(kept):
    opened = for_writing(kept)
    yield opened
    opened.close()


def test_an_older_store_is_copied_then_brought_to_the_new_layout(kept, connection):
    copy = bring_up_to_date(
        connection,
        kept,
        found=VERSION,
        wanted=LATER,
        migrations={**MIGRATIONS, VERSION: add_a_column},
    )
    assert connection.execute("PRAGMA user_version").fetchone() == (LATER,)
    assert connection.execute("SELECT DISTINCT bender FROM bend").fetchall() == [("",)]
    # The copy is the store as it was, whole and readable by the program that made it.
    assert copy.name.startswith(f"bends.db.layout{VERSION}.")
    with Log.open(copy) as log:
        assert log.check() == []
        assert len(list(log.bends())) == 2


def test_a_step_that_fails_leaves_the_store_as_it_was(kept, connection):
    with pytest.raises(Failure, match=rf"from layout {VERSION} to {LATER} .* it is as it was"):
        bring_up_to_date(
            connection,
            kept,
            found=VERSION,
            wanted=LATER,
            migrations={**MIGRATIONS, VERSION: fail_halfway},
        )
    assert connection.execute("PRAGMA user_version").fetchone() == (VERSION,)
    connection.close()
    with Log.open(kept) as log:
        assert log.check() == []


def test_every_layout_up_to_this_one_has_its_step():
    assert sorted(MIGRATIONS) == list(range(VERSION))


def test_a_store_of_this_layout_is_left_alone(kept, connection):
    assert bring_up_to_date(connection, kept, found=VERSION) is None
    assert sorted(each.name for each in kept.parent.iterdir() if "layout" in each.name) == []


def test_a_backup_is_one_whole_file_taken_while_the_store_is_written(path, a_bend, tmp_path):
    with Store.open(path) as store:
        store.append(a_bend()).result()
        copy = backup(path, tmp_path / "stick.db")
    assert [each.name for each in tmp_path.glob("stick*")] == ["stick.db"]
    with Log.open(copy) as log:
        assert len(list(log.bends())) == 1
        assert log.check() == []


def test_a_backup_never_writes_over_a_file(kept, tmp_path):
    there = tmp_path / "precious.db"
    there.write_text("precious")
    with pytest.raises(Failure, match="there is such a file already"):
        backup(kept, there)
    assert there.read_text() == "precious"


def test_a_backup_that_cannot_be_written_is_said(kept, tmp_path):
    with pytest.raises(Failure, match="can't be made"):
        backup(kept, tmp_path / "no such folder" / "copy.db")


def test_a_copy_goes_on_as_a_store(kept, tmp_path, a_bend):
    copy = backup(kept, tmp_path / "copy.db")
    with Store.open(copy) as store:
        assert store.append(a_bend()).result().seq == 4
    with sqlite3.connect(copy) as other:
        assert other.execute("PRAGMA journal_mode").fetchone() == ("wal",)
    other.close()
