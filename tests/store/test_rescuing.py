"""What is whole is saved, in its order, from a damaged store and its copies; a back-up restores."""

import os
import shutil
import uuid
from dataclasses import replace

import pytest

from benchmate.errors import Failure, Refusal
from benchmate.store import Log, RunInput, RunRecord, Store, rescue
from benchmate.store.backup import backup
from benchmate.store.learning import learned
from benchmate.store.rescuing import copies_beside

MANY = 30


@pytest.fixture
def begun(path, a_bend):
    """Give a store with thirty bends, a finding and a run in work, closed; and its run."""
    run = RunRecord(
        run_id=str(uuid.uuid4()),
        job="gate",
        first_bend=1,
        simulated=False,
        setup={},
        job_file={},
        plan={},
        learned_to=MANY,
    )
    with Store.open(path) as store:
        for number in range(1, MANY + 1):
            store.append(a_bend(bend=number, trace=bytes([number]) * 3000))
        store.keep("mount", "east-wall", {"tilt": 1.0})
        store.begin_run(run)
        for number, kind in enumerate(("zero", "begun", "hit"), 1):
            given = RunInput(run_id=run.run_id, number=number, kind=kind, payload={})
            store.keep_input(given).result()
    return run


def spoil(path, bend):
    """Overwrite the page that holds this bend's trace."""
    whole = path.read_bytes()
    at = whole.index(bytes([bend]) * 100) // 4096 * 4096
    path.write_bytes(whole[:at] + b"\xa5" * 4096 + whole[at + 4096 :])


def bends_in(path):
    with Log.open(path) as log:
        assert log.check() == []
        return [each.record.bend for each in log.bends()]


def test_rows_on_lost_pages_are_left_out_and_told(path, begun, tmp_path):
    spoil(path, 7)
    with Log.open(path) as log:
        assert log.check()
    saved = rescue(path, tmp_path / "new.db")
    left = bends_in(tmp_path / "new.db")
    assert 20 <= saved.bends == len(left) < MANY
    assert "bend row 7" in saved.lost
    assert saved.bends + sum(each.startswith("bend row") for each in saved.lost) == MANY
    assert left == sorted(left)
    assert (saved.findings, saved.runs) == (1, 1)


def test_what_one_copy_lost_another_has(path, begun, tmp_path):
    copy = backup(path, tmp_path / "copy.db")
    spoil(path, 7)
    spoil(copy, 23)
    saved = rescue(path, tmp_path / "new.db", [copy])
    assert (saved.bends, saved.lost) == (MANY, ())
    assert bends_in(tmp_path / "new.db") == list(range(1, MANY + 1))


def test_a_store_that_cannot_be_read_at_all_is_rescued_from_its_copies(path, begun, tmp_path):
    copy = backup(path, tmp_path / "copy.db")
    path.write_bytes(os.urandom(10_000))
    assert rescue(path, tmp_path / "new.db", [copy]).bends == MANY
    with pytest.raises(Failure, match="nothing can be read of this store any more"):
        rescue(path, tmp_path / "other.db")
    assert not (tmp_path / "other.db").exists()


def test_a_rescued_store_goes_on_with_the_run_that_was_in_work(path, begun, tmp_path, a_bend):
    spoil(path, 7)
    new = tmp_path / "new.db"
    rescue(path, new)
    with Store.open(new) as store, Log.open(new) as log:
        run = log.unfinished("gate", simulated=False)
        assert run.record == begun
        assert log.finding("mount", "east-wall") == {"tilt": 1.0}
        given = RunInput(run_id=begun.run_id, number=4, kind="next", payload={})
        store.keep_input(given).result()
        store.append(a_bend(bend=99)).result()
    assert bends_in(new)[-1] == 99


def test_a_copy_that_was_gone_on_with_gives_what_only_it_has(path, begun, tmp_path, a_bend):
    copy = backup(path, tmp_path / "copy.db")
    for where, bend in ((path, 50), (copy, 60)):
        with Store.open(where) as store:
            store.append(a_bend(bend=bend)).result()
    rescue(path, tmp_path / "new.db", [copy])
    assert bends_in(tmp_path / "new.db")[-2:] == [50, 60]


def test_another_benchs_store_is_no_copy(path, begun, tmp_path, a_bend):
    other = tmp_path / "other.db"
    with Store.open(other) as store:
        store.append(a_bend()).result()
    with pytest.raises(Refusal, match=r"other\.db: this is no copy of .* benchmate log merge"):
        rescue(path, tmp_path / "new.db", [other])
    assert not (tmp_path / "new.db").exists()


def test_nothing_is_written_over(path, begun, tmp_path):
    there = tmp_path / "precious.db"
    there.write_text("precious")
    with pytest.raises(Refusal, match="there is such a file already"):
        rescue(path, there)
    assert there.read_text() == "precious"


def test_the_damaged_store_is_only_read(path, begun, tmp_path):
    spoil(path, 7)
    before = {each.name: each.read_bytes() for each in path.parent.iterdir()}
    rescue(path, tmp_path / "new.db")
    assert {each.name: each.read_bytes() for each in path.parent.iterdir()} == before


def test_copies_beside_the_store_are_found_newest_first(path, begun):
    for age, name in enumerate(("bends.db.saved.1", "bends.db.layout1.2", "bends.db.lock")):
        at = path.with_name(name)
        at.touch()
        os.utime(at, (1000 - age, 1000 - age))
    path.with_name("bends.db.saved.3.part").touch()
    assert [each.name for each in copies_beside(path)] == ["bends.db.saved.1", "bends.db.layout1.2"]


def test_a_back_up_put_in_the_stores_place_is_the_store_again(path, begun, tmp_path, a_bend):
    """Restore: the card died; the back-up's file is put where the store lay."""
    with Log.open(path) as log:
        before = [replace(each.record) for each in log.bends()]
        knowledge = learned(log, simulated=False).dump()
    copy = backup(path, tmp_path / "copy.db")
    with Store.open(path) as store:
        store.append(a_bend(bend=31)).result()
    shutil.rmtree(path.parent)
    path.parent.mkdir()
    shutil.copyfile(copy, path)
    with Store.open(path) as store, Log.open(path) as log:
        assert log.check() == []
        assert [each.record for each in log.bends()] == before
        assert learned(log, simulated=False).dump() == knowledge
        assert log.unfinished("gate", simulated=False).record == begun
        store.append(a_bend(bend=32)).result()
    assert bends_in(path) == [*range(1, MANY + 1), 32]


def test_an_older_back_up_says_what_was_logged_after_it(path, begun, tmp_path, a_bend):
    copy = backup(path, tmp_path / "copy.db")
    with Store.open(path) as store:
        store.append(a_bend(bend=31)).result()
    shutil.copyfile(copy, path)
    with Log.open(path) as log:
        (told,) = log.check()
    assert told.startswith("the store once held bend row 31 and now ends at 30")
