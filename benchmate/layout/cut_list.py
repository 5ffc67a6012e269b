"""Pieces of tube out of stock bars: the one-dimensional cutting-stock problem.

As few bars as can be. First-fit decreasing gives a solution to begin with, the bound L2 of Martello
and Toth one that no solution can beat (S. Martello and P. Toth, "Knapsack Problems", 1990, chapter
8); between the two a depth-first search fills bar after bar, the longest piece left first, by the
fillings that waste least, as long as the waste that so many bars allow is not used up.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from benchmate.errors import Refusal
from benchmate.units import LengthUnit, show_length

MOST_STEPS = 4_000
"""Fillings that are tried for one number of bars before the search gives up."""
MOST_PIECES = 500
EPS_MM = 1e-6

Bar = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class CutList:
    """Which lengths (mm) come out of each bar, and what is left of it."""

    bars: tuple[Bar, ...]
    """Lengths in each bar, longest first."""
    stock_mm: float
    kerf_mm: float
    fewest: bool
    """Whether it is sure that no list takes fewer bars."""

    def left_mm(self, bar: Bar) -> float:
        """Give what is left of a bar after its last cut; 0 where the bar is used up."""
        left = self.stock_mm - sum(bar) - self.kerf_mm * len(bar)
        return max(left, 0.0)


def cut_list(lengths_mm: Sequence[float], stock_mm: float, kerf_mm: float = 0.0) -> CutList:
    """Cut pieces of these lengths from bars of the stock length, each cut taking a kerf.

    Raises Refusal for a piece that is longer than the stock, and for lengths that aren't above 0.
    """
    if not lengths_mm or len(lengths_mm) > MOST_PIECES:
        raise Refusal(f"{len(lengths_mm)} pieces to cut; give 1 to {MOST_PIECES}")
    if min(lengths_mm) <= 0 or kerf_mm < 0:
        raise Refusal("a length to cut that isn't above 0, or a kerf below 0")
    if max(lengths_mm) > stock_mm + EPS_MM:
        raise Refusal("a piece is longer than the stock that it is to be cut from")
    # The last piece of a bar that is used up needs no cut: a kerf more of bar for all pieces.
    room = stock_mm + kerf_mm
    sizes = sorted((length + kerf_mm for length in lengths_mm), reverse=True)
    best = _first_fit(sizes, room)
    fewest = _bound(sizes, room)
    sure = True
    for bars in range(fewest, len(best)):
        found, all_tried = _fill(sizes, room, bars)
        if found is not None:
            best = found
            break
        sure = sure and all_tried
    packed = sorted((tuple(size - kerf_mm for size in bar) for bar in best), reverse=True)
    return CutList(bars=tuple(packed), stock_mm=stock_mm, kerf_mm=kerf_mm, fewest=sure)


def cut_list_lines(cuts: CutList, unit: LengthUnit = "mm") -> tuple[str, ...]:
    """Give the list in lines: equal bars in one, with what is left of each."""
    bars = len(cuts.bars)
    lines = [
        f"{bars} bar{'' if bars == 1 else 's'} of {show_length(cuts.stock_mm, unit)}, saw's kerf"
        f" {show_length(cuts.kerf_mm, unit)}"
        + ("" if cuts.fewest else "; one fewer may do: too many ways to try them all")
    ]
    for bar, times in Counter(cuts.bars).items():
        pieces = ", ".join(
            f"{count} x {show_length(length, unit)}" if count > 1 else show_length(length, unit)
            for length, count in Counter(bar).items()
        )
        lines.append(f"{times} x: {pieces}; {show_length(cuts.left_mm(bar), unit)} left of each")
    return tuple(lines)


def cut_list_of(
    cut_length_mm: float, count: int, stock_mm: float | None, kerf_mm: float
) -> CutList | None:
    """Give the cut list of so many equal pieces; None where the stock is unknown or too short."""
    if stock_mm is None or cut_length_mm > stock_mm + EPS_MM or not 0 < count <= MOST_PIECES:
        return None
    return cut_list([cut_length_mm] * count, stock_mm, kerf_mm)


def _first_fit(sizes: Sequence[float], room: float) -> list[Bar]:
    """Put each piece, longest first, into the first bar that has room for it."""
    bars: list[list[float]] = []
    left: list[float] = []
    for size in sizes:
        for number, free in enumerate(left):
            if size <= free + EPS_MM:
                bars[number].append(size)
                left[number] -= size
                break
        else:
            bars.append([size])
            left.append(room - size)
    return [tuple(bar) for bar in bars]


def _bound(sizes: Sequence[float], room: float) -> int:
    """Give the bound L2: bars that the long pieces need alone, and what is left for the others."""
    best = 1
    for least in {0.0, *(size for size in sizes if size <= room / 2)}:
        alone = [size for size in sizes if size > room - least + EPS_MM]
        long = [size for size in sizes if room / 2 + EPS_MM < size <= room - least + EPS_MM]
        short = [size for size in sizes if least <= size <= room / 2 + EPS_MM]
        spare = len(long) * room - sum(long)
        more = max(0, -int(-(sum(short) - spare - EPS_MM) // room))
        best = max(best, len(alone) + len(long) + more)
    return best


def _fill(sizes: Sequence[float], room: float, bars: int) -> tuple[list[Bar] | None, bool]:
    """Fill so many bars; give them or None, and whether all ways were tried."""
    demand = Counter(sizes)
    kinds = sorted(demand, reverse=True)
    steps = MOST_STEPS
    hopeless: set[tuple[int, ...]] = set()

    def rest(counts: tuple[int, ...], bars_left: int, waste_left: float) -> list[Bar] | None:
        nonlocal steps
        if not any(counts):
            return []
        if not bars_left or counts in hopeless:
            return None
        first = next(kind for kind, count in enumerate(counts) if count)
        fillings = sorted(_fillings(kinds, counts, first, room), key=lambda each: each[0])
        for waste, taken in fillings:
            steps -= 1
            if waste > waste_left + EPS_MM or steps < 0:
                break
            left = tuple(count - out for count, out in zip(counts, taken, strict=True))
            follows = rest(left, bars_left - 1, waste_left - waste)
            if follows is not None:
                bar = tuple(kinds[kind] for kind, count in enumerate(taken) for _ in range(count))
                return [bar, *follows]
        if steps >= 0:
            hopeless.add(counts)
        return None

    found = rest(tuple(demand[kind] for kind in kinds), bars, bars * room - sum(sizes))
    return found, steps >= 0


def _fillings(
    kinds: Sequence[float], counts: tuple[int, ...], first: int, room: float
) -> Iterator[tuple[float, tuple[int, ...]]]:
    """Give the fillings of one bar that hold a piece of the first kind and no room for another."""
    taken = [0] * len(kinds)
    taken[first] = 1

    def go(kind: int, left: float) -> Iterator[tuple[float, tuple[int, ...]]]:
        if kind == len(kinds):
            full = all(
                taken[each] >= counts[each] or kinds[each] > left + EPS_MM
                for each in range(len(kinds))
            )
            if full:
                yield left, tuple(taken)
            return
        held = taken[kind]
        most = min(counts[kind] - held, int((left + EPS_MM) / kinds[kind]))
        for more in range(most, -1, -1):
            taken[kind] = held + more
            yield from go(kind + 1, left - more * kinds[kind])
        taken[kind] = held

    yield from go(first, room - kinds[first])
