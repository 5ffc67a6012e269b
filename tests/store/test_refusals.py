import hashlib
import sqlite3

import pytest

from benchmate.errors import Failure
from benchmate.store import Log, Store, database
from benchmate.store.database import OlderStore, for_writing
from benchmate.store.schema import VERSION


def fingerprints(folder):
    return {
        each.name: hashlib.sha256(each.read_bytes()).hexdigest()
        for each in folder.iterdir()
        if not each.name.endswith(("-shm", ".lock")) and each.stat().st_size
    }


def refused(path, words):
    """See the store refused for writing and for reading, in these words, and nothing changed."""
    before = fingerprints(path.parent)
    with pytest.raises(Failure, match=words) as told:
        Store.open(path)
    assert str(path) in str(told.value)
    assert "\n" not in str(told.value)
    with pytest.raises(Failure, match=words):
        Log.open(path)
    assert fingerprints(path.parent) == before


def test_a_newer_store_is_refused_with_both_numbers(kept, raw):
    other = raw()
    other.execute("PRAGMA user_version = 99")
    other.close()
    words = (
        rf"newer benchmate .*\(layout 99; this one knows up to {VERSION}\).* nothing was changed"
    )
    refused(kept, words)


def test_another_programs_database_is_refused(path, raw):
    path.parent.mkdir()
    other = raw()
    other.execute("CREATE TABLE songs (title)")
    other.close()
    refused(path, "another program's, not a store of benchmate's")


def test_a_database_with_another_programs_mark_is_refused(path, raw):
    path.parent.mkdir()
    other = raw()
    other.execute("PRAGMA application_id = 77")
    other.close()
    refused(path, "another program's")


def test_a_file_that_is_no_database_is_refused(path):
    path.parent.mkdir()
    path.write_text("bends, so far: none\n" * 100)
    refused(path, "is not a database")


def test_an_empty_file_is_a_new_store(path):
    path.parent.mkdir()
    path.touch()
    with Log.open(path) as log:
        assert list(log.bends()) == []
    Store.open(path).close()
    assert path.stat().st_size


@pytest.mark.parametrize("there", [True, False])
def test_an_empty_store_with_bends_in_its_log_is_refused(path, there):
    path.parent.mkdir()
    if there:
        path.touch()
    path.with_name("bends.db-wal").write_bytes(b"\x37\x7f\x06\x82" * 100)
    refused(path, "the store is empty but bends lie in bends.db-wal")


def test_a_store_whose_head_is_gone_is_refused(kept):
    with kept.open("r+b") as file:
        file.write(bytes(100))
    refused(kept, "is not a database")


def test_a_damaged_store_names_the_way_out(kept):
    with kept.open("r+b") as file:
        file.seek(100)
        file.write(b"\xff" * 3000)
    refused(kept, "the store is damaged; .* benchmate log rescue")


def test_an_older_store_is_not_read_before_it_is_upgraded(kept, monkeypatch):
    monkeypatch.setattr(database, "VERSION", VERSION + 1)
    words = f"layout {VERSION} and this benchmate reads {VERSION + 1}"
    with pytest.raises(OlderStore, match=words):
        Log.open(kept)


def test_a_second_writer_is_refused_and_the_first_goes_on(path, a_bend):
    with Store.open(path) as store:
        with pytest.raises(Failure, match=r"another benchmate \(process \d+\) is writing"):
            Store.open(path)
        assert store.append(a_bend()).result().seq == 1
    Store.open(path).close()


def test_a_link_to_the_store_is_the_same_store(path):
    with Store.open(path):
        link = path.with_name("link.db")
        link.symlink_to(path)
        with pytest.raises(Failure, match="another benchmate"):
            Store.open(link)


def test_what_a_cut_left_of_a_store_in_the_making_is_no_store(path):
    path.parent.mkdir()
    for ending in ("", "-journal", "-wal"):
        path.with_name("bends.db.part" + ending).write_bytes(b"SQLite format 3\0" + bytes(600))
    with Log.open(path) as log:
        assert list(log.bends()) == []
    with Store.open(path) as store:
        assert store.keep("mount", "east-wall", {}).result() == 1
    assert not list(path.parent.glob("*.part*"))


def test_a_folder_that_cannot_be_made_is_said(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(Failure, match="folder can't be made"):
        Store.open(tmp_path / "file" / "store" / "bends.db")


def test_a_folder_in_the_stores_place_is_said(tmp_path):
    with pytest.raises(Failure, match="this is a folder; name the store's file in it"):
        Store.open(tmp_path)


@pytest.mark.parametrize(
    ("name", "answer"),
    [
        ("journal_mode", "delete"),
        ("synchronous", 1),
        ("foreign_keys", 0),
        ("recursive_triggers", 0),
        ("trusted_schema", 1),
    ],
)
def test_a_setting_that_will_not_hold_is_a_refusal(kept, monkeypatch, name, answer):
    real = database._connect

    class Stubborn:
        def __init__(self, connection):
            self.connection = connection

        def execute(self, statement, *values):
            if statement == f"PRAGMA {name}":
                return self.connection.execute("SELECT ?", (answer,))
            return self.connection.execute(statement, *values)

        def __getattr__(self, attribute):
            return getattr(self.connection, attribute)

    monkeypatch.setattr(database, "_connect", lambda path, mode: Stubborn(real(path, mode)))
    with pytest.raises(Failure, match=f"keeps {name} at {answer} where .* none are logged"):
        for_writing(kept)


def test_the_settings_hold(store, path):
    connection = for_writing(path)
    try:
        read = {
            name: connection.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("journal_mode", "synchronous", "foreign_keys", "recursive_triggers")
        }
    finally:
        connection.close()
    assert read == {
        "journal_mode": "wal",
        "synchronous": 2,
        "foreign_keys": 1,
        "recursive_triggers": 1,
    }


def test_an_old_sqlite_is_refused(path, monkeypatch):
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 34, 1))
    with pytest.raises(Failure, match=r"too old for the store; it takes 3\.37"):
        Store.open(path)
    # What could not be used was not left locked.
    monkeypatch.undo()
    Store.open(path).close()
