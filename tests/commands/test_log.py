import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import pytest

from benchmate.bench.guide import Guide, Wanted
from benchmate.bench.trace import Segment, pack
from benchmate.bench.tracker import Track
from benchmate.cli import main
from benchmate.store import BendRecord, HitRecord, Log, Store

HIT = HitRecord(stop_angle=93.4, stop_sd=0.6, peak=93.5, rest=91.2)


def bend(bend_id: str, **said) -> BendRecord:
    plain = {
        "bend_id": bend_id,
        "job": "gate",
        "bend": 1,
        "die": "four-inch",
        "tube": "rail-25",
        "lot": "A",
        "bend_angle": 90.0,
        "tolerance": 0.5,
        "hits": (HIT,),
        "verdict": "accept",
        "setup": {"bench": {"bench": "east-wall"}},
    }
    return BendRecord(**(plain | said))


@pytest.fixture
def path(tmp_path) -> Path:
    path = tmp_path / "bends.db"
    with Store.open(path) as store:
        store.append(bend("aaaa1111-1"))
        store.append(bend("bbbb2222-2", bend=2, job="\x1b]0;gate\x07", simulated=True))
        store.append(bend("cccc3333-3", bend=3, withdrawn=True)).result()
    return path


@pytest.fixture
def log(path, capsys):
    """Run ``benchmate log ...`` on the store; give status, output and errors."""

    def run(*words: str) -> tuple[int, str, str]:
        status = main(["--store", str(path), "log", *words])
        said = capsys.readouterr()
        return status, said.out, said.err

    return run


def test_the_list_shows_bends_oldest_first(log):
    status, out, err = log()
    assert (status, err) == (0, "")
    head, first, second, _, key = out.splitlines()
    assert head.split()[:5] == ["no.", "when", "job", "and", "bend"]
    assert first.split()[0] == "1"
    assert "93.5" in first
    assert second.endswith("accept r")
    assert key == "r: rehearsal"
    assert "\x1b" not in out
    assert "\x07" not in out


def test_withdrawn_bends_are_shown_when_asked_for(log):
    *_, third, _, key = log("--all")[1].splitlines()
    assert third.endswith("accept w")
    assert key == "r: rehearsal, w: withdrawn"
    assert "withdrawn" not in log()[1]
    assert len(log("--all", "--last", "1")[1].splitlines()) == 4
    assert log("--last", "0")[0] == 2


def test_the_list_fits_eighty_columns(log):
    lines = log("--all")[1].splitlines()
    assert max(map(len, lines)) <= 80


def test_json_is_an_object_a_bend_with_the_keys_promised(log):
    lines = log("--json")[1].splitlines()
    first, second = map(json.loads, lines)
    promised = (
        *("id", "seq", "job", "bend", "die", "tube", "lot", "bend_angle", "hits", "measured"),
        "simulated",
    )
    assert set(promised) <= first.keys()
    assert (first["id"], first["seq"], first["measured"]) == ("aaaa1111-1", 1, None)
    assert (first["hits"][0]["stop_angle"], first["hits"][0]["peak"]) == (93.4, 93.5)
    assert first["hits"][0]["rest"] == 91.2
    assert (first["simulated"], second["simulated"]) == (False, True)


def test_a_store_that_is_not_there_has_no_bends(tmp_path, capsys):
    assert main(["--store", str(tmp_path / "none.db"), "log"]) == 0
    assert "no bends are logged" in capsys.readouterr().out
    assert main(["--store", str(tmp_path / "none.db"), "log", "--json"]) == 0
    assert capsys.readouterr().out == ""
    assert list(tmp_path.iterdir()) == []


def test_amend_keeps_a_new_version_that_counts(log, path):
    status, out, _ = log("amend", "aaaa", "--measured", "89.7", "--how", "digital level")
    assert status == 0
    assert "measured 89.7 deg by digital level" in out
    first = json.loads(log("--json")[1].splitlines()[0])
    assert (first["measured"], first["seq"], first["version"]) == (89.7, 1, 2)
    with Log.open(path) as opened:
        before, now = (each.record for each in opened.history("aaaa1111-1"))
    assert before.hits[0].measured is None
    assert now == replace(before, hits=now.hits)
    assert now.hits[0].how_measured == "digital level"


@pytest.mark.parametrize(
    "words",
    [("nan",), ("-3",), ("400",), ("inf",), ("90", "--hit", "2"), ("90", "--hit", "0")],
)
def test_amend_refuses_what_is_no_angle_or_no_hit(log, path, words):
    assert log("amend", "1", "--measured", *words)[0] == 2
    with Log.open(path) as opened:
        assert opened.last_seq() == 3


def test_amend_makes_no_store_where_there_is_none(tmp_path, capsys):
    status = main(["--store", str(tmp_path / "x" / "s.db"), "log", "amend", "1", "--measured", "9"])
    assert status == 2
    assert "no bend 1 is logged here" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_withdraw_takes_a_bend_out_of_the_list_and_keeps_it(log):
    assert log("withdraw", "1")[0] == 0
    assert [json.loads(line)["seq"] for line in log("--json")[1].splitlines()] == [2]
    assert "withdrawn" in log("show", "1")[1]
    assert log("withdraw", "1")[0] == 2


def test_a_bench_that_is_writing_is_named(log, path):
    with Store.open(path):
        for words in (("amend", "1", "--measured", "90"), ("withdraw", "1")):
            status, _, err = log(*words)
            assert status == 1
            assert "is writing this store" in err
        assert log()[0] == 0


def test_show_gives_every_version(log):
    log("amend", "1", "--measured", "89.7")
    out = log("show", "aaaa")[1]
    assert "bend 1 of gate: 90.00 deg" in out
    assert "hit 1: to stop at 93.40 (sd 0.60), peak 93.50, rest 91.20, measured 89.70" in out
    assert out.count("  version ") == 2
    whole = json.loads(log("show", "aaaa", "--json")[1])
    assert whole["setup"] == {"bench": {"bench": "east-wall"}}


def test_show_lets_no_escape_through(log):
    assert "\x1b" not in log("show", "2")[1]
    status, _, err = log("show", "\x1b[2J")
    assert status == 2
    assert "\x1b" not in err


def test_export_writes_csv_or_json_lines(log, tmp_path):
    rows = list(csv.DictReader(io.StringIO(log("export")[1])))
    assert [row["seq"] for row in rows] == ["1", "2"]
    target = tmp_path / "bends.jsonl"
    assert log("export", "--all", "--format", "jsonl", "-o", str(target)) == (0, "", "")
    assert len(target.read_text().splitlines()) == 3


def test_merge_and_backup(log, path, tmp_path, capsys):
    copy = tmp_path / "stick.db"
    assert log("backup", str(copy))[0] == 0
    other = ["--store", str(tmp_path / "new" / "bends.db"), "log"]
    assert main([*other, "merge", str(copy)]) == 0
    assert "merged 3 rows of bends" in capsys.readouterr().out
    assert main([*other, "merge", str(copy)]) == 0
    assert "3 were here already" in capsys.readouterr().out
    assert log("merge", str(path))[0] == 2
    assert log("merge", str(tmp_path / "none.db"))[0] == 2


def test_salvage_saves_into_a_new_store(log, path, tmp_path):
    content = path.read_bytes().replace(b'"east-wall"', b'"west-wall"', 1)
    path.write_bytes(content)
    new = tmp_path / "saved.db"
    status, out, _ = log("salvage", str(new))
    assert status == 1
    assert "saved 2 rows of bends" in out
    assert "lost: bend row" in out
    assert log("salvage", str(new))[0] == 2


def test_replay_says_whether_the_hits_come_out_again(log, path):
    empty = pack([Segment(Track(follows_tube=True), Guide(), Wanted(93.4, 95.0))])
    with Store.open(path) as store:
        store.append(bend("dddd4444-4", trace=empty))
        store.append(bend("eeee5555-5", trace=b"junk")).result()
    status, _, err = log("replay", "dddd")
    assert status == 1
    assert "does not give the hits that were logged" in err
    assert log("replay", "eeee")[0] == 2
    status, _, err = log("replay", "aaaa")
    assert status == 1
    assert "logged without a trace" in err


def test_a_damaged_store_is_said_in_a_sentence(log, path):
    path.write_bytes(b"no database" * 1000)
    for words in ((), ("show", "1"), ("amend", "1", "--measured", "90"), ("export",)):
        status, _, err = log(*words)
        assert status == 1
        assert "not a database" in err
        assert len(err.splitlines()) == 1
