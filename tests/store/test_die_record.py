"""What was done to a die stands in the store's findings and is reckoned with where it was done."""

import msgspec
import pytest

from benchmate.places import starter_shop
from benchmate.shop import Shop
from benchmate.springback import Knowledge
from benchmate.springback.prior import Setup
from benchmate.store import BendRecord, HitRecord, Log, Store, merge
from benchmate.store.learning import DIE_RECORD, as_bend, learned

SHOP = Shop.open(starter_shop())
BENCH, DIE, TUBE = SHOP.bench, SHOP.die("round-25-r75"), SHOP.tube("e235-25x2")
PARTS = {"bench": BENCH, "die": DIE, "tube": TUBE}
SETUP = {name: msgspec.to_builtins(part) for name, part in PARTS.items()}


def record(number, slack=1.8, **more):
    angle = 30.0 + 7 * (number % 10)
    hit = HitRecord(
        stop_angle=angle + 4,
        stop_sd=0.3,
        peak=1.02 * angle + slack + 0.4,
        rest=angle + slack,
        measured=angle,
        how_measured="protractor",
    )
    told = {
        "bend_id": f"bend-{number}",
        "job": "j",
        "bend": 1,
        "die": DIE.die,
        "tube": TUBE.tube,
        "lot": "A",
        "bend_angle": angle,
        "tolerance": 0.5,
        "hits": (hit,),
        "verdict": "accept",
        "setup": SETUP,
    }
    return BendRecord(**told | more)


def bend(store, numbers):
    for number in numbers:
        store.append(record(number)).result()


def inspect(store, after, *, anew=True):
    told = {"what": "inspect", "bench": BENCH.bench, "after_bend": after, "learn_anew": anew}
    store.keep(DIE_RECORD, DIE.die, told).result()


def by_hand(log, loosened_at):
    """Fold the log bend by bend, loosening the die before those places."""
    known = Knowledge()
    setup = Setup(BENCH, DIE, TUBE, "A")
    for logged in log.bends(traces=False):
        if logged.seq in loosened_at:
            known = known.loosened(setup)
        known = known.learn(setup, as_bend(logged))
    return known.dump()


@pytest.fixture
def path(tmp_path):
    return tmp_path / "bends.db"


def test_the_die_is_learned_anew_from_the_next_bend_on(path):
    with Store.open(path) as store:
        bend(store, range(1, 11))
        inspect(store, "bend-10")
        bend(store, range(11, 15))
    with Log.open(path) as log:
        assert learned(log, simulated=False).dump() == by_hand(log, {11})
        assert by_hand(log, {11}) != by_hand(log, set())


def test_snapshots_on_the_way_change_nothing(path):
    with Store.open(path) as store:
        for start in range(1, 13):
            bend(store, [start])
            if start == 6:
                inspect(store, "bend-6")
            with Log.open(path) as log:
                learned(log, simulated=False, store=store)
    with Log.open(path) as log:
        assert learned(log, simulated=False).dump() == by_hand(log, {7})


def test_an_inspection_that_found_no_drift_loosens_nothing(path):
    with Store.open(path) as store:
        bend(store, range(1, 6))
        inspect(store, "bend-5", anew=False)
        bend(store, range(6, 8))
    with Log.open(path) as log:
        assert learned(log, simulated=False).dump() == by_hand(log, set())


def test_a_merged_store_brings_its_record_along(path, tmp_path):
    other = tmp_path / "other.db"
    with Store.open(other) as store:
        bend(store, range(1, 6))
        inspect(store, "bend-5")
        bend(store, range(6, 9))
    with Store.open(path) as store:
        merge(store, other)
    with Log.open(path) as log:
        assert [each.payload["after_bend"] for each in log.entries(DIE_RECORD, DIE.die)] == [
            "bend-5"
        ]
        assert learned(log, simulated=False).dump() == by_hand(log, {6})


def test_what_a_die_carried_is_told_by_setup(path):
    with Store.open(path) as store:
        bend(store, range(1, 6))
        store.append(record(6, lot="B")).result()
        store.append(record(7, withdrawn=True)).result()
        store.append(record(8, simulated=True)).result()
    with Log.open(path) as log:
        carried = log.carried(BENCH.bench, DIE.die)
    assert [(each.lot, each.bends, each.newest) for each in carried] == [("A", 5, 5), ("B", 1, 6)]
    assert carried[0].bend_angle == max(record(number).bend_angle for number in range(1, 6))
