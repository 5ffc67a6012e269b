"""``benchmate log``: the bends as they were made; correct, replay, export, merge, copy."""

import argparse
import json
import math
import shutil
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from benchmate import places
from benchmate.errors import Failure, Refusal
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.store import BendRecord, Log, LoggedBend, Store

_ID = "the bend: its number in the list, its id, or the beginning of its id"


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("--json", action="store_true", help="one JSON object a bend")
    parser.add_argument("--all", action="store_true", help="also bends that were withdrawn")
    parser.add_argument("--last", type=int, metavar="N", help="only the last N bends")
    actions = parser.add_subparsers(dest="action", metavar="ACTION")

    def action(name: str, told: str) -> argparse.ArgumentParser:
        return actions.add_parser(name, help=told, description=f"{name}: {told}.")

    show = action("show", "all that is known of one bend, every version of it")
    show.add_argument("bend", metavar="ID", help=_ID)
    show.add_argument("--json", action="store_true", default=argparse.SUPPRESS)
    replayed = action("replay", "run a bend's trace once more: the same hits must come out")
    replayed.add_argument("bend", metavar="ID", help=_ID)
    amend = action("amend", "set a bend's measured angle, as a new version of it")
    amend.add_argument("bend", metavar="ID", help=_ID)
    amend.add_argument("--measured", type=float, required=True, metavar="DEG")
    amend.add_argument(
        "--how", choices=("protractor", "digital level"), default="protractor", metavar="HOW",
        help="protractor (unless said) or 'digital level'",
    )  # fmt: skip
    amend.add_argument("--hit", type=int, metavar="N", help="after which hit; the last unless said")
    withdraw = action("withdraw", "take a bend back: it stays in the log and teaches nothing")
    withdraw.add_argument("bend", metavar="ID", help=_ID)
    export = action("export", "the bends as CSV (a line a hit) or JSON lines (all that is kept)")
    export.add_argument("-o", "--output", type=Path, metavar="FILE", help="else standard output")
    export.add_argument("--format", choices=("csv", "jsonl"), default="csv")
    export.add_argument("--all", action="store_true", default=argparse.SUPPRESS)
    merge = action("merge", "add the bends of another bench's store")
    merge.add_argument("file", type=Path, metavar="FILE")
    backup = action("backup", "copy the store, also while it is being written")
    backup.add_argument("file", type=Path, metavar="FILE", help="a new file")
    salvage = action("salvage", "save from a damaged store what its digests vouch for")
    salvage.add_argument("file", type=Path, metavar="NEW", help="a new store")


def run(args: argparse.Namespace) -> int:
    """Do what the action says; without one, list the bends."""
    actions: dict[str | None, Callable[[Path, argparse.Namespace], int]] = {
        None: _list,
        "show": _show,
        "replay": _replay,
        "amend": _amend,
        "withdraw": _withdraw,
        "export": _export,
        "merge": _merge,
        "backup": _backup,
        "salvage": _salvage,
    }
    return actions[args.action](places.store_file(args.store), args)


def _list(path: Path, args: argparse.Namespace) -> int:
    if args.last is not None and args.last < 1:
        raise Refusal(f"--last takes a number of bends above 0, not {args.last}")
    from benchmate.store.export import as_plain

    with _log(path) as log:
        bends = log.bends(withdrawn=args.all, traces=False)
        if args.last:
            from collections import deque

            bends = iter(deque(bends, maxlen=args.last))
        if args.json:
            for logged in bends:
                print(json.dumps(as_plain(logged), allow_nan=False))
            return 0
        lines = list(_table(bends))
    print("\n".join(lines) if len(lines) > 1 else f"no bends are logged in {printable(str(path))}")
    return 0


def _table(bends: "Iterator[LoggedBend]") -> Iterator[str]:
    room = min(max(shutil.get_terminal_size().columns - 80, 0), 40)
    width = 17 + room
    yield (
        f"{'no.':>5} {'when':12} {'job and bend':{width}}{'wanted':>6}{'hits':>5}"
        f"{'peak':>6}{'rest':>6}{'measured':>9} verdict"
    )
    seen = set()
    for logged in bends:
        record = logged.record
        last = record.hits[-1] if record.hits else None
        told = (last.peak, last.rest, last.measured) if last else (None, None, None)
        peak, rest, measured = map(_deg, told)
        marks = _marks(record)
        seen |= set(marks)
        number = str(record.bend)
        job = f"{printable(record.job, width - 2 - len(number))} {number}"
        yield (
            f"{logged.seq:>5} {_when(logged, '%m-%d %H:%M'):12} {job:{width}}"
            f"{record.bend_angle:>6.1f}{len(record.hits):>5}"
            f"{peak:>6}{rest:>6}{measured:>9} {record.verdict}"
            + (f" {''.join(word[0] for word in marks)}" if marks else "")
        )
    if seen:
        yield ""
        yield ", ".join(f"{word[0]}: {word}" for word in sorted(seen))


def _show(path: Path, args: argparse.Namespace) -> int:
    from benchmate.store.export import json_lines

    with _log(path) as log:
        versions = log.history(log.bend(args.bend).record.bend_id)
    if args.json:
        sys.stdout.writelines(json_lines(versions[-1:]))
        return 0
    newest = versions[-1]
    record = newest.record
    of = f", lot {record.lot}" if record.lot else ""
    print(printable(f"bend {record.bend} of {record.job}: {record.bend_angle:.2f} deg", 400))
    print(printable(f"on bench {newest.bench}: die {record.die}, tube {record.tube}{of}", 400))
    said = ", ".join([record.verdict, *_marks(record)])
    print(f"tolerance {record.tolerance:g} deg; verdict {said}")
    print(f"logged as number {newest.seq}, id {record.bend_id}")
    for number, hit in enumerate(record.hits, 1):
        print(
            f"  hit {number}: to stop at {hit.stop_angle:.2f} (sd {hit.stop_sd:.2f}),"
            f" peak {hit.peak:.2f}, rest {_deg(hit.rest, 2)}"
            + (f", measured {hit.measured:.2f} by {hit.how_measured}" if hit.measured else "")
        )
    for fault in record.faults:
        print(printable(f"  fault: {fault}", 400))
    if record.note:
        print(printable(f"  note: {record.note}", 400))
    print(f"  trace: {len(record.trace)} bytes" if record.trace else "  no trace")
    for each in versions:
        last = each.record.hits[-1].measured if each.record.hits else None
        hits = len(each.record.hits)
        changed = [f"{hits} hit{'' if hits == 1 else 's'}"]
        if last is not None:
            changed.append(f"measured {last:.2f}")
        print(
            f"  version {each.version}, row {each.row_seq}, {_when(each, '%Y-%m-%d %H:%M')}"
            + "".join(f", {word}" for word in (*changed, *_marks(each.record)))
        )
    return 0


def _replay(path: Path, args: argparse.Namespace) -> int:
    from benchmate.bench.replay import replay
    from benchmate.stream import write_event

    with _log(path) as log:
        record = log.bend(args.bend).record
    if not record.trace:
        raise Failure(f"{path}: bend {printable(args.bend, 40)} was logged without a trace")
    replayed = replay(record)
    for event in replayed.events:
        print(write_event(event))
    if not replayed.agrees:
        raise Failure("the replay does not give the hits that were logged")
    sys.stderr.write("the replay gives the hits that were logged\n")
    return 0


def _amend(path: Path, args: argparse.Namespace) -> int:
    if not (math.isfinite(args.measured) and 0 <= args.measured <= 360):
        raise Refusal(f"--measured {args.measured}: a bend angle from 0 to 360 degrees is due")
    with _writing(path, args.bend) as (store, logged):
        hits = list(logged.record.hits)
        at = len(hits) if args.hit is None else args.hit
        if not 1 <= at <= len(hits):
            raise Refusal(f"bend {logged.seq} has {len(hits)} hits; there is no hit {at}")
        hits[at - 1] = replace(hits[at - 1], measured=args.measured, how_measured=args.how)
        store.append(replace(logged.record, hits=tuple(hits))).result()
    print(f"bend {logged.seq}: measured {args.measured:g} deg by {args.how}, kept as a new version")
    return 0


def _withdraw(path: Path, args: argparse.Namespace) -> int:
    with _writing(path, args.bend) as (store, logged):
        if logged.record.withdrawn:
            raise Refusal(f"bend {logged.seq} is withdrawn already")
        store.append(replace(logged.record, withdrawn=True)).result()
    print(f"bend {logged.seq} is withdrawn: it stays in the log and teaches nothing")
    return 0


def _export(path: Path, args: argparse.Namespace) -> int:
    from benchmate.store.export import csv_lines, json_lines, write_whole

    with _log(path) as log:
        exact = args.format == "jsonl"
        bends = log.bends(withdrawn=args.all, traces=exact)
        lines = json_lines(bends) if exact else csv_lines(bends)
        if args.output is None:
            sys.stdout.writelines(lines)
        else:
            write_whole(args.output, lines)
    return 0


def _merge(path: Path, args: argparse.Namespace) -> int:
    from benchmate.store import merge
    from benchmate.store.teaching import learned

    if not args.file.exists():
        raise Refusal(f"{printable(str(args.file))}: there is no such store to merge")
    with _store(path) as store, _log(path) as log:
        done = merge(store, args.file)
        learned(log, simulated=False, store=store)
    corrected = (
        f", {done.corrections} of them corrections of bends here" if done.corrections else ""
    )
    print(
        f"merged {done.bends} rows of bends{corrected}, and {done.findings} findings;"
        f" {done.there} were here already"
    )
    return 0


def _backup(path: Path, args: argparse.Namespace) -> int:
    from benchmate.store.copying import backup

    backup(path, args.file.absolute())
    print(f"{printable(str(args.file))}: a whole copy of {printable(str(path))}")
    return 0


def _salvage(path: Path, args: argparse.Namespace) -> int:
    from benchmate.store import salvage

    if args.file.exists():
        raise Refusal(f"{printable(str(args.file))}: there is such a file; name a new one")
    if not path.exists():
        raise Refusal(f"{printable(str(path))}: there is no such store")
    with _store(args.file) as store:
        saved = salvage(path, store)
    where = printable(str(args.file))
    print(f"saved {saved.bends} rows of bends and {saved.findings} findings in {where}")
    for lost in saved.lost:
        print(f"  lost: {lost}")
    return 1 if saved.lost else 0


def _log(path: Path) -> "Log":
    """Open the log for reading; an older store is first upgraded, after a copy."""
    from benchmate.store import Log, Store
    from benchmate.store.opening import OlderStore

    try:
        return Log.open(path)
    except OlderStore:
        Store.open(path).close()
        return Log.open(path)


@contextmanager
def _writing(path: Path, which: str) -> "Iterator[tuple[Store, LoggedBend]]":
    """Hold the right to write while a bend is read and corrected; no store is made for none."""
    with _log(path) as log:
        log.bend(which)
    with _store(path) as store, _log(path) as log:
        yield store, log.bend(which)


def _store(path: Path) -> "Store":
    from benchmate.store import Store

    return Store.open(path)


def _when(logged: "LoggedBend", shape: str) -> str:
    """Show the wall clock's time, with a question mark where nothing kept it right."""
    try:
        shown = time.strftime(shape, time.localtime(logged.wall_s))
    except (OverflowError, ValueError, OSError):
        return "?"
    return shown if logged.clock_synchronised else f"{shown}?"


def _deg(angle: float | None, digits: int = 1) -> str:
    return "-" if angle is None else f"{angle:.{digits}f}"


def _marks(record: "BendRecord") -> list[str]:
    marks = (
        ("rehearsal", record.simulated),
        ("fault", bool(record.faults)),
        ("withdrawn", record.withdrawn),
    )
    return [word for word, stands in marks if stands]
