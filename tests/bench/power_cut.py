"""Pull the plug at every system call and look whether a row with a receipt is missing.

    python tests/bench/power_cut.py [--bends 8] [--disks 4]

A writer runs under strace(1), which has to be installed. From the calls that it made, the disk is
built as it may be found after a cut behind each call: what was synced is there, of what was written
since anything may be, in pieces of 512 bytes and in any order; a name is only sure once its folder
was synced. Each disk is opened and held against the receipts given until then. The yardsticks in
the same run are the same writer with SQLite's synchronous at NORMAL and at OFF, and one that gives
the receipt before the commit: they must lose rows, or this test has no teeth.
"""

import argparse
import logging
import random
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

from benchmate.errors import Failure
from benchmate.store import Log, Store

SECTOR = 512
WRITER = """
import os, sys, uuid
from pathlib import Path
from benchmate.store import BendRecord, HitRecord, Store
from benchmate.store.database import for_writing

how, path, bends = sys.argv[1], Path(sys.argv[2]), int(sys.argv[3])

def connect(at):
    connection = for_writing(at)
    if how in ("NORMAL", "OFF"):
        connection.execute(f"PRAGMA synchronous = {how}")
    return connection

with Store.open(path, connect=connect) as store:
    for number in range(1, bends + 1):
        hit = HitRecord(stop_angle=93.0, stop_sd=0.5, peak=93.1, rest=91.0)
        receipt = store.append(BendRecord(bend_id=str(uuid.uuid4()), job="gate", bend=number,
            die="d", tube="t", lot="", bend_angle=90.0, tolerance=0.5, hits=(hit,),
            verdict="accept", setup={}, trace=os.urandom(6000)))
        if how != "EARLY":
            receipt.result()
        os.write(1, b"ACK %d\\n" % number)
        receipt.result()
"""
CALLS = "openat,close,pwrite64,write,ftruncate,fdatasync,fsync,unlink,rename"
_LINE = re.compile(r"^(\d+)\s+(.*)$")
_CALL = re.compile(r"^(\w+)\((.*)\)\s+= (-?\d+)")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')


@dataclass
class Inode:
    """A file: what surely is on the disk, and what was written since the last sync."""

    durable: bytes = b""
    waiting: list[tuple[int, bytes | None]] = field(default_factory=list)
    """Offset and bytes; None cuts the file there."""

    def sync(self) -> None:
        """Make all that waits durable."""
        self.durable = _applied(self.durable, self.waiting)
        self.waiting = []


@dataclass
class Disk:
    """A folder of files: names that surely are there, and those as the program sees them."""

    sure: dict[str, Inode] = field(default_factory=dict)
    seen: dict[str, Inode] = field(default_factory=dict)
    receipts: int = 0

    def sync(self, path: str, inode: Inode | None, folder: str) -> None:
        """Make a file's bytes durable, or the folder's names."""
        if inode is not None:
            inode.sync()
        elif path == folder:
            self.sure = dict(self.seen)

    def found(self, chance: random.Random, keep: float) -> dict[str, bytes]:
        """Give the folder as it may be found: each unsynced piece is there with that chance."""
        names = self.seen if chance.random() < keep else self.sure
        return {
            name: _applied(inode.durable, list(_pieces(inode.waiting, chance, keep)))
            for name, inode in names.items()
        }


def _pieces(
    waiting: list[tuple[int, bytes | None]], chance: random.Random, keep: float
) -> Iterator[tuple[int, bytes | None]]:
    for offset, content in waiting:
        if content is None:
            if chance.random() < keep:
                yield offset, None
            continue
        at = 0
        while at < len(content):
            end = (offset + at) // SECTOR * SECTOR + SECTOR - offset
            if chance.random() < keep:
                yield offset + at, content[at:end]
            at = end


def _applied(content: bytes, writes: list[tuple[int, bytes | None]]) -> bytes:
    out = bytearray(content)
    for offset, piece in writes:
        if piece is None:
            del out[offset:]
            out.extend(bytes(max(0, offset - len(out))))
        else:
            out.extend(bytes(max(0, offset + len(piece) - len(out))))
            out[offset : offset + len(piece)] = piece
    return bytes(out)


def recorded(how: str, folder: Path, bends: int) -> list[tuple[str, str, int]]:
    """Run the writer under strace; give its calls in order as (name, arguments, answer)."""
    calls = folder / "calls.txt"
    words = ["strace", "-f", "-xx", "-s", "4000000", "-e", f"trace={CALLS}", "-o", str(calls)]
    writer = [sys.executable, "-c", WRITER, how, str(folder / "store" / "bends.db"), str(bends)]
    subprocess.run([*words, *writer], check=True, stdout=subprocess.DEVNULL)
    begun: dict[str, str] = {}
    out = []
    for line in calls.read_text().splitlines():
        process, said = _LINE.match(line).groups()
        if said.endswith("<unfinished ...>"):
            begun[process] = said.removesuffix("<unfinished ...>")
            continue
        if said.startswith("<... "):
            said = begun.pop(process) + said.partition("resumed>")[2]
        if call := _CALL.match(said):
            out.append((call[1], call[2], int(call[3])))
    return out


def disks(calls: list[tuple[str, str, int]], folder: str) -> Iterator[Disk]:
    """Follow the calls; give the disk behind each one that changed it (always the same object)."""
    disk = Disk()
    open_files: dict[int, tuple[str, Inode | None]] = {}
    for name, arguments, answer in calls:
        if answer < 0:
            continue
        texts = [bytes.fromhex(text.replace("\\x", "")) for text in _TEXT.findall(arguments)]
        fd = int(arguments.split(",")[0]) if arguments[:1].isdigit() else -1
        changed = True
        match name:
            case "openat":
                path = texts[0].decode()
                inode = None
                if path.startswith(folder + "/") and not path.endswith("-shm"):
                    inode = disk.seen.setdefault(path.rpartition("/")[2], Inode())
                open_files[answer] = (path, inode)
                changed = "O_CREAT" in arguments and inode is not None
            case "close":
                open_files.pop(fd, None)
                changed = False
            case "pwrite64" | "write" if fd == 1:
                disk.receipts += texts[0].startswith(b"ACK")
            case "pwrite64" | "ftruncate" if inode := open_files.get(fd, ("", None))[1]:
                content = texts[0][:answer] if name == "pwrite64" else None
                inode.waiting.append((int(arguments.rpartition(",")[2]), content))
            case "fdatasync" | "fsync" if fd in open_files:
                disk.sync(*open_files[fd], folder)
            case "unlink" if texts[0].decode().startswith(folder + "/"):
                disk.seen = dict(disk.seen)
                disk.seen.pop(texts[0].decode().rpartition("/")[2], None)
            case "rename" if texts[0].decode().startswith(folder + "/"):
                disk.seen = dict(disk.seen)
                old, new = (text.decode().rpartition("/")[2] for text in texts)
                disk.seen[new] = disk.seen.pop(old)
            case _:
                changed = False
        if changed:
            yield disk


def wrong_with(found: dict[str, bytes], receipts: int, folder: Path) -> str:
    """Open a disk as found; give "" when every row with a receipt is there and all is whole."""
    if folder.exists():
        shutil.rmtree(folder)
    folder.mkdir()
    for name, content in found.items():
        (folder / name).write_bytes(content)
    path = folder / "bends.db"
    try:
        with Store.open(path), Log.open(path) as log:
            rows = [each.record.bend for each in log.bends()]
            told = log.check()
    except Failure as failure:
        return f"unreadable: {str(failure).partition(': ')[2][:90]}"
    if rows[:receipts] != list(range(1, receipts + 1)):
        return "lost rows that had a receipt"
    return f"not whole: {told[0][:90]}" if told else ""


def judged(how: str, bends: int, several: int, memory: str | None) -> tuple[int, dict[str, int]]:
    """Give how many disks were looked at and what was wrong with how many."""
    looked, wrong = 0, {}
    with tempfile.TemporaryDirectory(dir=memory) as name:
        folder = Path(name).resolve()
        calls = recorded(how, folder, bends)
        store = str(folder / "store")
        chance = random.Random(7)
        for disk in disks(calls, store):
            for keep in (0.0, 1.0, *(chance.uniform(0.1, 0.9) for _ in range(several))):
                told = wrong_with(disk.found(chance, keep), disk.receipts, folder / "found")
                looked += 1
                if told:
                    wrong[told] = wrong.get(told, 0) + 1
    return looked, wrong


def main() -> None:
    """Judge the store and the yardsticks, print the table; exit 1 when the store lost anything."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bends", type=int, default=8)
    parser.add_argument("--disks", type=int, default=4, help="random disks behind each call")
    args = parser.parse_args()
    if shutil.which("strace") is None:
        sys.exit("this needs strace(1)")
    logging.disable()
    memory = "/dev/shm" if Path("/dev/shm").is_dir() else None  # noqa: S108 - own folders in it
    lost = {}
    for how in ("FULL", "NORMAL", "OFF", "EARLY"):
        begun = time.perf_counter()
        looked, wrong = judged(how, args.bends, args.disks, memory)
        lost[how] = sum(wrong.values())
        took = time.perf_counter() - begun
        sys.stdout.write(f"{how}: {looked} disks, {lost[how]} wrong ({took:.0f} s)\n")
        for told, many in sorted(wrong.items(), key=lambda each: -each[1])[:4]:
            sys.stdout.write(f"    {many} {told}\n")
    teeth = lost["NORMAL"] and lost["OFF"] and lost["EARLY"]
    sys.exit(0 if teeth and not lost["FULL"] else 1)


if __name__ == "__main__":
    main()
