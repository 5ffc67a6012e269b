"""A job of the shop laid out with what the store has learned."""

from dataclasses import replace
from pathlib import Path

import msgspec

from benchmate import places
from benchmate.layout.plan import Plan, SpringbackModel, plan_job
from benchmate.runtime.trial_store import found_for
from benchmate.shop import Shop
from benchmate.store import Log
from benchmate.store.learning import model_for
from benchmate.units import LengthUnit


def planned(
    shop: Shop, name: str, store: Path | None, unit: LengthUnit = "mm", *, other_end: bool = False
) -> Plan:
    """Lay the named job out with what the bench has learned so far."""
    return laid_out(shop, name, store, unit, other_end=other_end)[0]


def laid_out(
    shop: Shop, name: str, store: Path | None, unit: LengthUnit = "mm", *, other_end: bool = False
) -> "tuple[Plan, SpringbackModel]":
    """Give the named job's plan and the springback model that it was made with.

    ``other_end``: bent from the end that the job's file doesn't begin with.
    """
    job = shop.job(name)
    if other_end:
        job = msgspec.structs.replace(job, other_end=not job.other_end)
    die, tube = shop.die(job.die), shop.tube(job.tube)
    with Log.open(places.store_file(store)) as log:
        model = model_for(log, shop.bench, die, tube, job.lot, simulated=False)
        model = replace(model, over_limit=job.over_chance_pct / 100)
        found = found_for(log, die, tube)
    plan = plan_job(job, die, tube, model, found=found, keep_out=shop.bench.keep_out, unit=unit)
    return plan, model


def unit_for(shop: Shop, job: str, asked: LengthUnit | None) -> LengthUnit:
    """Choose the unit to show: asked for, else the job's, else the bench's."""
    return asked or shop.job(job).unit or shop.bench.unit
