"""Lots not bent for long are set aside: nothing else changes, and a bend costs no more for them."""

from dataclasses import replace

import numpy as np
import pytest

from benchmate.springback import Knowledge, knowledge


@pytest.fixture
def two_kept(monkeypatch):
    monkeypatch.setattr(knowledge, "LOTS_KEPT", 2)


def bends_of(shop, lots):
    """One bend of each lot named, in this order, each of another angle and scatter."""
    bends = zip(shop.many(len(lots)), lots, strict=True)
    return [replace(bend, lot=lot) for bend, lot in bends]


def believed(model, lot):
    return model.knowledge.of(replace(model, lot=lot).setup)


def test_setting_a_lot_aside_leaves_all_other_belief_as_it_was(shop, monkeypatch):
    bends = bends_of(shop, "AABBCACDDCEDEE")
    all_kept = shop.model().learn(bends)
    monkeypatch.setattr(knowledge, "LOTS_KEPT", 3)
    few_kept = shop.model().learn(bends)
    for lot in "CDE":
        for ours, exact in zip(believed(few_kept, lot), believed(all_kept, lot), strict=True):
            assert ours == pytest.approx(exact, abs=1e-9)
    assert few_kept.knowledge.scales == pytest.approx(all_kept.knowledge.scales, abs=1e-9)


def test_a_lot_that_comes_back_after_long_is_a_new_lot_of_its_steel(shop, two_kept, monkeypatch):
    back = shop.model().learn(bends_of(shop, "AAABCBCAAB"))
    monkeypatch.setattr(knowledge, "LOTS_KEPT", 9)
    renamed = shop.model().learn(bends_of(shop, "AAABCBCaab"))
    for lot in "AB":
        for ours, exact in zip(believed(back, lot), believed(renamed, lot.lower()), strict=True):
            assert ours == pytest.approx(exact, abs=1e-9)


def test_the_lot_set_aside_is_the_one_not_bent_for_longest(shop, two_kept):
    known = shop.model().learn(bends_of(shop, "ABAC")).knowledge
    assert [lot[-1] for lot in known.lots] == ["A", "C"]
    assert [key[-1] for key in known.keys if key[0] == "lot"] == ["A", "C"]
    assert set(known.counts) == set(known.keys) == set(known.index)


def test_a_bend_that_tells_nothing_sets_no_lot_aside(shop, two_kept):
    untold = shop.bend(90.0, lot="C", rest=False, measured=False)
    known = shop.model().learn([*bends_of(shop, "AB"), untold]).knowledge
    assert [lot[-1] for lot in known.lots] == ["A", "B"]


def test_bend_after_bend_through_the_cache_is_the_same_as_all_at_once(shop, two_kept):
    bends = bends_of(shop, "ABCADBEAACEBDA")
    at_once = shop.model().learn(bends).knowledge
    kept = Knowledge()
    for bend in bends:
        kept = shop.model(knowledge=Knowledge.load(kept.dump())).learn([bend]).knowledge
    assert kept.dump() == at_once.dump()


def test_what_is_kept_does_not_grow_with_the_lots(shop, two_kept):
    lots = [f"{number:03}" for number in range(60)]
    sizes = []
    model = shop.model()
    for bend in bends_of(shop, lots):
        model = model.learn([bend])
        sizes.append((len(model.knowledge.keys), len(model.knowledge.cov)))
    assert sizes[1:] == [(7, 7)] * 59
    assert np.linalg.eigvalsh(model.knowledge.cov).min() > 0
    steel = model.belief().steel_ratio
    assert steel.sd < 0.5 * shop.model().belief().steel_ratio.sd
