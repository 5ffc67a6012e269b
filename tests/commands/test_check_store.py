"""``benchmate check --store``: all that the store holds, and its copy on a second medium."""

import json
import os
import uuid
from pathlib import Path

import pytest

from benchmate.bench.motion.cue import Guide, Wanted
from benchmate.bench.motion.trace import Segment, pack
from benchmate.bench.motion.tracker import Track
from benchmate.cli import main
from benchmate.store import BendRecord, HitRecord, Log, RunInput, RunRecord, Store, merge
from benchmate.store.backup import backup

EMPTY = pack([Segment(Track(follows_tube=True), Guide(), Wanted(93.4, 95.0))])
HIT = HitRecord(stop_angle=93.4, stop_sd=0.6, peak=93.5, rest=91.2)
BENCH = "bench: shed\nsensor: {chip: lsm6dso}\narm: {radius: 80 mm}\n"


def bend(**said) -> BendRecord:
    plain = {
        "bend_id": str(uuid.uuid4()),
        "job": "gate",
        "bend": 1,
        "die": "d",
        "tube": "t",
        "lot": "",
        "bend_angle": 90.0,
        "tolerance": 0.5,
        "hits": (),
        "verdict": "accept",
        "setup": {},
        "trace": EMPTY,
    }
    return BendRecord(**(plain | said))


@pytest.fixture
def shop(tmp_path) -> Path:
    folder = tmp_path / "shop"
    folder.mkdir()
    (folder / "bench.yaml").write_text(BENCH)
    return folder


@pytest.fixture
def path(tmp_path) -> Path:
    path = tmp_path / "bends.db"
    with Store.open(path) as store:
        store.append(bend())
        store.append(bend(trace=b"")).result()
    return path


@pytest.fixture
def check(shop, path, capsys, monkeypatch):
    """Run ``benchmate check --store``; give the status and the findings but for the machine's."""
    monkeypatch.setattr("benchmate.checks.disk._mounts", lambda _: [])

    def run(*words: str) -> tuple[int, list[str]]:
        asked = ["--shop", str(shop), "--store", str(path), "check", *(words or ("--store",))]
        status = main(asked)
        out = capsys.readouterr().out.splitlines()
        named = ("store", "runs", "traces")
        return status, [line for line in out if line.split()[1].rstrip(":") in named]

    return run


def test_a_whole_store_is_told_with_what_it_holds(check, path):
    before = path.read_bytes()
    status, told = check()
    assert status == 0
    assert told == [
        f"works    store: {path}, 2 bends, every row as it was written",
        "works    runs: 0 with 0 inputs, each behind the one before it",
        "works    traces: 1 give the hits that were logged; 1 were logged without one",
    ]
    assert path.read_bytes() == before


def test_a_trace_that_cannot_be_read_is_wrong_and_one_that_gives_other_hits_is_noted(check, path):
    with Store.open(path) as store:
        store.append(bend(trace=b"junk"))
        store.append(bend(hits=(HIT,))).result()
    status, told = check()
    assert status == 1
    assert [line.split()[0] for line in told] == ["works", "works", "wrong", "note", "works"]
    assert told[2].startswith("wrong    traces: bend 3 of the log: ")
    assert "bend 4 of the log: its trace doesn't give the hits" in told[3]


def test_inputs_of_a_copy_that_went_on_apart_are_told(check, path, tmp_path):
    run = RunRecord(
        run_id=str(uuid.uuid4()), job="gate", first_bend=1, simulated=False, setup={},
        job_file={}, plan={}, learned_to=0,
    )  # fmt: skip

    def done(where, number, kind):
        given = RunInput(run_id=run.run_id, number=number, kind=kind, payload={"at": str(where)})
        with Store.open(where) as store:
            store.begin_run(run).result()
            store.keep_input(given).result()

    done(path, 1, "zero")
    copy = backup(path, tmp_path / "copy.db")
    done(path, 2, "begun")
    done(copy, 2, "begun")
    with Store.open(path) as store:
        merge(store, copy)
    assert check()[1][1] == (
        "note     runs: 1 with 2 inputs, each behind the one before it; 1 more are of copies that"
        " went on apart"
    )


def test_a_changed_row_is_wrong(check, path):
    path.write_bytes(path.read_bytes().replace(b"gate", b"fate", 1))
    status, told = check()
    assert status == 1
    assert any("is not what was written" in line for line in told)


@pytest.fixture
def stick(shop, tmp_path, monkeypatch) -> Path:
    """Name a folder on another disk in bench.yaml, as far as anybody can tell."""
    folder = tmp_path / "stick"
    folder.mkdir()
    (shop / "bench.yaml").write_text(f"{BENCH}store_copy: {folder}\n")
    real = os.stat

    def elsewhere(at, *args, **said):
        found = real(at, *args, **said)
        if os.fspath(at) != os.fspath(folder):
            return found
        return os.stat_result([*list(found)[:2], found.st_dev + 1, *list(found)[3:]])

    monkeypatch.setattr(os, "stat", elsewhere)
    return folder


def test_the_copy_on_the_second_medium_is_made_and_looked_at(check, shop, path, stick, capsys):
    assert "note     store copy:" in check()[1][3]
    words = ["--shop", str(shop), "--store", str(path), "log"]
    assert main([*words, "back-up"]) == 0
    assert str(stick / "shed.db") in capsys.readouterr().out
    assert check()[1][3] == f"works    store copy: {stick}, up to date"
    # What the store loses, the copy has.
    path.write_bytes(path.read_bytes().replace(b"gate", b"fate", 1))
    assert main([*words, "rescue", str(path.with_name("new.db"))]) == 0
    with Log.open(path.with_name("new.db")) as log:
        assert [each.record.job for each in log.bends()] == ["gate", "gate"]


def test_a_pulled_stick_is_wrong(check, stick):
    stick.rmdir()
    status, told = check()
    assert status == 1
    assert "is the stick plugged in?" in told[3]


def test_back_up_without_a_file_or_a_second_medium_asks_for_one(shop, path, capsys):
    assert main(["--shop", str(shop), "--store", str(path), "log", "back-up"]) == 2
    assert "store_copy in bench.yaml" in capsys.readouterr().err


def test_a_path_that_is_not_whole_is_refused_where_it_is_written(shop, path, capsys):
    (shop / "bench.yaml").write_text(f"{BENCH}store_copy: stick\n")
    assert main(["--shop", str(shop), "--store", str(path), "check", "--store", "--json"]) == 2
    assert json.loads(capsys.readouterr().out)["exit"] == 2
    main(["--shop", str(shop), "--store", str(path), "check"])
    assert "bench.yaml:4: store_copy: 'stick' is no whole path" in capsys.readouterr().out
