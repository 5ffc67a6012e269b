"""What a run will write is held against the limits of its rows before the pump moves."""

import uuid

import pytest

from benchmate.errors import Refusal
from benchmate.store import Log, RunRecord
from benchmate.store.validation import check, check_name


def a_run(**said):
    plain = {
        "run_id": str(uuid.uuid4()),
        "job": "gate",
        "first_bend": 1,
        "simulated": False,
        "setup": {},
        "job_file": {},
        "plan": {},
        "learned_to": 0,
    }
    return RunRecord(**(plain | said))


def test_what_every_bench_writes_passes(a_bend):
    check(a_run(), a_bend(), a_bend(hits=()), a_bend(lot="Röhre Nr. 7, 钢管"))


@pytest.mark.parametrize(
    ("lot", "told"),
    [
        ("x" * 201, "201 characters are too long"),
        ("A\x1b[2J", r"U\+001B in it can't be shown"),
        ("A\a", r"U\+0007"),
        ("A\nB", r"U\+000A"),
        ("\u202eA", r"U\+202E"),
        ("\ud800", r"U\+D800"),
    ],
)
def test_a_lot_that_cannot_be_logged_is_refused_and_shown_harmlessly(a_bend, lot, told):
    with pytest.raises(Refusal, match=rf"^lot '.*{told}") as refusal:
        check(a_bend(lot=lot))
    assert str(refusal.value).isprintable()


def test_the_longest_name_is_kept(store, path, a_bend):
    check_name("lot", "x" * 200)
    store.append(a_bend(lot="x" * 200)).result()
    with Log.open(path) as log:
        assert [len(each.record.lot) for each in log.bends()] == [200]


@pytest.mark.parametrize(
    "said",
    [
        {"setup": {"bench": {"note": "x" * 70_000}}},
        {"sensor": {"rate_hz": float("nan")}},
        {"bend": 100_001},
        {"bend_angle": 721.0},
        {"tolerance": -1.0},
        {"drawn_angle": float("inf")},
        {"run": "short"},
        {"bend_id": ""},
    ],
)
def test_each_limit_of_the_tables_is_asked(store, a_bend, said):
    bend = a_bend(**said)
    with pytest.raises(Refusal, match=r"could never be logged .* mend the shop's files"):
        check(bend)
    assert store.append(bend).exception() is not None


@pytest.mark.parametrize("said", [{"plan": {"x": "y" * 2_000_000}}, {"first_bend": 0}])
def test_a_run_is_checked_too(said):
    with pytest.raises(Refusal, match="gate: the run could never be logged"):
        check(a_run(**said))
