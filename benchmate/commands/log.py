"""``benchmate log``: bends and runs as they were made; amend, export, merge, back up, rescue."""

import argparse
import itertools
import json
import shutil
import sys
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from benchmate import places
from benchmate.errors import Failure, Refusal
from benchmate.units import angle_deg
from benchmate.wording import printable

if TYPE_CHECKING:
    from benchmate.store import Log, LoggedBend, Store

_ID = "the bend: its number in the list, its id, or the beginning of its id"


def prepare(parser: argparse.ArgumentParser) -> None:
    """Add the command's options."""
    parser.add_argument("--json", action="store_true", help="one JSON object a bend")
    parser.add_argument("--all", action="store_true", help="also bends that were withdrawn")
    parser.add_argument("--last", type=int, metavar="N", help="only the last N bends")
    actions = parser.add_subparsers(dest="action", metavar="ACTION")

    def action(name: str, told: str) -> argparse.ArgumentParser:
        return actions.add_parser(name, help=told, description=f"{name}: {told}.")

    runs = action("runs", "the parts begun: their first plan, how far each came, by which bends")
    runs.add_argument("--json", action="store_true", default=argparse.SUPPRESS)
    runs.add_argument("--last", type=int, metavar="N", default=argparse.SUPPRESS)
    show = action("show", "all that is known of one bend, every version of it")
    show.add_argument("bend", metavar="ID", help=_ID)
    show.add_argument("--json", action="store_true", default=argparse.SUPPRESS)
    replayed = action("replay", "run a bend's trace once more: the same hits must come out")
    replayed.add_argument("bend", metavar="ID", help=_ID)
    amend = action("amend", "set a bend's measured angle, as a new version of it")
    amend.add_argument("bend", metavar="ID", help=_ID)
    amend.add_argument("--measured", required=True, metavar="DEG")
    amend.add_argument(
        "--how", choices=("protractor", "digital level"), default="protractor", metavar="HOW",
        help="protractor (unless said) or 'digital level'",
    )  # fmt: skip
    amend.add_argument("--hit", type=int, metavar="N", help="after which hit; the last unless said")
    amend.add_argument("--sure", action="store_true", help="keep a reading that is hard to believe")
    withdraw = action("withdraw", "take a bend back: it stays in the log and teaches nothing")
    withdraw.add_argument("bend", metavar="ID", help=_ID)
    export = action("export", "the bends as CSV (a line a hit) or JSON lines (all that is kept)")
    export.add_argument("-o", "--output", type=Path, metavar="FILE", help="else standard output")
    export.add_argument("--format", choices=("csv", "jsonl"), default="csv")
    export.add_argument("--all", action="store_true", default=argparse.SUPPRESS)
    merge = action("merge", "add the bends of another bench's store")
    merge.add_argument("file", type=Path, metavar="FILE")
    back_up = action("back-up", "copy the store to a new file, also while it is being written")
    back_up.add_argument(
        "file", type=Path, nargs="?", metavar="FILE",
        help="a new file; without it, the copy that bench.yaml names as store_copy",
    )  # fmt: skip
    rescue = action("rescue", "save what is whole of a damaged store and its copies")
    rescue.add_argument("file", type=Path, metavar="NEW", help="a new store")
    rescue.add_argument(
        "--copy", type=Path, action="append", default=[], metavar="FILE",
        help="a back-up of it, for what it lost; once or more often",
    )  # fmt: skip


def run(args: argparse.Namespace) -> int:
    """Do what the action says; without one, list the bends."""
    actions: dict[str | None, Callable[[Path, argparse.Namespace], int]] = {
        None: _list,
        "runs": _runs,
        "show": _show,
        "replay": _replay,
        "amend": _amend,
        "withdraw": _withdraw,
        "export": _export,
        "merge": _merge,
        "back-up": _back_up,
        "rescue": _rescue,
    }
    return actions[args.action](places.store_file(args.store), args)


def _list(path: Path, args: argparse.Namespace) -> int:
    _refuse_last(args)
    with _log(path) as log:
        numbers = log.numbers()
        if args.json:
            return _list_json(log, numbers, args)
        from benchmate.reports.judged import judged_bends
        from benchmate.reports.log_table import table

        bends = judged_bends(log, withdrawn=args.all, last=args.last)
        first = next(bends, None)
        if first is None:
            told = " but withdrawn ones: --all shows them" if numbers else ""
            print(f"no bends are logged in {printable(str(path))}{told}")
            return 0
        columns = shutil.get_terminal_size().columns
        shown = itertools.chain([first], bends)
        for line in table(shown, numbers, columns, whole=args.last is None):
            print(line)
    return 0


def _refuse_last(args: argparse.Namespace) -> None:
    if args.last is not None and args.last < 1:
        raise Refusal(f"--last takes a number above 0, not {args.last}")


def _list_json(log: "Log", numbers: dict[int, int], args: argparse.Namespace) -> int:
    from benchmate.store.export import as_plain

    bends = log.bends(withdrawn=args.all, traces=False)
    for logged in deque(bends, maxlen=args.last) if args.last else bends:
        print(json.dumps(as_plain(logged) | {"number": numbers[logged.seq]}, allow_nan=False))
    return 0


def _runs(path: Path, args: argparse.Namespace) -> int:
    from benchmate.reports import run_table

    _refuse_last(args)
    with _log(path) as log:
        runs = log.runs()[-(args.last or 0) :]
        made = run_table.by_run(log.bends(traces=False))
        numbers = log.numbers()
    told = [(run, run_table.run_bends(run, made.get(run.record.run_id, ()))) for run in runs]
    if args.json:
        for run, bends in told:
            print(json.dumps(run_table.as_plain(run, bends), allow_nan=False))
    elif not told:
        print(f"no runs are logged in {printable(str(path))}")
    else:
        for line in run_table.lines(told, numbers):
            print(line)
    return 0


def _show(path: Path, args: argparse.Namespace) -> int:
    from benchmate.reports.judged import judged_bend
    from benchmate.reports.log_table import one
    from benchmate.store.export import json_lines

    with _log(path) as log:
        versions = log.history(log.bend(args.bend).record.bend_id)
        if args.json:
            sys.stdout.writelines(json_lines(versions[-1:]))
            return 0
        newest = versions[-1]
        lines = list(one(versions, judged_bend(log, newest), log.numbers()[newest.seq]))
    print("\n".join(lines))
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
    from benchmate.reports.judged import amended, came_to, doubt_about, knowledge_before
    from benchmate.reports.log_table import outcome

    measured = _measured(args.measured)
    with _writing(path, args.bend) as (store, log, logged, named):
        hits = logged.record.hits
        at = len(hits) if args.hit is None else args.hit
        if not 1 <= at <= len(hits):
            many = f"{len(hits)} hit{'' if len(hits) == 1 else 's'}"
            raise Refusal(f"{named} has {many}; there is no hit {at}")
        knowledge = knowledge_before(log, logged)
        doubt = doubt_about(logged, knowledge, at, measured)
        if doubt is not None and doubt[0] == "impossible":
            raise Refusal(
                f"{named} can't have come to {measured:g} deg: {doubt[1]}; measure again, or"
                " withdraw the bend if its zero was wrong"
            )
        if doubt is not None and not args.sure:
            raise Refusal(
                f"{named}: {measured:g} deg is hard to believe: {doubt[1]}; measure again, or say"
                " --sure"
            )
        record = amended(logged.record, at, measured, args.how)
        # The bend keeps the trace that it was logged with.
        store.append(replace(record, trace=b"")).result()
        came = came_to(replace(logged, record=record), knowledge)
    print(f"{named}: measured {measured:g} deg by {args.how}, kept as a new version")
    print(outcome(record, came))
    return 0


def _measured(written: str) -> float:
    try:
        measured = angle_deg(written)
    except ValueError as error:
        raise Refusal(f"--measured: {error}") from error
    if not 0 <= measured <= 360:
        raise Refusal(f"--measured {measured:g}: a bend angle from 0 to 360 degrees is due")
    return measured


def _withdraw(path: Path, args: argparse.Namespace) -> int:
    with _writing(path, args.bend) as (store, _, logged, named):
        if logged.record.withdrawn:
            raise Refusal(f"{named} is withdrawn already")
        store.append(replace(logged.record, withdrawn=True, trace=b"")).result()
    print(f"{named} is withdrawn: it stays in the log and teaches nothing")
    return 0


def _export(path: Path, args: argparse.Namespace) -> int:
    from benchmate.files import write_whole
    from benchmate.store.export import csv_lines, json_lines

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
    from benchmate.store.learning import learned

    if not args.file.exists():
        raise Refusal(f"{printable(str(args.file))}: there is no such store to merge")
    with _store(path) as store, _log(path) as log:
        done = merge(store, args.file)
        learned(log, simulated=False, store=store)
    said = [f"{_bends(done.new_bends)} new here"]
    if done.corrected_bends:
        said.append(f"{_bends(done.corrected_bends)} corrected")
    if done.findings:
        dies = f"{done.findings} finding{'' if done.findings == 1 else 's'}"
        said.append(f"{dies} of trial pieces")
    print(f"merged: {', '.join(said)}; {_bends(done.same_bends)} were here already")
    return 0


def _bends(count: int) -> str:
    return f"{count} bend{'' if count == 1 else 's'}"


def _back_up(path: Path, args: argparse.Namespace) -> int:
    from benchmate.store.backup import backup

    target = _second_copy(path, args.shop) if args.file is None else args.file
    if args.file is not None:
        backup(path, target.absolute())
    print(f"{printable(str(target))}: a whole copy of {printable(str(path))}")
    return 0


def _kept_copy(asked: Path | None) -> list[Path]:
    """Give the copy that bench.yaml names as store_copy, where there is one."""
    from benchmate.shop import Shop

    bench = Shop.read(places.shop_folder(asked))[0].good_bench
    if bench is None or bench.store_copy is None:
        return []
    copy = Path(bench.store_copy).expanduser() / f"{bench.bench}.db"
    return [copy] if copy.is_file() else []


def _second_copy(path: Path, asked: Path | None) -> Path:
    from benchmate.shop import Shop
    from benchmate.store.second_copy import second_copy

    bench = Shop.read(places.shop_folder(asked))[0].good_bench
    if bench is None or bench.store_copy is None:
        raise Refusal(
            "name a FILE for the back-up, or a folder on another disk as store_copy in bench.yaml"
        )
    return second_copy(path, Path(bench.store_copy).expanduser(), bench.bench)


def _rescue(path: Path, args: argparse.Namespace) -> int:
    from benchmate.store import rescue
    from benchmate.store.rescuing import copies_beside

    for copy in args.copy:
        if not copy.is_file():
            raise Refusal(f"--copy {printable(str(copy))}: there is no such file")
    copies = [*args.copy, *_kept_copy(args.shop), *copies_beside(path)]
    if not path.exists() and not copies:
        raise Refusal(f"{printable(str(path))}: there is no such store, and no copy beside it")
    saved = rescue(path, args.file.absolute(), copies)
    rows = f"{saved.bends} rows of bends, {saved.runs} runs and {saved.findings} findings"
    print(f"saved {rows} in {printable(str(args.file))}")
    for copy in copies:
        print(f"  read too: {printable(str(copy))}")
    for lost in saved.lost:
        print(f"  lost: {lost}")
    return 1 if saved.lost else 0


def _log(path: Path) -> "Log":
    """Open the log for reading; an older store is first upgraded, after a copy."""
    from benchmate.store import Log, Store
    from benchmate.store.database import OlderStore

    try:
        return Log.open(path)
    except OlderStore:
        Store.open(path).close()
        return Log.open(path)


@contextmanager
def _writing(path: Path, which: str) -> "Iterator[tuple[Store, Log, LoggedBend, str]]":
    """Hold the right to write while a bend is read and corrected; no store is made for none.

    Gives the store, the log, the bend and what to call it.
    """
    from benchmate.reports.log_table import name

    with _log(path) as log:
        log.bend(which)
    with _store(path) as store, _log(path) as log:
        logged = log.bend(which)
        yield store, log, logged, name(logged, log.numbers()[logged.seq])


def _store(path: Path) -> "Store":
    from benchmate.store import Store

    return Store.open(path)
