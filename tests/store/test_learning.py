from dataclasses import replace

import numpy as np
import pytest

from benchmate.shop.parts import Bench, Die, Tube
from benchmate.springback import Knowledge, Springback
from benchmate.springback.prior import Setup
from benchmate.store import HitRecord, Log, Store, learning
from benchmate.store.learning import as_bend, before_each, learned, learned_as_of, model_for


@pytest.fixture
def many(a_bend):
    """Give twenty bends of one setup, each a little different."""
    return [
        a_bend(
            bend=n + 1,
            bend_angle=30.0 + 5 * n,
            hits=(
                HitRecord(
                    stop_angle=33.0 + 5.2 * n,
                    stop_sd=0.5,
                    peak=33.1 + 5.2 * n,
                    rest=32.0 + 5.1 * n,
                    measured=30.1 + 5.05 * n if n % 3 == 0 else None,
                ),
            ),
        )
        for n in range(20)
    ]


@pytest.fixture
def close_snapshots(monkeypatch):
    monkeypatch.setattr(learning, "EVERY", 2)


def put(store, bends):
    for receipt in [store.append(bend) for bend in bends]:
        receipt.result()


def same(one: Knowledge, other: Knowledge) -> bool:
    return one.dump() == other.dump()


def folded_anew(log, monkeypatch, *, simulated=False):
    with monkeypatch.context() as patch:
        patch.setattr(Log, "cached", lambda self, name: None)
        return learned(log, simulated=simulated)


def test_a_logged_bend_becomes_what_the_model_learns_from(store, path, a_bend):
    bend = a_bend(
        hits=(
            HitRecord(stop_angle=93.4, stop_sd=0.6, peak=93.0, rest=90.9),
            HitRecord(stop_angle=94.0, stop_sd=0.2, peak=94.1, rest=91.8, measured=90.0),
        )
    )
    store.append(bend).result()
    with Log.open(path) as log:
        (logged,) = log.bends()
    learnt = as_bend(logged)
    assert isinstance(learnt.bench, Bench)
    assert isinstance(learnt.die, Die)
    assert isinstance(learnt.tube, Tube)
    assert learnt.tube.yield_strength_mpa == 280.0
    assert (learnt.lot, learnt.bend_angle) == ("A", 90.0)
    assert learnt.hits == ((93.0, 90.9, None), (94.1, 91.8, 90.0))
    assert learnt.stop_angles == (93.4, 94.0)


@pytest.mark.parametrize(
    ("facts", "sd"),
    [
        ({"chip": "adxl345", "peak_and_rest_sd_deg": 0.31}, 0.31),
        ({"chip": "lsm6dso"}, None),
        ({"peak_and_rest_sd_deg": "0.3"}, None),
        ({"peak_and_rest_sd_deg": -1}, None),
    ],
)
def test_how_far_the_sensor_may_stray_goes_along(store, path, a_bend, facts, sd):
    store.append(replace(a_bend(), sensor=facts)).result()
    with Log.open(path) as log:
        (logged,) = log.bends()
        assert as_bend(logged).arm_sd == sd


@pytest.mark.parametrize(
    "said",
    [
        {"withdrawn": True},
        {"faults": ("sensor: cable off",)},
        {"setup": {}},
        {"setup": {"bench": {}, "die": {}, "tube": {}}},
        {"verdict": "measure", "hits": ()},
    ],
)
def test_what_is_no_good_bend_teaches_nothing(store, path, a_bend, said):
    bend = replace(a_bend(), **said)
    store.append(bend).result()
    with Log.open(path) as log:
        (logged,) = log.bends(withdrawn=True)
        assert as_bend(logged) is None
        assert learned(log, simulated=False).bends == 0


def test_rehearsals_never_teach_a_real_setup(store, path, many):
    put(store, [replace(bend, simulated=True) for bend in many])
    with Log.open(path) as log:
        assert learned(log, simulated=False).bends == 0
        assert learned(log, simulated=True).bends == 20


def test_the_log_teaches_as_the_bends_do_in_memory(store, path, many):
    put(store, many)
    with Log.open(path) as log:
        bends = [as_bend(logged) for logged in log.bends()]
        first = bends[0]
        from_log = model_for(log, first.bench, first.die, first.tube, "A", simulated=False)
    in_memory = Springback(first.bench, first.die, first.tube, lot="A").learn(bends)
    ours, theirs = (model.aim(60.0, 0.5) for model in (from_log, in_memory))
    assert ours == theirs
    assert ours.sd < Springback(first.bench, first.die, first.tube, lot="A").aim(60.0, 0.5).sd


def test_going_on_from_a_snapshot_is_the_fold_from_the_start(
    store, path, many, close_snapshots, monkeypatch
):
    with Log.open(path) as before:
        learned(before, simulated=False, store=store)
    for upto in (7, 8, 15, 20):
        with Log.open(path) as log:
            put(store, many[log.last_seq() : upto])
            assert same(learned(log, simulated=False, store=store), folded_anew(log, monkeypatch))


def count_folded(monkeypatch):
    folded = []
    real = Knowledge.learn
    monkeypatch.setattr(
        Knowledge, "learn", lambda self, s, bend: folded.append(bend) or real(self, s, bend)
    )
    return folded


def test_only_the_bends_after_the_snapshot_are_folded(
    store, path, many, close_snapshots, monkeypatch
):
    put(store, many[:19])
    with Log.open(path) as log:
        learned(log, simulated=False, store=store)
        store.cache("done", 0, b"").result()
        folded = count_folded(monkeypatch)
        learned(log, simulated=False)
    assert len(folded) == 1


@pytest.mark.usefixtures("close_snapshots")
@pytest.mark.parametrize(
    ("place", "correction"),
    [(1, "amended"), (4, "withdrawn"), (10, "withdrawn"), (16, "amended"), (20, "withdrawn")],
)
def test_a_correction_is_learned_from_an_older_snapshot(
    store, many, monkeypatch, place, correction
):
    put(store, many)
    with Log.open(store.path) as log:
        before = learned(log, simulated=False, store=store)
        bend = many[place - 1]
        hit = replace(bend.hits[-1], measured=bend.bend_angle + 0.4)
        change = {"amended": {"hits": (hit,)}, "withdrawn": {"withdrawn": True}}[correction]
        store.append(replace(bend, **change)).result()
        anew = folded_anew(log, monkeypatch)
        folded = count_folded(monkeypatch)
        now = learned(log, simulated=False)
        assert same(now, anew)
        assert not same(now, before)
        # Back to a snapshot before it, at most about as far again as the bend lies behind.
        assert len(folded) <= 3 * (20 - place) + 4


def test_a_snapshot_of_other_sums_or_damaged_is_passed_over(
    store, path, many, close_snapshots, monkeypatch
):
    put(store, many)
    with Log.open(path) as log:
        good = learned(log, simulated=False, store=store)
        for slot in range(4):
            cached = log.cached(f"knowledge/real/{slot}")
            if cached:
                seq, blob = cached
                spoilt = blob[:20] if slot % 2 else b"BMK1" + bytes(40)
                store.cache(f"knowledge/real/{slot}", seq, spoilt).result()
        assert same(learned(log, simulated=False), good)
        monkeypatch.setattr(Knowledge, "VERSION", 99)
        assert np.allclose(learned(log, simulated=False).mean, good.mean, rtol=0, atol=0)


def test_a_snapshot_from_rows_that_are_gone_is_passed_over(
    path, many, close_snapshots, monkeypatch
):
    with Store.open(path) as store:
        put(store, many[:9])
        with Log.open(path) as log:
            learned(log, simulated=False, store=store)
            store.cache("done", 0, b"").result()
            seq, blob = log.cached("knowledge/real/2")
        store.cache("knowledge/real/2", seq + 50, blob).result()
        with Log.open(path) as log:
            assert same(learned(log, simulated=False), folded_anew(log, monkeypatch))


def test_a_reader_keeps_snapshots_after_a_long_fold_when_nobody_writes(
    path, many, close_snapshots, monkeypatch
):
    monkeypatch.setattr(learning, "LONG_FOLD", 10)
    with Store.open(path) as store, Log.open(path) as log:
        put(store, many)
        once = learned(log, simulated=False)
        assert log.cached_heads("knowledge/", 4) == []
    with Log.open(path) as log:
        assert same(learned(log, simulated=False), once)
        assert log.cached_heads("knowledge/", 4)
        folded = count_folded(monkeypatch)
        assert same(learned(log, simulated=False), once)
        assert folded == []


def test_snapshots_spread_out_with_age(store, path, many, close_snapshots):
    put(store, many)
    with Log.open(path) as log:
        learned(log, simulated=False, store=store)
        store.cache("done", 0, b"").result()
        slots = [log.cached(f"knowledge/real/{slot}") for slot in range(6)]
        places = sorted(learning._place(blob) for _, blob in filter(None, slots))
    assert places == [8, 16, 18, 20]


def test_each_bend_comes_with_what_those_before_it_taught(
    store, path, many, monkeypatch, close_snapshots
):
    put(store, many)
    with Log.open(path) as log:
        learned(log, simulated=False, store=store)
        store.append(replace(many[3], withdrawn=True)).result()
        whole = list(before_each(log, withdrawn=False))
        assert [logged.record.bend for logged, _ in whole] == [n for n in range(1, 21) if n != 4]
        assert same(whole[0][1], Knowledge())
        for number, (_, knowledge) in enumerate(whole[1:], 1):
            taught = Knowledge()
            for logged, _ in whole[:number]:
                taught = taught.learn(setup_of(as_bend(logged)), as_bend(logged))
            assert same(knowledge, taught)


def test_the_last_bends_come_with_the_same_as_among_all(store, path, many, close_snapshots):
    put(store, [replace(bend, simulated=n % 4 == 0) for n, bend in enumerate(many)])
    with Log.open(path) as log:
        learned(log, simulated=False, store=store)
        learned(log, simulated=True, store=store)
        whole = list(before_each(log, withdrawn=False))
        last = list(before_each(log, withdrawn=False, last=5))
        since = list(before_each(log, withdrawn=True, since=17))
    assert [logged.seq for logged, _ in last] == [logged.seq for logged, _ in whole[-5:]]
    for (_, one), (_, other) in zip(last, whole[-5:], strict=True):
        assert same(one, other)
    assert {logged.seq for logged, _ in since} >= {17, 18, 19, 20}
    for (_, one), (_, other) in zip(since[-4:], whole[-4:], strict=True):
        assert same(one, other)


@pytest.mark.parametrize("snapshots", [True, False])
def test_what_a_run_began_with_is_learned_again_bit_for_bit(
    store, path, many, close_snapshots, snapshots
):
    then = {}
    with Log.open(path) as log:
        for bend in many[:12]:
            put(store, [bend])
            kept = store if snapshots else None
            then[log.last_seq()] = learned(log, simulated=False, store=kept)
            store.cache("done", 0, b"").result()
        # Later: an old bend is corrected, another taken back, a new one made.
        measured = replace(many[2].hits[0], measured=40.4)
        put(store, [replace(many[2], hits=(measured,)), replace(many[5], withdrawn=True), many[12]])
        learned(log, simulated=False, store=store)
        store.cache("done", 0, b"").result()
        for seq, knowledge in then.items():
            assert same(learned_as_of(log, seq, simulated=False), knowledge)
            anew = Knowledge()
            for logged in log.bends_as_of(seq, simulated=False):
                anew = anew.learn(setup_of(as_bend(logged)), as_bend(logged))
            assert same(anew, knowledge)
        assert learned_as_of(log, 0, simulated=False).bends == 0


def setup_of(bend):
    return Setup(bend.bench, bend.die, bend.tube, bend.lot)
