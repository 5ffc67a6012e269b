"""The run of a part and its inputs are kept as bends are: in order, durable, once, for good."""

import sqlite3
import uuid
from dataclasses import replace

import pytest

from benchmate.errors import Failure
from benchmate.store import Log, RowRefused, RunInput, RunRecord, Store, merge
from benchmate.store.backup import backup
from benchmate.store.runs import that_count

PLAN = {"cut_length_mm": 1423.9, "bends": [{"bend": 1, "mark_mm": 251.3, "turn_deg": 0.0}]}


@pytest.fixture
def a_run(a_bend):
    def make(**said):
        plain = {
            "run_id": str(uuid.uuid4()),
            "job": "gate",
            "first_bend": 1,
            "simulated": False,
            "setup": a_bend().setup,
            "job_file": {"job": "gate", "tolerance": 0.5},
            "plan": PLAN,
            "learned_to": 0,
        }
        return RunRecord(**(plain | said))

    return make


def inputs_of(run, *kinds, first=1):
    return [
        RunInput(run_id=run.run_id, number=number, kind=kind, payload={"peak": 93.5 + number})
        for number, kind in enumerate(kinds, first)
    ]


def put(store, run, *kinds):
    promises = [store.begin_run(run), *map(store.keep_input, inputs_of(run, *kinds))]
    return [promise.result() for promise in promises]


def test_a_run_comes_back_with_its_inputs_in_order(store, path, a_run):
    run = a_run()
    assert put(store, run, "zero", "begun", "hit") == [1, 1, 2, 3]
    with Log.open(path) as log:
        (kept,) = log.runs()
        assert log.check() == []
    assert kept.record == run
    assert kept.inputs == tuple(inputs_of(run, "zero", "begun", "hit"))
    assert (kept.bench, kept.row_seq, kept.stamp.origin) == ("east-wall", 1, store.store_id)


def test_a_run_says_when_its_newest_input_was_kept(store, path, a_run):
    run = a_run()
    put(store, run, "zero")
    with Log.open(path) as log:
        (kept,) = log.runs()
    assert kept.monotonic_s > kept.stamp.monotonic_s
    assert (kept.wall_s, kept.clock_synchronised, kept.boot_id) == (1.7e9, True, "b1")


@pytest.mark.parametrize(
    ("kinds", "unfinished"),
    [
        ((), False),
        (("zero",), False),
        (("zero", "turned", "marked"), False),
        (("zero", "begun"), True),
        (("zero", "begun", "hit"), True),
        (("zero", "begun", "broken", "undo"), True),
        (("skip",), True),
        (("zero", "begun", "hit", "next", "finished"), False),
        (("zero", "begun", "hit", "dropped"), False),
    ],
)
def test_a_run_is_unfinished_once_the_tube_is_bent_until_it_is_done_or_dropped(
    store, path, a_run, kinds, unfinished
):
    run = a_run()
    put(store, run, *kinds)
    with Log.open(path) as log:
        found = log.unfinished("gate", simulated=False)
        assert (found is not None) == unfinished
        assert log.unfinished("gate", simulated=True) is None
        assert log.unfinished("rack", simulated=False) is None


def test_only_the_newest_run_of_a_job_can_be_unfinished(store, path, a_run):
    put(store, a_run(), "zero", "begun")
    newest = a_run()
    put(store, newest, "zero", "begun", "finished")
    put(store, a_run(job="rack"), "zero", "begun")
    with Log.open(path) as log:
        assert log.unfinished("gate", simulated=False) is None
        assert log.unfinished("rack", simulated=False).record.job == "rack"


def test_the_runs_of_a_job_are_given_oldest_first(store, path, a_run):
    made = [a_run(), a_run(job="rack"), a_run(simulated=True), a_run()]
    for run in made:
        put(store, run)
    with Log.open(path) as log:
        assert [each.record for each in log.runs()] == made
        assert [each.record for each in log.runs("gate")] == [made[0], made[2], made[3]]
        assert [each.record for each in log.runs("gate", simulated=True)] == [made[2]]


def test_a_run_and_an_input_sent_again_are_kept_once(store, path, a_run):
    run = a_run()
    first = put(store, run, "zero", "begun")
    assert put(store, run, "zero", "begun") == first
    with Log.open(path) as log:
        assert [each.kind for each in log.runs()[0].inputs] == ["zero", "begun"]


def test_an_input_whose_forerunner_is_missing_waits_for_it(store, path, a_run):
    run = a_run()
    zero, begun = inputs_of(run, "zero", "begun")
    assert "the run itself isn't kept" in str(store.keep_input(zero).exception())
    store.begin_run(run).result()
    failure = store.keep_input(begun).exception()
    assert isinstance(failure, Failure)
    assert not isinstance(failure, RowRefused)
    assert "number 1 is due" in str(failure)
    store.keep_input(zero).result()
    store.keep_input(begun).result()
    with Log.open(path) as log:
        assert len(log.runs()[0].inputs) == 2


@pytest.mark.parametrize("done_anyway", [True, False])
def test_an_input_is_kept_once_when_its_commits_fate_is_unknown(
    path, times, failing, a_run, done_anyway
):
    plan, connect = failing
    run = a_run()
    with Store.open(path, times=times, connect=connect) as store:
        store.begin_run(run).result()
        plan.append(("COMMIT", done_anyway))
        assert [store.keep_input(each).result() for each in inputs_of(run, "zero")] == [1]
        assert plan == []
    with Log.open(path) as log:
        assert len(log.runs()[0].inputs) == 1
        assert log.check() == []


@pytest.mark.parametrize(
    "payload", [{"peak": float("nan")}, {"what": object()}, {"long": "x" * 2_000_000}]
)
def test_what_can_never_be_kept_is_told_apart_from_a_disk_that_fails(store, a_run, payload):
    run = a_run()
    store.begin_run(run).result()
    wrong = RunInput(run_id=run.run_id, number=1, kind="hit", payload=payload)
    assert isinstance(store.keep_input(wrong).exception(), RowRefused)
    # Nothing of it stays, and the next one is kept.
    store.keep_input(replace(wrong, payload={})).result()


@pytest.mark.parametrize(
    "said", [{"run_id": "short"}, {"first_bend": 0}, {"job": "x" * 201}, {"learned_to": -1}]
)
def test_a_run_that_breaks_a_limit_is_refused(store, a_run, said):
    assert isinstance(store.begin_run(a_run(**said)).exception(), RowRefused)


@pytest.mark.parametrize(
    "way",
    [
        "UPDATE run SET job = 'rack'",
        "DELETE FROM run",
        "UPDATE run_input SET kind = 'undo'",
        "DELETE FROM run_input WHERE seq = 2",
        "REPLACE INTO run_input SELECT * FROM run_input WHERE seq = 1",
    ],
)
def test_nothing_of_a_run_is_changed_or_removed(store, path, raw, a_run, way):
    put(store, a_run(), "zero", "begun")
    with pytest.raises(sqlite3.IntegrityError):
        raw().execute(way)


def test_a_bend_names_the_run_that_made_it(store, path, a_run, a_bend):
    run = a_run()
    put(store, run)
    store.append(a_bend(run=run.run_id)).result()
    with Log.open(path) as log:
        assert [each.record.run for each in log.bends()] == [run.run_id]


def test_runs_go_along_in_a_merge_and_are_no_unfinished_work_there(store, path, a_run, tmp_path):
    theirs = tmp_path / "theirs.db"
    run = a_run()
    with Store.open(theirs) as other:
        put(other, run, "zero", "begun", "hit")
    done = merge(store, theirs)
    assert (done.new_runs, done.there) == (1, 0)
    again = merge(store, theirs)
    assert (again.new_runs, again.there) == (0, 4)
    with Log.open(path) as log:
        (kept,) = log.runs()
        assert log.check() == []
        # The tube lies on the other bench.
        assert log.unfinished("gate", simulated=False) is None
    assert (kept.record, kept.stamp.origin) == (run, other.store_id)
    assert [each.kind for each in kept.inputs] == ["zero", "begun", "hit"]


def test_a_run_that_two_copies_of_a_store_went_on_with_reads_the_same_in_both(
    path, a_run, tmp_path
):
    run = a_run()
    with Store.open(path) as store:
        put(store, run, "zero", "begun")
    copy = backup(path, tmp_path / "copy.db")
    for where, kinds in ((path, ("hit", "next")), (copy, ("hit", "again", "undo"))):
        with Store.open(where) as store:
            for each in inputs_of(run, *kinds, first=3):
                store.keep_input(replace(each, payload={"at": str(where)})).result()
    with Store.open(path) as store:
        merge(store, copy)
    with Store.open(copy) as store:
        merge(store, path)
    for where in (path, copy):
        with Log.open(where) as log:
            (kept,) = log.runs()
            assert log.check() == []
        assert [each.kind for each in kept.inputs] == ["zero", "begun", "hit", "again", "undo"]
        assert {str(each.payload.get("at")) for each in kept.inputs[2:]} == {str(copy)}
    # It goes on behind the inputs that count.
    with Store.open(path) as store:
        store.keep_input(inputs_of(run, "finished", first=6)[0]).result()
    with Log.open(path) as log:
        assert log.runs()[0].finished


def test_inputs_that_lead_nowhere_are_left_out():
    rows = [
        {"row_id": "a", "number": 1, "follows": None},
        {"row_id": "c", "number": 3, "follows": "b"},
        {"row_id": "d", "number": 2, "follows": "d"},
        {"row_id": "e", "number": 7, "follows": "a"},
        {"row_id": "f", "number": 2, "follows": "a"},
        {"row_id": "g", "number": 2, "follows": "a"},
    ]
    assert [each["row_id"] for each in that_count(rows)] == ["a", "g"]
    assert that_count(rows[1:2]) == []
