"""Before a job is bent: what it asks of its die, and a yes where that is past what was proven."""

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from benchmate.errors import Refusal
from benchmate.reports.die_page import (
    DECIDES,
    steps_to,
    tube_told,
    tube_warnings,
    warnings_for,
    yes_needed,
)
from benchmate.runtime.die_history import asked_of, history_of
from benchmate.shop import Shop
from benchmate.shop.parts import Job
from benchmate.store import Log, Store
from benchmate.store.database import OlderStore
from benchmate.tooling.forming import forming_of
from benchmate.tooling.history import History
from benchmate.wording import printable

YES = "yes"


@dataclass(frozen=True, slots=True, kw_only=True)
class DieCheck:
    """What a job asks of its die."""

    warnings: tuple[str, ...]
    forming: tuple[str, ...]
    """What bending does to the tube, and the rules that it may break."""
    ladder: tuple[str, ...]
    """Where a yes is needed: which tubes to bend first."""
    needs_yes: bool
    out_of_use: bool
    """Cracks were seen in the die, or it is retired: no sum, what a person has found."""
    plain: dict[str, Any]


def check_die(shop: Shop, job: Job, store: Path) -> DieCheck:
    """Hold the job against what its die has carried and what its parts bear."""
    die = shop.die(job.die)
    with _log(store) as log:
        history = history_of(log, shop, die.die)
    wanted = asked_of(history, shop, job)
    step = die.step_pct / 100
    warnings = [
        *warnings_for(history, wanted, step, job.unit or shop.bench.unit),
        *tube_warnings(shop, die, job.tube),
    ]
    needs_yes = yes_needed(history, wanted, step)
    forming = forming_of(shop.tube(job.tube), die.centreline_radius_mm)
    return DieCheck(
        warnings=tuple(warnings),
        forming=tuple(tube_told(shop, die, job.tube, job.rules)),
        ladder=_ladder(history, shop, job, step) if needs_yes else (),
        needs_yes=needs_yes,
        out_of_use=history.retired or bool(history.cracks),
        plain={
            "die_state": wanted.state,
            "load_nm": round(wanted.load.moment_nmm / 1000, 2),
            "load_ratio": None if wanted.ratio is None else round(wanted.ratio, 4),
            "asks_for_yes": needs_yes,
            "forming": {
                "wall_outside": [round(each, 4) for each in forming.wall_outside],
                "wall_inside": [round(each, 4) for each in forming.wall_inside],
                "ovality_pct": [round(each, 2) for each in forming.ovality_pct],
                "wrinkle": forming.wrinkle,
                "kink": forming.kink,
            },
        },
    )


def _ladder(history: History, shop: Shop, job: Job, step: float) -> tuple[str, ...]:
    # The shop of one job holds that job's tube alone; the rack is all that there is.
    rack = Shop.read(shop.path)[0]
    return tuple(steps_to(history, rack, job.tube, step))


def ask_first(check: DieCheck, job: Job, *, said_yes: bool, known: bool) -> None:
    """Ask for a yes before the first pump, where the die is asked more than it has proven.

    Refusal where nobody said yes: on the command line, or when asked at a terminal. ``known``: the
    job has a file in the shop.
    """
    if not check.needs_yes or said_yes:
        return
    told = [printable(line, 500) for line in (*check.warnings, *check.ladder, DECIDES)]
    if not (sys.stdin.isatty() and sys.stderr.isatty()):
        steps = f"benchmate die {job.die}" + (f" --job {job.job}" if known else "")
        last = (
            f"die {job.die} is asked more than it has proven: '{steps}' tells more, and watch --yes"
            " bends it all the same"
        )
        raise Refusal("\n".join([*told, printable(last, 400)]))
    sys.stderr.write("\n".join(told) + f"\nType {YES} to bend it all the same: ")
    sys.stderr.flush()
    if sys.stdin.readline().strip().casefold() != YES:
        raise Refusal("not bent: nobody said yes")


def _log(store: Path) -> Log:
    try:
        return Log.open(store)
    except OlderStore:
        # Whoever is about to bend brings it up to date in any case.
        with Store.open(store):
            pass
        return Log.open(store)
