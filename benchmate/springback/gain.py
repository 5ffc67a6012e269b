"""Whether pressing on still moves the tube: told from the hits alone. Degrees."""

from benchmate.springback.bend import Hit

_SAME_PEAK_DEG = 0.1
"""A press that ends no further past the peak before bends nothing to speak of."""
_ROSE_DEG = 0.5
"""Rise of the peak from which on a tube that stands still is told from scatter."""
_FOLLOWED = 0.25
"""Share of the peak's rise that the tube takes at least, even where little of it is bent yet."""


def risen_in_vain(hits: tuple[Hit, ...], *, rests_count: bool) -> float | None:
    """Give how far the peak rose in the last two presses if the tube gained nothing; else None.

    Either they stopped where an earlier one had, or the arm went on and the tube stayed.
    """
    pressed = [
        hit
        for before, hit in zip((None, *hits), hits, strict=False)
        if before is None or hit.rest is not None or hit.peak != before.peak
    ]
    if len(pressed) < 3:
        return None
    earlier, last = pressed[:-2], pressed[-2:]
    before, between = (max(hit.peak for hit in pressed[:at]) for at in (-2, -1))
    rise = max(between, last[-1].peak) - before
    if max(last[0].peak - before, last[1].peak - between) <= _SAME_PEAK_DEG:
        return max(rise, 0.0)
    then, now = (_told(each, rests_count=rests_count) for each in (earlier, last))
    if then is None or now is None or rise < _ROSE_DEG or now - then > _FOLLOWED * rise:
        return None
    return rise


def stood_still(rise: float) -> bool:
    """Say whether the arm went on and the tube did not, rather than the person stopping short."""
    return rise >= _ROSE_DEG


def _told(hits: list[Hit], *, rests_count: bool) -> float | None:
    """Give what the last hit says of the tube, by its rest or else by what was measured."""
    return hits[-1].rest if rests_count else hits[-1].measured
