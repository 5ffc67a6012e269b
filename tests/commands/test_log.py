import csv
import io
import json
from dataclasses import replace
from pathlib import Path

import msgspec
import pytest

from benchmate.bench.motion.cue import Guide, Wanted
from benchmate.bench.motion.trace import Segment, pack
from benchmate.bench.motion.tracker import Track
from benchmate.cli import main
from benchmate.places import starter_shop
from benchmate.shop import Shop
from benchmate.store import BendRecord, HitRecord, Log, RunInput, RunRecord, Store

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


def rows(out: str) -> list[str]:
    """Give the lines of the list's bends."""
    return out.split("\n\n", maxsplit=1)[0].splitlines()[1:]


def test_the_list_shows_bends_oldest_first(log):
    status, out, err = log()
    assert (status, err) == (0, "")
    assert out.split()[:5] == ["no.", "when", "job", "and", "bend"]
    first, second = rows(out)
    assert first.split()[0] == "1"
    assert second.endswith(" r")
    assert "r: a rehearsal: teaches no real setup" in out
    assert "\x1b" not in out
    assert "\x07" not in out


def test_withdrawn_bends_are_shown_when_asked_for(log):
    out = log("--all")[1]
    assert rows(out)[-1].endswith(" w")
    assert "w: withdrawn: teaches nothing" in out
    assert "w: " not in log()[1]
    assert "numbers left out are of withdrawn bends: --all shows them" in log()[1]
    assert "numbers left out" not in out
    assert len(rows(log("--all", "--last", "1")[1])) == 1
    assert log("--last", "0")[0] == 2


def test_numbers_run_without_gaps_and_name_the_bends_of_the_list(log, path):
    log("amend", "1", "--measured", "89.7")
    with Store.open(path) as store:
        store.append(bend("dddd4444-4", job="fence")).result()
    assert [row.split()[0] for row in rows(log("--all")[1])] == ["1", "2", "3", "4"]
    assert "(fence, bend 1)" in log("show", "4")[1]
    numbered = [json.loads(line) for line in log("--json", "--all")[1].splitlines()]
    assert [each["number"] for each in numbered] == [1, 2, 3, 4]
    assert [each["seq"] for each in numbered] == [1, 2, 3, 5]


def test_a_number_means_the_same_bend_after_corrections_withdrawals_and_a_merge(
    log, path, tmp_path
):
    def named() -> list[str]:
        whole = (log("show", str(number), "--json")[1] for number in (1, 2, 3))
        return [json.loads(each)["id"] for each in whole]

    before = named()
    log("amend", "1", "--measured", "89.7")
    log("withdraw", "2")
    with Store.open(tmp_path / "other.db") as store:
        store.append(bend("0000aaaa-0")).result()
    log("merge", str(tmp_path / "other.db"))
    assert named() == before


@pytest.mark.parametrize("number", ["0", "4", "99"])
def test_a_number_past_the_list_is_refused_with_what_there_is(log, number):
    status, _, err = log("withdraw", number)
    assert status == 2
    assert f"no bend {number} is logged here; they are 1 to 3" in err


def test_what_is_done_to_a_bend_names_it_by_job_as_well(log):
    assert "bend 1 of the log (gate, bend 1) is withdrawn" in log("withdraw", "1")[1]


def test_the_list_fits_eighty_columns(log, path, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    worst = {"job": "a-job-with-a-long-name", "bend": 12, "faults": ("x",), "withdrawn": True}
    far = replace(HIT, peak=200.0, measured=103.2, how_measured="protractor")
    with Store.open(path) as store:
        store.append(bend("ffff6666-6", **worst, hits=(far,) * 12, simulated=True)).result()
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
    assert now == replace(before, hits=now.hits, came_to=89.7, came_to_sd=now.came_to_sd)
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
    assert "bend 1 of the log (gate, bend 1) to 90.00 deg" in out
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
    assert log("back-up", str(copy))[0] == 0
    other = ["--store", str(tmp_path / "new" / "bends.db"), "log"]
    assert main([*other, "merge", str(copy)]) == 0
    assert "merged: 3 bends new here; 0 bends were here already" in capsys.readouterr().out
    assert main([*other, "merge", str(copy)]) == 0
    assert "merged: 0 bends new here; 3 bends were here already" in capsys.readouterr().out
    assert log("merge", str(path))[0] == 2
    assert log("merge", str(tmp_path / "none.db"))[0] == 2


def test_rescue_saves_into_a_new_store(log, path, tmp_path):
    copy = tmp_path / "stick.db"
    log("back-up", str(copy))
    path.write_bytes(path.read_bytes().replace(b'"east-wall"', b'"west-wall"', 1))
    new = tmp_path / "new.db"
    status, out, _ = log("rescue", str(new))
    assert status == 1
    assert "saved 2 rows of bends, 0 runs and 0 findings" in out
    assert "lost: bend row" in out
    assert log("rescue", str(new))[0] == 2
    status, out, _ = log("rescue", str(tmp_path / "whole.db"), "--copy", str(copy))
    assert status == 0
    assert "saved 3 rows of bends" in out
    assert f"read too: {copy}" in out
    assert log("rescue", str(tmp_path / "x.db"), "--copy", str(tmp_path / "none.db"))[0] == 2


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


SHOP = Shop.open(starter_shop())
REAL = {
    "job": "knee",
    "die": "round-25-r75",
    "tube": "e235-25x2",
    "bend_angle": 34.0,
    "setup": {
        "bench": msgspec.to_builtins(SHOP.bench),
        "die": msgspec.to_builtins(SHOP.die("round-25-r75")),
        "tube": msgspec.to_builtins(SHOP.tube("e235-25x2")),
    },
}


def pressed(*hits: tuple[float, float | None, float | None]) -> tuple[HitRecord, ...]:
    return tuple(
        HitRecord(
            stop_angle=peak,
            stop_sd=0.6,
            peak=peak,
            rest=rest,
            measured=measured,
            how_measured=None if measured is None else "protractor",
        )
        for peak, rest, measured in hits
    )


@pytest.fixture
def knee(path):
    """The three bends and a fourth, to 34 degrees, whose arm went to 37.4 and rested at 36.0."""
    with Store.open(path) as store:
        store.append(bend("dddd4444-4", **REAL, hits=pressed((37.4, 36.0, None)))).result()


@pytest.mark.parametrize("measured", ["340", "43", "38.5"])
def test_a_reading_that_no_tube_can_have_is_refused(log, path, knee, measured):
    for words in ((), ("--sure",)):
        status, _, err = log("amend", "4", "--measured", measured, *words)
        assert status == 2
        assert "the arm went no further than 37.4 deg" in err
    with Log.open(path) as opened:
        assert opened.bend(4).version == 1


@pytest.mark.parametrize("measured", ["20", "3.4"])
def test_a_reading_that_is_hard_to_believe_is_kept_only_when_sure(log, path, knee, measured):
    status, _, err = log("amend", "4", "--measured", measured)
    assert status == 2
    assert "hard to believe: the bend should have come to 3" in err
    assert "--sure" in err
    assert log("amend", "4", "--measured", measured, "--sure")[0] == 0
    with Log.open(path) as opened:
        assert opened.bend(4).version == 2


def test_a_reading_that_can_be_is_kept_and_told_with_what_it_comes_to(log, knee):
    status, out, _ = log("amend", "4", "--measured", "34.3 deg")
    assert status == 0
    assert "measured 34.3 deg by protractor" in out
    assert "came to 34.3 deg, give or take 0.2: in tolerance (tolerance 0.5 deg)" in out


def test_where_a_fault_may_have_hidden_how_far_the_arm_went_sure_is_enough(log, path):
    faulty = bend("eeee5555-5", **REAL, hits=pressed((20.0, None, None)), faults=("no answer",))
    with Store.open(path) as store:
        store.append(faulty).result()
    assert log("amend", "4", "--measured", "33.8")[0] == 2
    assert log("amend", "4", "--measured", "33.8", "--sure")[0] == 0
    assert "came to 33.8 deg" in log("show", "4")[1]


@pytest.mark.parametrize(
    ("verdict", "came", "result"),
    [
        ("accept", 34.2, "good"),
        ("over", 35.1, "1.1 over"),
        ("again", 32.6, "1.4 short"),
        ("measure", 34.1, "unsure"),
        # The row's verdict is shown even where one would work out another.
        ("over", 34.4, "0.4 over"),
        ("accept", 34.6, "good"),
    ],
)
def test_the_list_says_what_each_bend_came_to(log, path, verdict, came, result):
    hits = pressed((37.4, 36.0, 34.0))
    kept = bend("dddd4444-4", **REAL, hits=hits, verdict=verdict, came_to=came, came_to_sd=0.1)
    with Store.open(path) as store:
        store.append(kept).result()
    out = log()[1]
    cells = rows(out)[-1].split()
    assert cells[7:9] == [f"{came}", "0.2"]
    assert " ".join(cells[9:]) == f"{result} m"
    assert "m: measured by a person" in out
    assert "came to: the bend angle as judged" in out


def test_a_bend_that_nobody_can_judge_is_told_so(log, path):
    with Store.open(path) as store:
        hits = pressed((36.0, None, None))
        store.append(bend("dddd4444-4", **REAL, hits=hits, verdict="measure")).result()
        store.append(bend("eeee5555-5", **REAL, hits=(), verdict="measure")).result()
    out = log()[1]
    *_, unsure, unknown = rows(out)
    assert unsure.endswith("unsure")
    assert unknown.split()[-2:] == ["-", "-"]
    assert "unsure: measure it" in out
    assert "what it came to is not known" in log("show", "5")[1]


DRAWN = {**REAL, "bend_angle": 40.375, "drawn_angle": 40.0, "tolerance": 0.75}


@pytest.mark.parametrize(
    ("measured", "verdict", "result"),
    [
        ("39.2", "again", "0.8 short"),
        ("39.25", "accept", "good"),
        ("40.0", "accept", "good"),
        ("40.75", "accept", "good"),
        ("40.9", "over", "0.9 over"),
    ],
)
def test_a_measured_angle_is_judged_by_the_drawing_in_every_reader(
    log, path, measured, verdict, result
):
    with Store.open(path) as store:
        store.append(
            bend("dddd4444-4", **DRAWN, hits=pressed((43.9, 42.2, None)), verdict="accept")
        ).result()
    assert log("amend", "4", "--measured", measured)[0] == 0
    row = rows(log()[1])[-1]
    assert row.split()[5] == "40.0"
    assert row.removesuffix(" m").rstrip().endswith(result)
    listed = json.loads(log("--json")[1].splitlines()[-1])
    exported = list(csv.DictReader(io.StringIO(log("export")[1])))[-1]
    lines = json.loads(log("export", "--format", "jsonl")[1].splitlines()[-1])
    shown = json.loads(log("show", "4", "--json")[1])
    for told in (listed, exported, lines, shown):
        assert told["verdict"] == verdict
    assert (listed["drawn_angle"], listed["bend_angle"]) == (40.0, 40.375)
    assert f"verdict: {verdict}" in log("show", "4")[1]
    assert "from the drawing's 40.00" in log("show", "4")[1]


def test_an_angle_measured_after_an_earlier_hit_leaves_the_verdict(log, path):
    hits = pressed((35.4, 34.0, None), (36.9, 35.5, None))
    with Store.open(path) as store:
        store.append(bend("dddd4444-4", **REAL, hits=hits, verdict="accept", came_to=34.1)).result()
    assert log("amend", "4", "--measured", "32.6", "--hit", "1")[0] == 0
    told = json.loads(log("--json")[1].splitlines()[-1])
    assert (told["verdict"], told["came_to"], told["measured"]) == ("accept", 34.1, 32.6)


def test_each_bend_is_judged_by_those_before_it_whichever_are_shown(log, path):
    with Store.open(path) as store:
        for number in range(12):
            hits = pressed((37.4, 36.0, 34.2 if number % 2 else None))
            store.append(bend(f"f{number:07}-4", **REAL, hits=hits)).result()
    whole = rows(log()[1])
    assert rows(log("--last", "3")[1]) == whole[-3:]
    sds = [float(row.split()[8]) for row in whole[2::2]]
    assert sds[0] > 2 * sds[-1]


PLAN = {
    "cut_length_mm": 1423.9,
    "bends": [
        {"bend": 1, "mark_mm": 251.3, "turn_deg": 0.0},
        {"bend": 2, "mark_mm": 612.8, "turn_deg": -45.0},
        {"bend": 3, "mark_mm": 990.0, "turn_deg": 30.0},
    ],
}


@pytest.fixture
def parts(path):
    """Two parts: one finished with its second bend skipped, one left after its first hit."""
    with Store.open(path) as store:
        for number, kinds in enumerate(
            (("zero", "begun", "hit", "next", "skip", "zero", "begun", "hit", "next", "finished"),
             ("zero", "begun", "hit")), 1,
        ):  # fmt: skip
            run = RunRecord(
                run_id=f"{number:036}", job="rack", first_bend=1, simulated=number == 2,
                setup={}, job_file={}, plan=PLAN, learned_to=0,
            )  # fmt: skip
            store.begin_run(run)
            for at, kind in enumerate(kinds, 1):
                store.keep_input(RunInput(run_id=run.run_id, number=at, kind=kind, payload={}))
        made = {"job": "rack", "run": f"{1:036}"}
        store.append(bend("r1", **made, came_to=89.8, came_to_sd=0.1))
        store.append(bend("r2", **made, bend=3, verdict="over", came_to=90.9)).result()


def test_the_runs_are_told_with_their_first_plan_and_what_became_of_each_bend(log, parts):
    status, out, err = log("runs")
    assert (status, err) == (0, "")
    first, one, two, three, second, *open_ones = out.splitlines()
    assert first.endswith("rack: finished, 2 of 3 bends done")
    planned = "bend 1 mark 251.3 mm turn 0.0 deg"
    assert " ".join(one.split()) == f"{planned} done no. 4: came to 89.8 deg, good"
    assert " ".join(two.split()) == "bend 2 mark 612.8 mm turn -45.0 deg skipped"
    assert three.endswith("done     no. 5: came to 90.9 deg, 0.9 over")
    assert second.endswith("rack: unfinished, 0 of 3 bends done, a rehearsal")
    assert [line.split()[-1] if "open" in line else "to do" for line in open_ones] == [
        "open", "to do", "to do",
    ]  # fmt: skip
    assert max(map(len, out.splitlines())) <= 100


def test_the_runs_as_json_have_the_keys_promised(log, parts):
    one, two = (json.loads(line) for line in log("runs", "--json")[1].splitlines())
    assert (one["id"], one["job"], one["finished"]) == (f"{1:036}", "rack", True)
    assert (two["finished"], two["simulated"], two["dropped"]) == (False, True, False)
    assert one["begun"].endswith("Z")
    assert [each["state"] for each in one["bends"]] == ["done", "skipped", "done"]
    assert [each["state"] for each in two["bends"]] == ["open", "to do", "to do"]
    kept = {"bend": 2, "state": "skipped", "mark_mm": 612.8, "turn_deg": -45.0, "logged": []}
    assert one["bends"][1] == kept
    listed = [json.loads(line) for line in log("--json")[1].splitlines()]
    assert [each["run"] for each in listed] == ["", "", f"{1:036}", f"{1:036}"]
    assert len(log("runs", "--json", "--last", "1")[1].splitlines()) == 1


def test_a_log_without_runs_says_so(log):
    assert "no runs are logged" in log("runs")[1]
    assert log("runs", "--json") == (0, "", "")
    assert log("runs", "--last", "0")[0] == 2
