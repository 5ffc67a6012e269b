"""The store's files are their owner's alone, and still the ones that were opened."""

import os
import shutil
import stat
from contextlib import suppress
from pathlib import Path

import pytest

from benchmate.errors import Failure
from benchmate.files import write_whole
from benchmate.store import Log, Store, database
from benchmate.store.backup import backup


@pytest.fixture(params=[0o000, 0o022, 0o077, 0o277])
def umask(request):
    before = os.umask(request.param)
    yield request.param
    os.umask(before)


def modes(folder):
    return {
        each.relative_to(folder).as_posix(): stat.S_IMODE(each.stat().st_mode)
        for each in folder.rglob("*")
    }


def test_files_are_0600_and_folders_0700_whatever_the_umask(tmp_path, a_bend, umask):
    path = tmp_path / "a" / "b" / "bends.db"
    with Store.open(path) as store:
        store.append(a_bend()).result()
        open_files = modes(tmp_path)
    backup(path, path.with_name("copy.db"))
    write_whole(path.with_name("bends.csv"), ["no.,job\n"])
    found = open_files | modes(tmp_path)
    assert {"a", "a/b", "a/b/bends.db", "a/b/bends.db-wal", "a/b/bends.db.tail"} <= found.keys()
    for name, mode in found.items():
        assert mode == (0o700 if (tmp_path / name).is_dir() else 0o600), name


def test_a_file_that_was_there_keeps_its_mode(tmp_path):
    path = tmp_path / "bends.csv"
    path.write_text("old")
    path.chmod(0o664)
    write_whole(path, ["new"])
    assert (path.read_text(), stat.S_IMODE(path.stat().st_mode)) == ("new", 0o664)


def everything(folder: Path) -> dict[str, bytes]:
    return {each.name: each.read_bytes() for each in folder.iterdir()}


def test_reading_leaves_no_file_behind(kept):
    before = everything(kept.parent)
    with Log.open(kept) as log:
        assert len(list(log.bends())) == 2
        assert log.check() == []
    assert everything(kept.parent) == before


def test_a_reader_that_leaves_takes_nothing_from_the_writer(kept, a_bend):
    log = Log.open(kept)
    list(log.bends())
    with Store.open(kept) as store:
        store.append(a_bend(bend=7)).result()
        log.close()
        store.append(a_bend(bend=8)).result()
    with Log.open(kept) as log:
        assert [each.record.bend for each in log.bends()] == [1, 2, 7, 8]
        assert log.check() == []


def bends_in(path):
    with Log.open(path) as log:
        assert log.check() == []
        return [each.record.bend for each in log.bends()]


def with_log(path):
    return [each for each in path.parent.iterdir() if each.name.startswith(path.name)]


def test_a_store_deleted_under_its_writer_is_said_and_put_back(path, a_bend):
    with Store.open(path) as store:
        for bend in (1, 2):
            store.append(a_bend(bend=bend)).result()
        for each in with_log(path):
            each.unlink()
        third = a_bend(bend=3)
        with pytest.raises(Failure, match=r"was deleted or moved away .* it was put back with all"):
            store.append(third).result()
        store.append(third).result()
    assert bends_in(path) == [1, 2, 3]


def test_a_store_deleted_together_with_its_folder_is_said_until_there_is_a_place(path, a_bend):
    with Store.open(path) as store:
        store.append(a_bend(bend=1)).result()
        shutil.rmtree(path.parent)
        second = a_bend(bend=2)
        with pytest.raises(Failure, match=r"deleted or moved away .* can't be saved"):
            store.append(second).result()
        path.parent.mkdir()
        with pytest.raises(Failure, match="put back"):
            store.append(second).result()
        store.append(second).result()
    assert bends_in(path) == [1, 2]


def test_a_store_moved_away_goes_on_in_its_place(path, a_bend):
    with Store.open(path) as store:
        store.append(a_bend(bend=1)).result()
        path.rename(path.with_name("elsewhere.db"))
        second = a_bend(bend=2)
        with pytest.raises(Failure, match="put back"):
            store.append(second).result()
        store.append(second).result()
    assert bends_in(path) == [1, 2]


def test_another_store_put_in_its_place_is_never_written(path, a_bend, tmp_path):
    other = tmp_path / "other.db"
    with Store.open(other) as store:
        store.append(a_bend(bend=50)).result()
    second = a_bend(bend=2)
    with Store.open(path) as store:
        store.append(a_bend(bend=1)).result()
        other.rename(path)
        for _ in range(2):
            with pytest.raises(Failure, match=r"another file was put .* is saved as bends\.db\."):
                store.append(second).result()
        (saved,) = path.parent.glob("bends.db.saved.*")
        assert bends_in(path) == [50]
        # What was called logged is safe; the person puts it back, and the bench goes on.
        shutil.copy(saved, path.with_name("right.db"))
        path.with_name("right.db").rename(path)
        with pytest.raises(Failure, match="another file was put"):
            store.append(second).result()
    assert bends_in(saved) == [1]


def test_a_lost_log_costs_no_row(path, a_bend):
    with Store.open(path) as store:
        store.append(a_bend(bend=1)).result()
        path.with_name("bends.db-wal").unlink()
        path.with_name("bends.db-shm").unlink()
        store.append(a_bend(bend=2)).result()
        shutil.copy(path, path.with_name("as a cut leaves it.db"))
        store.append(a_bend(bend=3)).result()
    assert bends_in(path.with_name("as a cut leaves it.db")) == [1, 2]
    assert bends_in(path) == [1, 2, 3]


@pytest.mark.parametrize("size", [0, 4096, 10_000])
def test_a_store_cut_short_is_said_and_written_no_more(path, a_bend, size):
    with Store.open(path) as store:
        store.append(a_bend(bend=1)).result()
        mark = path.with_name("bends.db.tail")
        while not mark.exists() or " bend 1 " not in mark.read_text():
            pass  # Behind the receipt the row is moved to the main file, and then marked.
        os.truncate(path, size)
        for _ in range(2):
            with pytest.raises(Failure, match=rf"was cut from \d+ to {size} bytes .* log rescue"):
                store.append(a_bend(bend=2)).result()
    assert path.stat().st_size == size


def test_a_store_found_damaged_is_written_no_more(path, a_bend):
    with Store.open(path) as store:
        for bend in range(1, 9):
            store.append(a_bend(bend=bend, trace=bytes(6000))).result()
    whole = path.read_bytes()
    # The pages of the rows; what opening reads is left.
    path.write_bytes(whole[:4096] + os.urandom(len(whole) - 4096))
    before = path.read_bytes()
    with suppress(Failure), Store.open(path) as store:
        for _ in range(2):
            with pytest.raises(Failure, match="damaged"):
                store.append(a_bend(bend=9)).result()
    assert path.read_bytes() == before


def test_a_store_that_may_only_be_read_is_refused_at_once(kept, monkeypatch):
    real = database._connect
    monkeypatch.setattr(database, "_connect", lambda path, mode: real(path, "mode=ro"))
    before = kept.read_bytes()
    with pytest.raises(Failure, match="may not be written"):
        Store.open(kept)
    assert kept.read_bytes() == before
