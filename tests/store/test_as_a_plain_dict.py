"""Whatever is done to two stores, they say what a plain dict says."""

import tempfile
from dataclasses import replace
from pathlib import Path

from hypothesis import given, settings
from hypothesis import strategies as st

from benchmate.store import Log, Store, merge

STEPS = st.lists(
    st.one_of(
        st.tuples(st.just("append"), st.integers(0, 1), st.integers(0, 1)),
        st.tuples(st.just("amend"), st.integers(0, 1), st.integers(0, 30)),
        st.tuples(st.just("withdraw"), st.integers(0, 1), st.integers(0, 30)),
        st.tuples(st.just("merge"), st.integers(0, 1), st.just(0)),
    ),
    max_size=10,
)


class Plain:
    """What a store is to say, kept as row id -> (bend, version, row id)."""

    def __init__(self):
        self.rows = {}

    def put(self, row_id, bend):
        same = (row for row in self.rows.values() if row[0].bend_id == bend.bend_id)
        version = 1 + max((version for _, version, _ in same), default=0)
        self.rows[row_id] = (bend, version, row_id)

    def newest(self):
        found = {}
        for bend, version, row_id in self.rows.values():
            if (version, row_id) > found.get(bend.bend_id, (None, 0, ""))[1:]:
                found[bend.bend_id] = (bend, version, row_id)
        return {bend_id: bend for bend_id, (bend, _, _) in found.items()}


@settings(max_examples=12, deadline=None)
@given(steps=STEPS)
def test_two_stores_say_what_two_dicts_say(a_bend_always, memory, steps):
    with tempfile.TemporaryDirectory(dir=memory) as folder:
        paths = [Path(folder) / "a.db", Path(folder) / "b.db"]
        stores = [Store.open(path) for path in paths]
        plain = [Plain(), Plain()]
        try:
            for word, at, number in steps:
                known = list(plain[at].newest().values())
                if word == "append":
                    bend = a_bend_always(simulated=bool(number))
                elif word == "merge":
                    new = plain[1 - at].rows.keys() - plain[at].rows.keys()
                    assert merge(stores[at], paths[1 - at]).bends == len(new)
                    plain[at].rows |= plain[1 - at].rows
                    continue
                elif not known:
                    continue
                elif word == "amend":
                    bend = known[number % len(known)]
                    hit = replace(bend.hits[0], measured=60.0 + number)
                    bend = replace(bend, note=bend.note + "m", hits=(hit,))
                else:
                    bend = replace(known[number % len(known)], withdrawn=True)
                plain[at].put(stores[at].append(bend).result().row_id, bend)
            for path, dict_says in zip(paths, plain, strict=True):
                with Log.open(path) as log:
                    said = list(log.bends(withdrawn=True))
                    assert {each.record.bend_id: each.record for each in said} == dict_says.newest()
                    assert [each.seq for each in said] == sorted({each.seq for each in said})
                    assert log.last_seq() == len(dict_says.rows)
                    for simulated in (True, False):
                        kept = {each.record.bend_id for each in log.bends(simulated=simulated)}
                        assert kept == {
                            bend.bend_id
                            for bend in dict_says.newest().values()
                            if bend.simulated is simulated and not bend.withdrawn
                        }
                    assert log.check() == []
        finally:
            for store in stores:
                store.close()
