import sqlite3
from contextlib import suppress

import pytest

from benchmate.store import HitRecord, Log

WAYS = [
    "UPDATE bend SET bend_angle = 45",
    "UPDATE bend SET withdrawn = 1 WHERE seq = 1",
    "UPDATE OR REPLACE bend SET seq = 1 WHERE seq = 3",
    "DELETE FROM bend",
    "DELETE FROM bend WHERE seq = 3",
    "REPLACE INTO bend SELECT * FROM bend WHERE seq = 1",
    "INSERT OR REPLACE INTO bend SELECT * FROM bend WHERE seq = 3",
    "INSERT INTO bend SELECT * FROM bend WHERE true ON CONFLICT (seq) DO UPDATE SET note = 'x'",
    "UPDATE hit SET peak = 45",
    "DELETE FROM hit",
    "REPLACE INTO hit SELECT seq, number, 1, 1, 1, 1, 1, NULL FROM hit WHERE seq = 1",
    "INSERT INTO hit VALUES (1, 2, 90, 1, 90, 88, NULL, NULL)",
    "INSERT INTO hit VALUES (3, 3, 90, 1, 90, 88, NULL, NULL)",
    "UPDATE finding SET payload = '{}'",
    "DELETE FROM finding",
    "REPLACE INTO finding SELECT * FROM finding",
    "UPDATE store SET store_id = store_id",
    "DELETE FROM store",
    "REPLACE INTO store SELECT * FROM store",
]

NEW = f"'{'0' * 36}'"


def rows_like(connection, number: int, **swapped: str) -> str:
    """Give the columns of a bend's row but for those swapped, as a SELECT of it."""
    names = [row[1] for row in connection.execute("PRAGMA table_info(bend)")]
    columns = ", ".join(swapped.get(name, name) for name in names)
    return f"SELECT {columns} FROM bend WHERE seq = {number}"  # noqa: S608 - the test's own words


def rows_of(path):
    with Log.open(path) as log:
        return list(log.bends()), log.findings("mount")


@pytest.mark.parametrize("recursive", ["ON", "OFF"])
@pytest.mark.parametrize("way", WAYS)
def test_nothing_is_changed_or_removed(kept, raw, way, recursive):
    before = rows_of(kept)
    other = raw()
    other.execute(f"PRAGMA recursive_triggers = {recursive}")
    with pytest.raises(sqlite3.IntegrityError):
        other.execute(way)
    assert rows_of(kept) == before


@pytest.mark.parametrize("recursive", ["ON", "OFF"])
def test_a_row_with_a_known_row_id_does_not_push_the_old_one_out(kept, raw, recursive):
    before = rows_of(kept)
    other = raw()
    other.execute(f"PRAGMA recursive_triggers = {recursive}")
    with pytest.raises(sqlite3.IntegrityError, match="out of sequence or there already"):
        other.execute("REPLACE INTO bend " + rows_like(other, 1, seq="4"))
    assert rows_of(kept) == before


@pytest.mark.parametrize("seq", [None, -1, 0, 1, 2, 3, 5, 2**62])
def test_the_sequence_has_no_gap(kept, raw, seq):
    other = raw()
    with pytest.raises(sqlite3.Error):
        other.execute("INSERT INTO bend " + rows_like(other, 1, seq="?", row_id=NEW), (seq,))


@pytest.mark.parametrize("value", ["'ninety'", "9e999", "-9e999", "NULL", "x'00'"])
def test_an_angle_is_a_finite_number_whoever_writes_it(kept, raw, value):
    other = raw()
    wrong = rows_like(other, 1, seq="4", row_id=NEW, bend_angle=value)
    with pytest.raises(sqlite3.IntegrityError):
        other.execute("INSERT INTO bend " + wrong)
    other.execute("INSERT INTO bend " + rows_like(other, 1, seq="4", row_id=NEW))


def test_the_chain_shows_a_row_slipped_in_by_another_program(kept, raw):
    other = raw()
    other.execute("INSERT INTO bend " + rows_like(other, 2, seq="4", row_id=NEW))
    with Log.open(kept) as log:
        told = log.check()
    assert "bend row 4 is not what was written: its digest doesn't match" in told
    assert any(word.startswith("bend row 4 doesn't follow") for word in told)


def test_more_hits_than_any_bend_takes_are_not_kept(store, path, a_bend):
    hit = HitRecord(stop_angle=90, stop_sd=1, peak=90, rest=88)
    assert store.append(a_bend(hits=(hit,) * 100)).exception() is None
    assert store.append(a_bend(hits=(hit,) * 101)).exception() is not None
    with Log.open(path) as log:
        assert [len(each.record.hits) for each in log.bends()] == [100]


def test_dropping_a_trigger_is_seen(kept, raw):
    other = raw()
    with suppress(sqlite3.OperationalError):
        other.execute("DROP TRIGGER bend_is_not_changed")
    with Log.open(kept) as log:
        assert log.check() == ["the store's bend_is_not_changed is not as benchmate makes it"]
