"""What a person found on a die or did to it: read, checked, kept as a row of the store."""

import argparse
import time
from pathlib import Path
from typing import Any

from benchmate.errors import Refusal
from benchmate.runtime.die_history import history_of
from benchmate.shop import Shop
from benchmate.shop.parts import Die
from benchmate.shop.tooling_tables import depth_problem, groove_problem
from benchmate.store import Log, Store
from benchmate.store.learning import DIE_RECORD
from benchmate.units import LengthUnit, length_mm, show_length
from benchmate.wording import is_printable, nearest, printable

PARTS = ("core", "plates", "bolts", "groove", "bushing", "follower")
_LONGEST = 300


def keep(args: argparse.Namespace, shop: Shop, store: Path) -> list[str]:
    """Keep an inspection, a repair or a retirement; give what to tell of it.

    Refusal for what can't be: nothing is written then.
    """
    die, unit = shop.die(args.name), shop.bench.unit
    told = _told(args, die, unit)
    with Log.open(store) as log:
        history = history_of(log, shop, die.die)
        newest = _newest_bend(log)
    lines = []
    if args.action == "inspect" and history.changed is not None:
        told["after_drift"] = history.changed.of
        lines.append(
            f"{die.die} had drifted ({history.changed.of}): what is known of it counts less from"
            " here on, and drift is looked for anew"
        )
    if args.action == "repair" and {"core", "plates", "bolts", "groove"} & set(told["parts"]):
        lines.append(f"{die.die} has proven nothing as it is now: begin with light tube")
    if told.get("cracks"):
        lines.append(f"don't bend on {die.die} until it is repaired")
    lines += _wear(die, told, unit)
    payload = {
        "what": args.action,
        "bench": shop.bench.bench,
        "after_bend": newest,
        "learn_anew": args.action == "repair" or "after_drift" in told,
        **told,
    }
    with Store.open(store) as writer:
        writer.keep(DIE_RECORD, die.die, payload).result()
    return [f"kept: {args.action} of {die.die}, {time.strftime('%Y-%m-%d')}", *lines]


def _told(args: argparse.Namespace, die: Die, unit: LengthUnit) -> dict[str, Any]:
    told: dict[str, Any] = {}
    if args.action == "inspect":
        told |= _readings("groove", args.groove, die, unit)
        told |= _readings("depth", args.depth, die, unit)
        if args.torqued or args.moved is not None:
            told["torqued"] = True
            told["moved"] = _moved(args.moved or 0, die)
        if args.cracks is not None:
            none = args.cracks.strip().casefold() in {"", "none", "no"}
            told["cracks"] = "" if none else _line(args.cracks, "--cracks")
        if not told and not args.note:
            raise Refusal(
                "an inspection of nothing; give --groove, --depth, --torqued, --cracks or --note"
            )
    else:
        stray = [name for name in ("groove", "depth", "torqued", "moved", "cracks")
                 if getattr(args, name)]  # fmt: skip
        if stray:
            raise Refusal(f"--{stray[0]} goes with inspect, not with {args.action}")
    if args.action == "repair":
        told["parts"] = _parts(args.part)
    elif args.part:
        raise Refusal(f"--part goes with repair, not with {args.action}")
    if args.photo:
        told["photo"] = _line(args.photo, "--photo")
    if args.note:
        told["note"] = _line(args.note, "--note")
    return told


def _readings(
    what: str, written: list[str] | None, die: Die, unit: LengthUnit
) -> dict[str, list[float]]:
    if not written:
        return {}
    problem = groove_problem if what == "groove" else depth_problem
    readings = []
    for number, text in enumerate(written, 1):
        try:
            reading = length_mm(text, unit)
        except ValueError as error:
            raise Refusal(f"--{what} {number}: {error}") from error
        if says := problem(reading, die.for_od_mm):
            raise Refusal(f"--{what} {number}: {says}; nothing was written")
        readings.append(reading)
    return {f"{what}_mm": readings}


def _moved(moved: int, die: Die) -> int:
    count = sum(each.count for each in die.bolts)
    if moved < 0 or (count and moved > count):
        raise Refusal(f"--moved {moved}: die {die.die} has {count} bolts; nothing was written")
    return moved


def _parts(written: list[str] | None) -> list[str]:
    if not written:
        raise Refusal(f"a repair of what? give --part: {', '.join(PARTS)}")
    for part in written:
        if part not in PARTS:
            close = nearest(part, PARTS)
            meant = f"did you mean {close}?" if close else f"one of {', '.join(PARTS)}"
            raise Refusal(f"--part '{printable(part, 40)}' is no part of a die; {meant}")
    return list(dict.fromkeys(written))


def _line(text: str, option: str) -> str:
    if len(text) > _LONGEST or not is_printable(text):
        raise Refusal(f"{option}: write one line of plain text, up to {_LONGEST} characters")
    return text


def _wear(die: Die, told: dict[str, Any], unit: LengthUnit) -> list[str]:
    """Say how the groove as read differs from the file, and from station to station."""
    readings = told.get("groove_mm")
    if not readings:
        return []
    lines = []
    if die.groove is not None:
        wider = max(readings) - die.groove.width_mm
        if wider > 0.005 * die.for_od_mm:
            lines.append(
                f"the groove is up to {show_length(wider, unit)} wider than the die's file says: it"
                " wears, creeps or opens"
            )
    if max(readings) - min(readings) > 0.005 * die.for_od_mm:
        widest = readings.index(max(readings)) + 1
        lines.append(f"it is widest at station {widest}: look at the bolts next to it")
    return lines


def _newest_bend(log: Log) -> str | None:
    newest = None
    for logged in log.bends(withdrawn=True, traces=False, after_place=max(log.last_seq() - 200, 0)):
        newest = logged.record.bend_id
    return newest
