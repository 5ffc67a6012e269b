"""How many tubes of a job are made and how many are scrap, by its runs."""

import uuid

from benchmate.store import Log, RunInput, RunRecord
from benchmate.store.tubes_made import TubesMade, tubes_made

WHOLE = ("zero", "begun", "hit", "next", "finished")


def run_of(store, a_bend, *kinds, verdict="accept", job="gate", length=1423.9):
    run_id = str(uuid.uuid4())
    bend = a_bend(bend_id=str(uuid.uuid4()), run=run_id, job=job, verdict=verdict)
    run = RunRecord(
        run_id=run_id,
        job=job,
        first_bend=1,
        simulated=False,
        setup=bend.setup,
        job_file={},
        plan={"cut_length_mm": length},
        learned_to=0,
    )
    inputs = [
        RunInput(run_id=run_id, number=number, kind=kind, payload={})
        for number, kind in enumerate(kinds, 1)
    ]
    promises = [store.begin_run(run), *map(store.keep_input, inputs)]
    if "hit" in kinds:
        promises.append(store.append(bend))
    for promise in promises:
        promise.result()


def counted(path, **how):
    with Log.open(path) as log:
        return tubes_made(log, **how)


def test_a_finished_run_is_a_tube_made(store, path, a_bend):
    run_of(store, a_bend, *WHOLE)
    run_of(store, a_bend, *WHOLE, length=1424.5)
    made = counted(path)["gate"]
    assert (made.made, made.scrapped) == (2, 0)
    assert made.last_plan == {"cut_length_mm": 1424.5}


def test_an_over_bent_tube_is_scrap_and_not_made(store, path, a_bend):
    run_of(store, a_bend, *WHOLE, verdict="over")
    run_of(store, a_bend, *WHOLE)
    made = counted(path)["gate"]
    assert (made.made, made.scrapped) == (1, 1)


def test_a_tube_left_with_a_bend_begun_is_scrap_and_one_only_zeroed_is_none(store, path, a_bend):
    run_of(store, a_bend, "zero", "begun", "hit", "dropped")
    run_of(store, a_bend, "zero", "dropped", job="rail")
    made = counted(path)
    assert (made["gate"].made, made["gate"].scrapped, made["gate"].last_dropped) == (0, 1, True)
    assert "rail" not in made


def test_a_tube_still_in_work_counts_as_neither(store, path, a_bend):
    run_of(store, a_bend, "zero", "begun", "hit")
    assert counted(path) == {}


def test_rehearsals_count_for_themselves(store, path, a_bend):
    run_of(store, a_bend, *WHOLE)
    assert counted(path, simulated=True) == {}
    assert counted(path, job="gate")["gate"].made == 1
    assert counted(path, job="fence").get("gate", TubesMade()).made == 0
