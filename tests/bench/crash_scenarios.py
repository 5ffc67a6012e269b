"""What the crash tests run - the real commands - and what must be true of the disk after any cut.

Used by power_cut.py (a cut behind every system call) and kill_moments.py (kill -9 at any moment).
"""

import json
import shutil
import sqlite3
import uuid
from collections.abc import Callable, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from benchmate.errors import BenchmateError
from benchmate.places import starter_shop
from benchmate.store import BendRecord, HitRecord, Log, RunInput, RunRecord, Store

LAYOUT_1 = Path(__file__).parents[1] / "store" / "layout1.db"
JOB = "cold-frame-rib"
"""The starter shop's plane frame: three bends."""
HIT = HitRecord(stop_angle=93.4, stop_sd=0.6, peak=93.5, rest=91.2)
WRITER = """
import sys
from benchmate.store import Receipt, database, writer

how = sys.argv[1]
if how in ("NORMAL", "OFF"):
    weaker = ("synchronous", how, {"NORMAL": 1, "OFF": 0}[how])
    database._SETTINGS = tuple(weaker if s[0] == "synchronous" else s for s in database._SETTINGS)
if how == "EARLY":
    do = writer.Store._do
    def early(self, write):
        if write.promise.running() and isinstance(self, writer.Store):
            promise, write = write.promise, writer._Write(write.work, write.found, writer.Future())
            promise.set_result(Receipt("", "", 1))
        do(self, write)
    writer.Store._do = early
from benchmate.cli import main
sys.exit(main(sys.argv[2:]))
"""
"""Runs a command of benchmate's; the first word turns its promises down, FULL leaves them."""


@dataclass(frozen=True)
class Scenario:
    """One command that writes, and the law for what it leaves."""

    name: str
    words: Callable[[Path], list[str]]
    """The command line, for a folder that the store lies in."""
    prepare: Callable[[Path], None]
    """Fill the folder before the command runs."""
    wrong: Callable[[Path, Sequence[str], bool], str]
    """Say what is wrong with the folder after a cut; "" for nothing. Takes the lines that were
    written out before it, and whether the command had ended."""
    syncs: tuple[str, ...]
    """The kinds of file whose syncs it needs: without them rows must be lost."""
    yardsticks: tuple[str, ...] = ()
    """Weaker promises under which rows must be lost, or the test has no teeth."""


def bend(number: int, **said: object) -> BendRecord:
    """Make a bend of a job."""
    plain = {
        "bend_id": str(uuid.UUID(int=number, version=4)),
        "job": "gate",
        "bend": number,
        "die": "d",
        "tube": "t",
        "lot": "",
        "bend_angle": 90.0,
        "tolerance": 0.5,
        "hits": (HIT,),
        "verdict": "accept",
        "setup": {},
        "trace": bytes([number % 256]) * 6000,
    }
    return BendRecord(**(plain | said))


def some_bends(path: Path, *numbers: int) -> None:
    """Make a store with these bends and a run, and no file beside it but the store's own."""
    run = RunRecord(
        run_id=str(uuid.UUID(int=numbers[0], version=4)),
        job="gate",
        first_bend=1,
        simulated=False,
        setup={},
        job_file={},
        plan={},
        learned_to=0,
    )
    with Store.open(path) as store:
        store.begin_run(run)
        for at, number in enumerate(numbers, 1):
            store.append(bend(number, run=run.run_id))
            given = RunInput(run_id=run.run_id, number=at, kind="hit", payload={"bend": number})
            store.keep_input(given).result()


def _opened(path: Path, judge: Callable[[Log], str]) -> str:
    """Open the store as the next start of the bench does, and judge it."""
    try:
        with Store.open(path), Log.open(path) as log:
            if told := log.check():
                return f"not whole: {told[0][:90]}"
            return judge(log)
    except BenchmateError as failure:
        return f"unreadable: {str(failure).partition(': ')[2][:90]}"


def logged_ids(lines: Sequence[str]) -> list[str]:
    """Give the ids of the bends that the stream called logged."""
    told = [json.loads(line) for line in lines if '"logged"' in line]
    return [each["id"] for each in told if each["event"] == "logged"]


def _watch_wrong(folder: Path, lines: Sequence[str], ended: bool) -> str:
    path = folder / "bends.db"
    promised = logged_ids(lines)
    if not path.exists():
        return "the store is gone" if promised else ""

    def judge(log: Log) -> str:
        bends = list(log.bends(withdrawn=True))
        ids = [each.record.bend_id for each in bends]
        if set(promised) - set(ids):
            return "lost bends that were called logged"
        if len(ids) != len(set(ids)):
            return "holds a bend twice"
        if any(not (each.record.hits and each.record.trace) for each in bends):
            return "holds half a bend"
        runs = log.runs()
        if log.inputs_kept() != sum(len(run.inputs) for run in runs):
            return "inputs of a run are lost"
        if {each.record.run for each in bends} - {"", *(run.record.run_id for run in runs)}:
            return "holds a bend without its run"
        return ""

    return _opened(path, judge)


def _numbers(log: Log) -> list[int]:
    return [each.record.bend for each in log.bends()]


def _merge_wrong(folder: Path, lines: Sequence[str], ended: bool) -> str:
    done = any(line.startswith("merged:") for line in lines)

    def judge(log: Log) -> str:
        found = _numbers(log), len(log.runs())
        right = [([1, 2, 3, 4, 5], 2)] + ([] if done else [([1, 2], 1)])
        return "" if found in right else f"merged by half or not: {found}"

    return _opened(folder / "bends.db", judge)


def _amend_wrong(folder: Path, lines: Sequence[str], ended: bool) -> str:
    done = any("kept as a new version" in line for line in lines)

    def judge(log: Log) -> str:
        measured = log.bend(1).record.hits[0].measured
        if _numbers(log) != [1, 2] or measured not in ((89.7,) if done else (None, 89.7)):
            return f"lost bends or what was measured: {_numbers(log)}, {measured}"
        return ""

    return _opened(folder / "bends.db", judge)


def _layout(path: Path) -> int | None:
    try:
        with closing(sqlite3.connect(path)) as store:
            ((layout,),) = store.execute("PRAGMA user_version")
    except sqlite3.Error:
        return None
    return int(layout)


def _digests(path: Path) -> list[bytes] | None:
    """Give the digests of a store's bends; None where it isn't whole."""
    try:
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro&immutable=1", uri=True)) as store:
            whole = store.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
            return [row[0] for row in store.execute("SELECT digest FROM bend")] if whole else None
    except sqlite3.Error:
        return None


def _upgrade_wrong(folder: Path, lines: Sequence[str], ended: bool) -> str:
    copies = [each for each in folder.glob("bends.db.layout1.*") if ".part" not in each.name]
    rows = _digests(LAYOUT_1)
    if _layout(folder / "bends.db") != 1 and not any(_digests(each) == rows for each in copies):
        return "upgraded without a whole copy of the older store"

    def judge(log: Log) -> str:
        found = _numbers(log), log.bend(2).record.hits[0].measured, log.bend(2).record.drawn
        return "" if found == ([1, 2, 3, 4, 5], 40.9, 40.0) else f"lost or changed rows: {found}"

    return _opened(folder / "bends.db", judge)


def _export_wrong(folder: Path, lines: Sequence[str], ended: bool) -> str:
    target = folder / "bends.csv"
    if not target.exists():
        return "the file of before is gone"
    text = target.read_text()
    whole = text.count("\n") == 3 and text.endswith("\n") and text.startswith("seq,")
    if not whole and (ended or text != "old\n"):
        return "the export is there by half, or not at all"
    return _opened(folder / "bends.db", lambda log: "" if _numbers(log) == [1, 2] else "lost bends")


def _back_up_wrong(folder: Path, lines: Sequence[str], ended: bool) -> str:
    copy = folder / "copy.db"
    if not copy.exists():
        return "the copy is not there" if any("a whole copy" in line for line in lines) else ""
    return _opened(copy, lambda log: "" if _numbers(log) == [1, 2] else "the copy is not whole")


def _prepare_layout_1(folder: Path) -> None:
    shutil.copyfile(LAYOUT_1, folder / "bends.db")


def _prepare_merge(folder: Path) -> None:
    some_bends(folder / "bends.db", 1, 2)
    # Beside the folder whose disk is cut: the other bench's stick.
    other = folder.with_name("other.db")
    if not other.exists():
        some_bends(other, 3, 4, 5)


def _prepare_export(folder: Path) -> None:
    some_bends(folder / "bends.db", 1, 2)
    (folder / "bends.csv").write_text("old\n")


def _log(*words: str) -> Callable[[Path], list[str]]:
    def line(folder: Path) -> list[str]:
        said = [each.format(folder=folder, beside=folder.parent) for each in words]
        return ["--store", str(folder / "bends.db"), "log", *said]

    return line


def _watch(folder: Path) -> list[str]:
    rehearse = ["watch", JOB, "--plain", "--simulate", "--operator", "--quick"]
    return ["--shop", str(starter_shop()), "--store", str(folder / "bends.db"), *rehearse]


def _two_bends(folder: Path) -> None:
    some_bends(folder / "bends.db", 1, 2)


_NEW, _OLD = ("new file", "folder"), ("log", "store", "folder")
SCENARIOS = (
    Scenario(
        name="watch",
        words=_watch,
        prepare=lambda _: None,
        wrong=_watch_wrong,
        syncs=("log", "store", *_NEW),
        yardsticks=("NORMAL", "OFF", "EARLY"),
    ),
    Scenario(
        name="merge",
        words=_log("merge", "{beside}/other.db"),
        prepare=_prepare_merge,
        wrong=_merge_wrong,
        syncs=_OLD,
        yardsticks=("OFF",),
    ),
    Scenario(
        name="amend",
        words=_log("amend", "1", "--measured", "89.7", "--sure"),
        prepare=_two_bends,
        wrong=_amend_wrong,
        syncs=_OLD,
        yardsticks=("OFF",),
    ),
    Scenario(
        name="upgrade",
        words=_log(),
        prepare=_prepare_layout_1,
        wrong=_upgrade_wrong,
        syncs=("log", "store", *_NEW),
        yardsticks=("OFF",),
    ),
    Scenario(
        name="export",
        words=_log("export", "-o", "{folder}/bends.csv"),
        prepare=_prepare_export,
        wrong=_export_wrong,
        syncs=_NEW,
    ),
    Scenario(
        name="back-up",
        words=_log("back-up", "{folder}/copy.db"),
        prepare=_two_bends,
        wrong=_back_up_wrong,
        syncs=_NEW,
    ),
)
