"""Stores of layout 1 go on: upgraded after a copy, merged and rescued as they are.

``layout1.db`` was made by benchmate as it was at layout 1: five bends of the job gate, the second
drawn with 40.0 and bent to 40.375 degrees, then amended; the third with a low supply, the fourth
with that and a hidden peak; a mount and a trial piece; what was learned in the cache.
"""

import shutil
import sqlite3
from contextlib import nullcontext
from dataclasses import replace
from pathlib import Path

import pytest

from benchmate.errors import Failure
from benchmate.store import Log, Store, merge, rescue
from benchmate.store.database import OlderStore, for_writing
from benchmate.store.learning import learned
from benchmate.store.schema import MIGRATIONS, VERSION
from benchmate.store.upgrade import bring_up_to_date

MADE = Path(__file__).with_name("layout1.db")
HIDDEN = "a peak is not known: a fault hid the arm"
LOW = "supply: the voltage is too low now"


@pytest.fixture
def old(path) -> Path:
    path.parent.mkdir()
    shutil.copyfile(MADE, path)
    return path


def upgraded(path) -> Log:
    Store.open(path).close()
    return Log.open(path)


def raw_rows(path):
    connection = sqlite3.connect(path)
    try:
        return connection.execute("SELECT digest, setup, faults, hex(trace) FROM bend").fetchall()
    finally:
        connection.close()


def test_an_older_store_is_copied_and_then_has_what_it_had(old):
    before = raw_rows(old)
    with upgraded(old) as log:
        assert log.check() == []
        bends = list(log.bends(withdrawn=True))
        assert [each.record.bend for each in bends] == [1, 2, 3, 4, 5]
        assert log.runs() == ()
        assert log.finding("trial", "four-inch") == {"radius_mm": 101.5}
    (copy,) = (each for each in old.parent.iterdir() if ".layout1." in each.name)
    # Not a byte of what was logged is another, there or here.
    assert raw_rows(copy) == raw_rows(old) == before


def test_the_drawings_angle_is_read_from_where_layout_1_put_it(old):
    with upgraded(old) as log:
        first, second = (each.record for each in list(log.bends())[:2])
    assert (second.bend_angle, second.drawn_angle, second.verdict) == (40.375, 40.0, "over")
    assert "drawn_angle" not in second.setup
    assert (first.drawn_angle, first.run, first.came_to) == (None, "", None)


def test_a_low_supply_is_a_note_and_no_fault(old):
    with upgraded(old) as log:
        third, fourth = (each.record for each in list(log.bends())[2:4])
    assert (third.faults, third.notes) == ((), (LOW,))
    assert (fourth.faults, fourth.notes) == ((HIDDEN,), (LOW,))


def test_a_bend_with_a_low_supply_teaches_from_then_on(old):
    with upgraded(old) as log:
        assert learned(log, simulated=False).bends == 4


def test_a_bend_of_layout_1_is_amended_as_any_other(old):
    with Store.open(old) as store, Log.open(old) as log:
        logged = log.bend(2)
        store.append(replace(logged.record, withdrawn=True)).result()
        newest = log.bend(2)
        assert log.check() == []
    assert newest.record == replace(logged.record, withdrawn=True)
    assert (newest.stamp.layout, newest.version) == (VERSION, 3)


def test_an_older_store_is_merged_as_it_is(store, path, tmp_path):
    other = tmp_path / "older.db"
    shutil.copyfile(MADE, other)
    done = merge(store, other)
    assert (done.new_bends, done.bends, done.findings) == (5, 6, 1)
    assert other.read_bytes() == MADE.read_bytes()
    Store.open(other).close()
    # Its rows are still the same ones after it was upgraded.
    assert merge(store, other).bends == 0
    with Log.open(path) as ours, Log.open(other) as theirs:
        assert ours.check() == []
        assert [each.record for each in ours.bends()] == [each.record for each in theirs.bends()]


def test_a_damaged_older_store_is_rescued(tmp_path):
    damaged, new = tmp_path / "damaged.db", tmp_path / "new.db"
    damaged.write_bytes(MADE.read_bytes().replace(b"trace of bend 4", b"trace of bend 9"))
    saved = rescue(damaged, new)
    assert (saved.bends, saved.findings, saved.lost) == (5, 2, ("bend row 5",))
    with Log.open(new) as log:
        assert log.check() == []


def test_an_upgrade_that_fails_at_any_statement_leaves_the_old_store(old):
    def failing_after(statements):
        def step(connection):
            left = statements

            class Failing:
                def execute(self, *what):
                    nonlocal left
                    left -= 1
                    if left < 0:
                        raise sqlite3.OperationalError("the disk failed")
                    return connection.execute(*what)

            MIGRATIONS[1](Failing())

        return step

    before = raw_rows(old)
    steps, done = 0, False
    while not done:
        connection = for_writing(old)
        try:
            bring_up_to_date(
                connection, old, found=1, wanted=2, migrations={1: failing_after(steps)}
            )
            done = True
        except Failure as failure:
            told = str(failure)
        finally:
            connection.close()
        assert raw_rows(old) == before
        with pytest.raises(OlderStore) if not done else nullcontext():
            Log.open(old).close()
        for copy in old.parent.glob("*.layout1.*"):
            copy.unlink()
        steps += 1
    assert steps > 15
    assert told.endswith("it is as it was")
