import threading
import uuid
from dataclasses import replace

import pytest

from benchmate.errors import Failure, Refusal
from benchmate.store import HitRecord, Log, Store
from benchmate.store.database import for_writing


def test_a_bend_reads_back_as_it_was_written(store, path, a_bend):
    bend = a_bend(
        hits=(
            HitRecord(stop_angle=93.4, stop_sd=0.61, peak=92.9, rest=90.0),
            HitRecord(
                stop_angle=94.1,
                stop_sd=0.2,
                peak=94.05,
                rest=None,
                measured=89.9,
                how_measured="digital level",
            ),
        ),
        faults=("bus: cable off for 0.4 s",),
        note="said = \u00fcber \u2713",
        trace=bytes(range(256)),
        simulated=True,
    )
    receipt = store.append(bend).result()
    with Log.open(path) as log:
        (logged,) = log.bends()
    assert logged.record == bend
    assert (logged.seq, logged.row_seq, logged.version, logged.corrects) == (1, 1, 1, None)
    assert (receipt.bend_id, receipt.row_id, receipt.seq) == (bend.bend_id, logged.row_id, 1)
    assert logged.bench == "east-wall"


def test_a_row_says_when_and_where_it_was_written(store, path, a_bend):
    store.append(a_bend()).result()
    with Log.open(path) as log:
        (logged,) = log.bends()
    stamp = logged.stamp
    assert (stamp.origin, stamp.origin_seq) == (store.store_id, 1)
    assert (logged.wall_s, logged.clock_synchronised) == (1.7e9, True)
    assert (stamp.boot_id, stamp.monotonic_s) == ("b1", 1.0)
    assert uuid.UUID(stamp.row_id).version == 4


def test_a_second_row_of_a_bend_replaces_the_first_and_keeps_it(store, path, a_bend):
    first, other = a_bend(), a_bend(bend=2)
    store.append(first)
    store.append(other)
    amended = replace(first, hits=(replace(first.hits[0], measured=89.7),))
    store.append(amended).result()
    with Log.open(path) as log:
        assert [each.record for each in log.bends()] == [amended, other]
        assert [each.seq for each in log.bends()] == [1, 2]
        versions = log.history(first.bend_id)
        assert [each.record for each in versions] == [first, amended]
        assert versions[1].corrects == versions[0].row_id
        assert [each.record for each in log.bends(since_seq=2)] == [amended]
        assert list(log.bends(since_seq=3)) == []
        assert log.last_seq() == 3
        assert log.oldest_changed(2, 3) == 1
        assert log.oldest_changed(3, 3) is None


def test_rehearsals_and_withdrawn_bends_are_told_apart(store, path, a_bend):
    real, rehearsed, taken_back = a_bend(), a_bend(simulated=True), a_bend(withdrawn=True)
    for bend in (real, rehearsed, taken_back):
        store.append(bend).result()
    with Log.open(path) as log:
        assert [each.record for each in log.bends()] == [real, rehearsed]
        assert [each.record for each in log.bends(simulated=True)] == [rehearsed]
        assert [each.record for each in log.bends(simulated=False)] == [real]
        assert len(list(log.bends(withdrawn=True))) == 3


def test_a_bend_is_found_by_number_id_or_beginning(store, path, a_bend):
    bends = [a_bend(bend_id=f"{head}-1") for head in ("abcd11", "abcd22", "77777777")]
    for bend in bends:
        store.append(bend).result()
    with Log.open(path) as log:
        assert log.bend(2).record == bends[1]
        assert log.bend("1").record == bends[0]
        assert log.bend("abcd2").record == bends[1]
        assert log.bend("77777777").record == bends[2]
        with pytest.raises(Refusal, match="several bends begin with abcd"):
            log.bend("abcd")
        for unknown in ("9", "zz", "", "%", "\x1b[2J"):
            with pytest.raises(Refusal, match="is logged here") as told:
                log.bend(unknown)
            assert "\x1b" not in str(told.value)


def test_more_bends_than_a_page_come_in_order_each_with_its_hits(store, path, a_bend, monkeypatch):
    monkeypatch.setattr("benchmate.store.reader._PAGE", 5)
    peaks = [float(n) for n in range(21)]
    for peak in peaks:
        hit = HitRecord(stop_angle=90, stop_sd=1, peak=peak, rest=None)
        receipt = store.append(a_bend(hits=(hit,)))
    receipt.result()
    monkeypatch.setattr("benchmate.store.reader._PAGE_WITH_TRACES", 3)
    with Log.open(path) as log:
        found = list(log.bends(traces=False))
        assert [each.seq for each in log.bends()] == [each.seq for each in found]
    assert [each.seq for each in found] == list(range(1, 22))
    assert [each.record.hits[0].peak for each in found] == peaks
    assert found[0].record.trace == b""


@pytest.mark.parametrize(
    ("said", "words"),
    [
        ({"bend_angle": float("nan")}, "bend_angle is nan"),
        ({"tolerance": float("inf")}, "tolerance is inf"),
        ({"bend_angle": 1000.0}, "bend_angle"),
        ({"verdict": "fine"}, "verdict"),
        ({"bend": 0}, "bend BETWEEN"),
        ({"job": "x" * 201}, "job"),
        ({"job": "\ud800"}, "surrogates"),
        ({"setup": {"radius": float("nan")}}, "setup is no plain data"),
        ({"sensor": {"chip": object()}}, "sensor is no plain data"),
    ],
)
def test_what_is_no_bend_is_not_kept_and_the_next_one_is(store, path, a_bend, said, words):
    with pytest.raises(Failure, match=words):
        store.append(a_bend(**said)).result()
    store.append(a_bend()).result()
    with Log.open(path) as log:
        assert len(list(log.bends())) == 1
        assert log.check() == []


@pytest.mark.parametrize("angle", ["stop_angle", "stop_sd", "peak", "rest", "measured"])
@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf"), 1e4])
def test_no_hit_with_an_angle_that_is_none_gets_in(store, path, a_bend, angle, value):
    hit = replace(HitRecord(stop_angle=90, stop_sd=1, peak=90, rest=88), **{angle: value})
    with pytest.raises(Failure, match=angle):
        store.append(a_bend(hits=(hit,))).result()
    with Log.open(path) as log:
        assert list(log.bends(withdrawn=True)) == []


def test_a_trace_too_large_is_left_out_rather_than_the_bend(store, path, a_bend):
    store.append(a_bend(trace=bytes(16 * 1024 * 1024 + 1))).result()
    with Log.open(path) as log:
        (logged,) = log.bends()
    assert logged.record.trace == b""
    assert "too large" in logged.record.note


def test_the_caller_never_waits_for_the_disk(path, a_bend):
    gate = threading.Event()

    class Slow:
        def __init__(self, real):
            self.real = real

        def execute(self, statement, *values):
            if statement == "COMMIT" and self.real.in_transaction:
                gate.wait(10)
            return self.real.execute(statement, *values)

        def __getattr__(self, name):
            return getattr(self.real, name)

    gate.set()
    with Store.open(path, connect=lambda at: Slow(for_writing(at))) as store:
        gate.clear()
        receipts = [store.append(a_bend()) for _ in range(3)]
        assert not any(receipt.done() for receipt in receipts)
        gate.set()
        assert [receipt.result().seq for receipt in receipts] == [1, 2, 3]


def test_a_row_is_in_the_main_file_soon_after(path, a_bend):
    store = Store.open(path)
    store.append(a_bend()).result()
    # A later job waits for the checkpoint of the one before.
    store.cache("nothing", 0, b"").result()
    log = path.with_name("bends.db-wal")
    assert log.stat().st_size < 4096 * 8
    store.close()
    assert not log.exists()


def test_closing_writes_what_is_queued_and_refuses_what_comes_after(path, a_bend):
    store = Store.open(path)
    receipts = [store.append(a_bend()) for _ in range(5)]
    store.close()
    store.close()
    assert [receipt.result().seq for receipt in receipts] == [1, 2, 3, 4, 5]
    with pytest.raises(Failure, match="the store is closed"):
        store.append(a_bend()).result()


def test_the_latest_finding_of_a_key_counts(store, path):
    assert store.keep("mount", "east-wall", {"normal": [0.0, 1.0, 0.0]}).result() == 1
    assert store.keep("mount", "west-wall", {"normal": [1.0, 0.0, 0.0]}).result() == 2
    assert store.keep("mount", "east-wall", {"normal": [0.0, 0.0, 1.0]}).result() == 3
    with Log.open(path) as log:
        assert log.finding("mount", "east-wall") == {"normal": [0.0, 0.0, 1.0]}
        assert set(log.findings("mount")) == {"east-wall", "west-wall"}
        assert log.finding("mount", "loft") is None
        assert log.findings("trial") == {}
        assert log.check() == []


def test_the_cache_is_replaced(store, path):
    store.cache("knowledge", 3, b"old").result()
    store.cache("knowledge", 9, b"new").result()
    with Log.open(path) as log:
        assert log.cached("knowledge") == (9, b"new")
        assert log.cached("other") is None


def test_a_store_that_is_not_there_reads_as_empty_and_stays_away(path):
    with Log.open(path) as log:
        assert list(log.bends()) == []
        assert log.findings("mount") == {}
        assert log.cached("knowledge") is None
        assert log.last_seq() == 0
        assert log.check() == []
        with pytest.raises(Refusal):
            log.bend(1)
    assert not path.parent.exists()


def test_a_reader_sees_rows_while_the_writer_goes_on(store, path, a_bend):
    store.append(a_bend()).result()
    with Log.open(path) as log:
        reading = log.bends()
        next(reading)
        store.append(a_bend()).result()
        assert len(list(log.bends())) == 2
