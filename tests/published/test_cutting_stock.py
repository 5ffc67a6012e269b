"""The cutting-stock problem against an instance whose optimum is published."""

from collections import Counter

from benchmate.layout.cut_list import cut_list

WIDTHS = {
    1380: 22,
    1520: 25,
    1560: 12,
    1710: 14,
    1820: 18,
    1880: 18,
    1930: 20,
    2000: 10,
    2050: 12,
    2100: 14,
    2140: 16,
    2150: 18,
    2200: 20,
}


def test_the_paper_mill_s_219_widths_come_out_of_73_rolls():
    """13 widths, 219 pieces, rolls of 5600 mm: 73 rolls are the least, 0.401 % of them waste.

    Source: the worked example of the encyclopaedia article "Cutting stock problem" (Wikipedia),
    quoted from memory.
    """
    pieces = [float(width) for width, count in WIDTHS.items() for _ in range(count)]
    cuts = cut_list(pieces, 5600.0)
    assert (len(cuts.bars), cuts.fewest) == (73, True)
    assert Counter(piece for bar in cuts.bars for piece in bar) == WIDTHS
    waste = 1 - sum(pieces) / (73 * 5600.0)
    assert round(100 * waste, 3) == 0.401
