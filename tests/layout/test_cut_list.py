"""Pieces out of bars: none longer than the bar, every kerf paid for, as few bars as can be."""

from collections import Counter
from itertools import permutations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmate.errors import Refusal
from benchmate.layout.cut_list import cut_list, cut_list_lines, cut_list_of

lengths = st.lists(st.sampled_from([620.0, 981.5, 1424.0, 1510.0, 2230.0, 3010.0]), min_size=1)


def fewest_by_trial(pieces: list[float], stock: float, kerf: float) -> int:
    """Every order of the pieces, each bar filled until the next piece has no room."""
    best = len(pieces)
    for order in set(permutations(pieces)):
        bars, left = 1, stock
        for piece in order:
            if piece > left + 1e-9:
                bars, left = bars + 1, stock
            left -= piece + kerf
        best = min(best, bars)
    return best


@given(lengths.filter(lambda pieces: len(pieces) <= 6), st.sampled_from([0.0, 2.0, 3.2]))
@settings(max_examples=40)
def test_no_list_takes_fewer_bars(pieces: list[float], kerf: float) -> None:
    cuts = cut_list(pieces, 6000.0, kerf)
    assert cuts.fewest
    assert len(cuts.bars) == fewest_by_trial(pieces, 6000.0, kerf)


@given(st.lists(st.floats(50, 6000), min_size=1, max_size=40), st.floats(0, 5))
@settings(max_examples=40)
def test_every_piece_is_cut_once_and_no_bar_is_overfull(pieces: list[float], kerf: float) -> None:
    cuts = cut_list(pieces, 6000.0, kerf)
    cut = sorted(piece for bar in cuts.bars for piece in bar)
    assert cut == pytest.approx(sorted(pieces), abs=1e-6)
    for bar in cuts.bars:
        assert sum(bar) + kerf * (len(bar) - 1) <= 6000.0 + 1e-6


def test_the_last_piece_of_a_bar_used_up_needs_no_cut() -> None:
    assert len(cut_list([1500.0] * 4, 6006.0, 2.0).bars) == 1
    assert len(cut_list([1500.0] * 4, 6005.9, 2.0).bars) == 2


def test_ten_equal_tubes_are_told_with_what_is_left() -> None:
    cuts = cut_list_of(1424.0, 10, 6000.0, 2.0)
    assert cuts is not None
    assert Counter(map(len, cuts.bars)) == {4: 2, 2: 1}
    assert cut_list_lines(cuts) == (
        "3 bars of 6000.0 mm, saw's kerf 2.0 mm",
        "2 x: 4 x 1424.0 mm; 296.0 mm left of each",
        "1 x: 2 x 1424.0 mm; 3148.0 mm left of each",
    )


def test_without_a_stock_or_with_one_too_short_there_is_no_list() -> None:
    assert cut_list_of(1424.0, 10, None, 2.0) is None
    assert cut_list_of(6424.0, 10, 6000.0, 2.0) is None
    with pytest.raises(Refusal, match="longer than the stock"):
        cut_list([6424.0], 6000.0)
