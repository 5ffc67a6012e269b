"""Whatever a bench can measure and a person can write comes back, and its digest holds."""

import sqlite3

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmate.store import BendRecord, HitRecord, hash_chain, rows
from benchmate.store.integrity import stored
from benchmate.store.record import Stamp
from benchmate.store.schema import VERSION, make_tables

ANGLES = st.floats(-720, 720, allow_subnormal=True)
TEXTS = st.text(st.characters(exclude_categories=["Cs"]), max_size=60)
NUMBERS = st.integers() | st.floats(allow_nan=False, allow_infinity=False)
PLAIN = st.recursive(
    st.none() | st.booleans() | NUMBERS | TEXTS,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(TEXTS, inner, max_size=3),
    max_leaves=8,
)
HITS = st.builds(
    HitRecord,
    stop_angle=ANGLES,
    stop_sd=st.floats(0, 720),
    peak=ANGLES,
    rest=st.none() | ANGLES,
    measured=st.none() | ANGLES,
    how_measured=st.sampled_from([None, "protractor", "digital level", "sensor"]),
)
BENDS = st.builds(
    BendRecord,
    bend_id=st.uuids().map(str),
    job=TEXTS,
    bend=st.integers(1, 100_000),
    die=TEXTS,
    tube=TEXTS,
    lot=TEXTS,
    bend_angle=st.floats(0, 720),
    tolerance=st.floats(0, 360),
    hits=st.lists(HITS, max_size=4).map(tuple),
    verdict=st.sampled_from(["accept", "again", "over", "measure"]),
    setup=st.dictionaries(TEXTS, PLAIN, max_size=3),
    sensor=st.dictionaries(TEXTS, PLAIN, max_size=3),
    faults=st.lists(TEXTS, max_size=3).map(tuple),
    withdrawn=st.booleans(),
    simulated=st.booleans(),
    note=TEXTS,
    run=st.just("") | st.uuids().map(str),
    drawn_angle=st.none() | st.floats(0, 720),
    came_to=st.none() | ANGLES,
    came_to_sd=st.none() | st.floats(0, 720),
    notes=st.lists(TEXTS, max_size=3).map(tuple),
    trace=st.binary(max_size=200),
)
STAMP = Stamp(
    row_id="r" * 36,
    origin="o" * 36,
    origin_seq=1,
    layout=VERSION,
    wall_s=1.7e9,
    clock_synchronised=False,
    boot_id="b",
    monotonic_s=5.0,
)


@pytest.fixture(scope="module")
def memory_store():
    connection = sqlite3.connect(":memory:", isolation_level=None)
    make_tables(connection)
    yield connection
    connection.close()


@settings(max_examples=150, deadline=None)
@given(bend=BENDS)
def test_a_bend_comes_back_and_its_digest_holds(memory_store, bend):
    memory_store.execute("BEGIN")
    try:
        row = rows.bend_row(bend, STAMP, 1, None) | {"seq": 1, "place": 1}
        hash_chain.append(memory_store, "bend", row, rows.hit_rows(bend))
        (found,) = stored(memory_store, "bend")
        assert found.vouched("bend")
        assert rows.logged_bend(found.row, found.hits).record == bend
    finally:
        memory_store.execute("ROLLBACK")


@settings(max_examples=60, deadline=None)
@given(bend=BENDS, data=st.data())
def test_no_byte_of_a_row_can_change_without_its_digest(memory_store, bend, data):
    row = rows.bend_row(bend, STAMP, 1, None) | {"seq": 1, "place": 1, "previous": bytes(32)}
    hits = rows.hit_rows(bend)
    said = rows.digest("bend", row, hits)
    name = data.draw(st.sampled_from(sorted(row.keys() - {"layout"})))
    value = row[name]
    other = {
        str: lambda: value + "x",
        bytes: lambda: value + b"x",
        int: lambda: value + 1,
        float: lambda: value + 1.0 + abs(value),
        type(None): lambda: "r" * 36,
    }[type(value)]()
    assert rows.digest("bend", row | {name: other}, hits) != said
    assert rows.digest("bend", row, [*hits, (1.0, 1.0, 1.0, None, None, None)]) != said
