import sqlite3

import pytest

from benchmate.errors import Failure
from benchmate.store import Log, Store
from benchmate.store.high_water import marks, write


def told_of(path):
    with Log.open(path) as log:
        return log.check()


def unlocked(connection):
    """Take the triggers off, as somebody with the file in hand can."""
    triggers = connection.execute("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger'")
    kept = triggers.fetchall()
    for name, _ in kept:
        connection.execute(f"DROP TRIGGER {name}")
    return [sql for _, sql in kept]


def test_a_whole_store_has_no_fault(kept):
    assert told_of(kept) == []


@pytest.mark.parametrize(
    ("change", "row"),
    [
        ("UPDATE bend SET bend_angle = 91.0 WHERE seq = 1", "bend row 1"),
        ("UPDATE bend SET trace = x'00' WHERE seq = 2", "bend row 2"),
        ("UPDATE bend SET wall_s = 1.0 WHERE seq = 2", "bend row 2"),
        ("UPDATE bend SET place = 1 WHERE seq = 2", "bend row 2"),
        ("UPDATE bend SET simulated = 1 WHERE seq = 3", "bend row 3"),
        ("UPDATE hit SET peak = 90.0 WHERE seq = 2", "bend row 2"),
        ("DELETE FROM hit WHERE seq = 3", "bend row 3"),
        ("INSERT INTO hit VALUES (1, 2, 90, 1, 90, 88, NULL, NULL)", "bend row 1"),
        ("UPDATE finding SET payload = '{}' WHERE seq = 1", "finding row 1"),
    ],
)
def test_any_change_is_found_and_its_row_named(kept, raw, change, row):
    other = raw()
    triggers = unlocked(other)
    other.execute(change)
    for sql in triggers:
        other.execute(sql)
    assert told_of(kept) == [f"{row} is not what was written: its digest doesn't match"]


def test_a_missing_row_is_found(kept, raw):
    other = raw()
    triggers = unlocked(other)
    other.execute("DELETE FROM hit WHERE seq = 2")
    other.execute("DELETE FROM bend WHERE seq = 2")
    for sql in triggers:
        other.execute(sql)
    assert told_of(kept) == ["bend rows 2 to 2 are missing"]


def test_a_flipped_bit_in_the_file_is_found_although_sqlite_calls_it_sound(kept):
    content = bytearray(kept.read_bytes())
    at = content.index(b"trace of this bend")
    content[at] ^= 1
    kept.write_bytes(content)
    with sqlite3.connect(kept) as other:
        assert other.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    other.close()
    assert any("its digest doesn't match" in told for told in told_of(kept))


@pytest.mark.parametrize(
    "change",
    [
        "UPDATE bend SET setup = '{nonsense' WHERE seq = 1",
        "UPDATE bend SET faults = '[' WHERE seq = 1",
        "UPDATE finding SET payload = '{' WHERE kind = 'trial'",
    ],
)
def test_a_row_that_cannot_be_read_is_a_sentence(kept, raw, change):
    other = raw()
    unlocked(other)
    other.execute(change)
    with Log.open(kept) as log, pytest.raises(Failure, match=r"is damaged .*benchmate log rescue"):
        assert [list(log.bends()), log.findings("trial")]


def test_the_writer_outlives_a_newest_row_that_is_damaged(kept, raw, a_bend):
    other = raw()
    triggers = unlocked(other)
    other.execute("PRAGMA ignore_check_constraints = ON")
    other.execute("UPDATE bend SET digest = x'' WHERE seq = 3")
    other.execute("UPDATE bend SET place = 99 WHERE seq = 3")
    for sql in triggers:
        other.execute(sql)
    other.close()
    with Store.open(kept) as store:
        for _ in range(2):
            assert isinstance(store.append(a_bend()).exception(), Failure)
        assert store.keep("mount", "east-wall", {}).result() == 3


def test_an_older_copy_put_in_the_stores_place_is_noticed(kept, a_bend):
    older = kept.read_bytes()
    with Store.open(kept) as store:
        store.append(a_bend()).result()
    assert told_of(kept) == []
    kept.write_bytes(older)
    (told,) = told_of(kept)
    assert told.startswith("the store once held bend row 4 and now ends at 3")
    with Store.open(kept) as store:
        store.append(a_bend()).result()
        with Log.open(kept) as log:
            assert [lost["what"] for lost in log.findings("lost").values()] == [told]
    assert told_of(kept) == []


def test_a_branch_that_grew_as_long_is_noticed_too(kept, a_bend):
    older = kept.read_bytes()
    with Store.open(kept) as store:
        store.append(a_bend()).result()
    note = kept.with_name("bends.db.tail").read_bytes()
    kept.write_bytes(older)
    with Store.open(kept) as store:
        store.append(a_bend()).result()
    kept.with_name("bends.db.tail").write_bytes(note)
    (told,) = told_of(kept)
    assert told.startswith("bend row 4 is another than the one that the store once held")


@pytest.mark.parametrize("note", [b"", b"\xff\xfe", b"a b c\n", b"x bend 9 zz\n", b"\x00" * 500])
def test_a_witness_that_cannot_be_read_says_nothing(kept, note):
    kept.with_name("bends.db.tail").write_bytes(note)
    assert told_of(kept) == []


def test_the_witness_of_another_store_says_nothing(kept, tmp_path):
    with Store.open(tmp_path / "new.db"):
        pass
    with sqlite3.connect(kept) as other:
        write(tmp_path / "new.db", marks(other))
    other.close()
    assert told_of(tmp_path / "new.db") == []
