"""A copy of the store on a second medium: whole, of this store, never of less than it has."""

import os
import shutil

import pytest

from benchmate.errors import Failure
from benchmate.store import Log, Store, second_copy
from benchmate.store.second_copy import is_behind


@pytest.fixture
def stick(tmp_path, monkeypatch):
    """Give a folder that lies on another disk, as far as anybody can tell."""
    folder = tmp_path / "stick"
    folder.mkdir()
    real = os.stat

    def elsewhere(path, *args, **said):
        found = real(path, *args, **said)
        if os.fspath(path) == os.fspath(folder):
            values = list(found)
            values[2] += 1
            return os.stat_result(values)
        return found

    monkeypatch.setattr(os, "stat", elsewhere)
    return folder


def copied(path, stick):
    return second_copy.second_copy(path, stick, "east-wall")


def bends_in(path):
    with Log.open(path) as log:
        assert log.check() == []
        return [each.record.bend for each in log.bends()]


def test_the_copy_is_a_whole_store_and_follows_the_store(store, path, stick, a_bend):
    store.append(a_bend(bend=1)).result()
    assert is_behind(path, stick, "east-wall")
    assert bends_in(copied(path, stick)) == [1]
    assert not is_behind(path, stick, "east-wall")
    store.append(a_bend(bend=2)).result()
    assert is_behind(path, stick, "east-wall")
    assert bends_in(copied(path, stick)) == [1, 2]
    assert [each.name for each in stick.iterdir()] == ["east-wall.db"]


def test_a_copy_that_is_up_to_date_is_left_alone(store, path, stick, a_bend):
    store.append(a_bend()).result()
    before = copied(path, stick).stat()
    assert copied(path, stick).stat().st_ino == before.st_ino


def test_a_stick_that_is_not_there_is_said(store, path, tmp_path, a_bend):
    store.append(a_bend()).result()
    with pytest.raises(Failure, match=r"no folder is there .* is the stick plugged in"):
        copied(path, tmp_path / "no stick")
    # The mount point alone lies on the machine's own disk.
    (tmp_path / "mount point").mkdir()
    with pytest.raises(Failure, match="on the same disk as the store"):
        copied(path, tmp_path / "mount point")
    assert list((tmp_path / "mount point").iterdir()) == []


def test_a_stick_that_fails_on_the_way_keeps_the_copy_of_before(
    store, path, stick, a_bend, monkeypatch
):
    store.append(a_bend(bend=1)).result()
    target = copied(path, stick)
    store.append(a_bend(bend=2)).result()

    def full(*_):
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr("benchmate.files.sync_file", full)
        with pytest.raises(Failure, match="No space left on device"):
            copied(path, stick)
    assert bends_in(target) == [1]
    assert bends_in(copied(path, stick)) == [1, 2]


def test_another_stores_copy_is_never_written_over(store, path, stick, a_bend, tmp_path):
    store.append(a_bend()).result()
    with Store.open(stick / "east-wall.db") as other:
        other.append(a_bend(bend=9)).result()
    with pytest.raises(Failure, match="another store, not a copy of this one"):
        copied(path, stick)
    assert bends_in(stick / "east-wall.db") == [9]


def test_a_copy_that_has_what_the_store_lost_is_never_written_over(path, stick, a_bend, tmp_path):
    with Store.open(path) as store:
        store.append(a_bend(bend=1)).result()
    shutil.copy(path, tmp_path / "old.db")
    with Store.open(path) as store:
        store.append(a_bend(bend=2)).result()
    target = copied(path, stick)
    shutil.copy(tmp_path / "old.db", path)
    with Store.open(path) as store:
        store.append(a_bend(bend=3)).result()
    with pytest.raises(Failure, match=r"holds what the store has lost .* log rescue"):
        copied(path, stick)
    assert bends_in(target) == [1, 2]


def test_a_copy_that_cannot_be_read_is_not_written_over(store, path, stick, a_bend):
    store.append(a_bend()).result()
    (stick / "east-wall.db").write_bytes(b"no database" * 1000)
    with pytest.raises(Failure, match=r"not a database|can't be read"):
        copied(path, stick)
