"""The bends of a job's setup for the screen: the curve learned, how far each was off it, drift."""

from collections.abc import Sequence
from pathlib import Path

from benchmate.reports.learned_plot import plot
from benchmate.reports.learned_table import KnownSetup, points, title_of
from benchmate.shop import Shop
from benchmate.springback import Bend, Springback
from benchmate.store import Log
from benchmate.store.learning import as_bend, learned

NEWEST = 12
"""Bends that are listed one by one, the newest last."""
HALF = 12
"""Columns on each side of the line in the strip of distances."""


def history_lines(
    shop: Shop, job: str, store: Path, columns: int, rows: int, *, simulated: bool
) -> list[str]:
    """Give the page as lines of text; without a log there is nothing to tell yet."""
    if job not in shop.jobs or not store.exists():
        return ["Nothing is logged of this setup yet."]
    wanted = shop.job(job)
    die, tube = shop.die(wanted.die), shop.tube(wanted.tube)
    with Log.open(store) as log:
        model = Springback(shop.bench, die, tube, wanted.lot, learned(log, simulated=simulated))
        names = (shop.bench.bench, die.die, tube.tube, wanted.lot)
        bends = [
            bend
            for logged in log.bends(simulated=simulated, traces=False)
            if (bend := as_bend(logged)) is not None and _names(bend) == names
        ]
    known = KnownSetup(model, tuple(bends), {})
    return [
        title_of(known),
        "",
        *plot(known, columns, max(rows * 2 // 3, 12)),
        "",
        *_distances(known, columns),
        "",
        _drift(known),
    ]


def _names(bend: Bend) -> tuple[str, str, str, str] | None:
    if bend.bench is None:
        return None
    return bend.bench.bench, bend.die.die, bend.tube.tube, bend.lot


def _distances(known: KnownSetup, columns: int) -> Sequence[str]:
    """List the newest bends by how far each one's springback was from the line, in their order."""
    found = points(known, known.model.belief())[-NEWEST:]
    if not found:
        return ["No bend of this setup is logged yet: the line is what mechanics says."]
    line = known.model.curve([angle for angle, _, _ in found])
    off = [springback - float(line.springback[at]) for at, (_, springback, _) in enumerate(found)]
    most = max(*map(abs, off), 0.1)
    rows = ["How far each bend's springback was from the line, in the order bent (degrees)"]
    for (angle, springback, outlying), distance in zip(found, off, strict=True):
        at = HALF + round(HALF * distance / most)
        strip = "".join(
            "o" if cell == at else "|" if cell == HALF else " " for cell in range(2 * HALF + 1)
        )
        told = f"{angle:6.1f} bent, springback {springback:5.2f}, {distance:+5.2f}"
        rows.append(f"{told}  {strip}{'  given little weight' if outlying else ''}"[:columns])
    return rows


def _drift(known: KnownSetup) -> str:
    drift = known.model.belief().drift_deg
    if drift is None:
        return "Drift of the slack: too few bends on this die to say."
    return (
        f"Drift of the slack since the die had settled in: {drift.value:+.2f} degrees, "
        f"give or take {2 * drift.sd:.2f}."
    )
