"""Pull the plug at every system call of the real commands and look whether anything is missing.

    python tests/bench/power_cut.py [--only watch] [--seeds 3] [--disks 3]

``watch``, ``log merge``, ``log amend``, an upgrade, ``log export`` and ``log back-up`` run under
strace(1), which has to be installed. From the calls that they made, the disk is built as it may be
found after a cut behind each call: what was synced is there; of what was written since, any part
may be, in pieces of 512 bytes, whatever the order it was written in; of the names given and taken
since the folder was synced, any number of the first ones may be. Each disk is opened by the bench
and held against what was written out until then. A call on the store's folder that isn't known
here ends the run: nothing passes in silence.

The yardsticks in the same run must lose something, or this test has no teeth: the same commands
with SQLite's synchronous turned down to NORMAL and OFF, or with receipts before the commit; and
the same calls with the syncs of one kind of file taken out.
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
from typing import NamedTuple

from crash_scenarios import SCENARIOS, WRITER, Scenario

SECTOR = 512
TRACED = "%file,%desc,sync,syncfs,io_uring_enter,copy_file_range,sendfile,splice,vmsplice"
HARMLESS = frozenset(
    (
        *("access", "chdir", "chmod", "chown", "close", "dup", "dup2", "dup3", "epoll_create1"),
        *("epoll_ctl", "epoll_wait", "execve", "faccessat", "faccessat2", "fadvise64", "fchmod"),
        *("fchmodat", "fchown", "fcntl", "flock", "fstat", "fstatfs", "getcwd", "getdents64"),
        *("ioctl", "lseek", "lstat", "munmap", "newfstatat", "poll", "ppoll", "pread64", "preadv"),
        *("read", "readlink", "readlinkat", "readv", "select", "stat", "statfs", "statx"),
        "utimensat",
    )
)
"""Calls after which a disk holds what it held before."""
_LINE = re.compile(r"^(\d+)\s+(.*)$")
_CALL = re.compile(r"^(\w+)\((.*)\)\s+= (-?\d+|\?)")
_TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')
_PATH = re.compile(r'<((?:\\x[0-9a-f]{2})+)>|"((?:\\x[0-9a-f]{2})+)"')
_FD = re.compile(r"^(\d+)<((?:\\x[0-9a-f]{2})*)>(\(deleted\))?")


class UnknownCallError(Exception):
    """The program did something to the disk that this test doesn't know."""


class Call(NamedTuple):
    """One system call that came back."""

    name: str
    arguments: str
    answer: int

    @property
    def texts(self) -> list[bytes]:
        """Give the strings among its arguments."""
        return [_bytes(text) for text in _TEXT.findall(self.arguments)]

    @property
    def fd(self) -> tuple[int, str, bool]:
        """Give the file that it works on: number, path, and whether it lost its name."""
        found = _FD.match(self.arguments)
        if found is None:
            return -1, "", False
        return int(found[1]), _bytes(found[2]).decode(), bool(found[3])

    def concerns(self, folder: str) -> bool:
        """Say whether the folder, or a path in it that counts after a cut, is named in it."""
        named = _PATH.findall(self.arguments)
        paths = [_bytes(one or other).decode("utf-8", "replace") for one, other in named]
        # The index of the log (-shm) is made anew after a cut.
        return any(
            path == folder or (path.startswith(folder + "/") and not path.endswith("-shm"))
            for path in paths
        )


def _bytes(text: str) -> bytes:
    return bytes.fromhex(text.replace("\\x", ""))


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
    """A folder of files: names that surely are there, and what was done to names since."""

    folder: str
    sure: dict[str, Inode] = field(default_factory=dict)
    seen: dict[str, Inode] = field(default_factory=dict)
    named: list[tuple[str, str, Inode | None]] = field(default_factory=list)
    """("put", "take" or "move", name or "old/new", file), in order, since the folder was synced."""
    offsets: dict[int, int] = field(default_factory=dict)
    """Where plain write(2) goes on, by descriptor."""
    out: bytes = b""
    ended: bool = False

    @classmethod
    def of(cls, folder: Path) -> "Disk":
        """Take a folder as it lies, all of it durable, for the one beside it named store."""
        files = {each.name: Inode(each.read_bytes()) for each in folder.iterdir()}
        return cls(str(folder.with_name("store")), dict(files), dict(files))

    def put(self, name: str, inode: Inode) -> None:
        """Give a file a name."""
        self.seen[name] = inode
        self.named.append(("put", name, inode))

    def take(self, name: str) -> Inode | None:
        """Take a name away."""
        self.named.append(("take", name, None))
        return self.seen.pop(name, None)

    def found(self, chance: random.Random, keep: float) -> dict[str, bytes]:
        """Give the folder as it may be found: each unsynced piece is there with that chance."""
        names = dict(self.sure)
        many = len(self.named)
        first = round(keep * many) if keep in (0.0, 1.0) else chance.randint(0, many)
        for what, name, inode in self.named[:first]:
            old, _, new = name.rpartition("/")
            names.pop(old or name, None)
            if what != "take" and inode is not None:
                # A rename is one step on any file system with a journal.
                names[new] = inode
        return {
            name: _applied(inode.durable, list(_pieces(inode.waiting, chance, keep)))
            for name, inode in names.items()
        }

    def follow(self, call: Call) -> bool:  # noqa: PLR0911 - one answer a call
        """Do what the call did; say whether the disk or what was promised changed."""
        fd, path, nameless = call.fd
        if call.name in ("write", "writev") and fd == 1:
            self.out += b"".join(call.texts)
            return True
        if not call.concerns(self.folder):
            return False
        inside = self._name(path) if path else ""
        match call.name:
            case "openat" | "open" | "creat":
                return self._opened(call)
            case "pwrite64" | "write" if inside:
                return self._wrote(call, fd, None if nameless else inside)
            case "ftruncate" if inside:
                inode = None if nameless else self.seen.get(inside)
                if inode is not None:
                    inode.waiting.append((int(call.arguments.rpartition(",")[2]), None))
                return inode is not None
            case "fsync" | "fdatasync":
                return self._synced(path, nameless)
            case "unlink" | "unlinkat":
                self.take(self._name(call.texts[-1].decode()))
                return True
            case "rename" | "renameat" | "renameat2":
                old, new = (self._name(text.decode()) for text in call.texts)
                self.named.append(("move", f"{old}/{new}", self.seen[old]))
                self.seen[new] = self.seen.pop(old)
                return True
            case "mmap" if "MAP_SHARED" not in call.arguments:
                return False
            case name if name in HARMLESS:
                return False
        raise UnknownCallError(f"{call.name}({call.arguments[:300]})")

    def _name(self, path: str) -> str:
        if path == self.folder or not path.startswith(self.folder + "/"):
            return ""
        return path.removeprefix(self.folder + "/")

    def _opened(self, call: Call) -> bool:
        name = self._name(call.texts[0].decode())
        if call.answer < 0 or not name:
            return False
        self.offsets[call.answer] = 0
        changed = False
        if name not in self.seen:
            if "O_CREAT" not in call.arguments:
                return False
            self.put(name, Inode())
            changed = True
        elif "O_TRUNC" in call.arguments:
            self.seen[name].waiting.append((0, None))
            changed = True
        if "O_APPEND" in call.arguments or "O_TMPFILE" in call.arguments:
            raise UnknownCallError(f"{call.name}({call.arguments[:300]})")
        return changed

    def _wrote(self, call: Call, fd: int, name: str | None) -> bool:
        content = call.texts[0][: call.answer]
        if call.name == "write":
            offset = self.offsets.get(fd, 0)
            self.offsets[fd] = offset + len(content)
        else:
            offset = int(call.arguments.rpartition(",")[2])
        inode = None if name is None else self.seen.get(name)
        if inode is not None:
            inode.waiting.append((offset, content))
        return inode is not None

    def _synced(self, path: str, nameless: bool) -> bool:
        if path == self.folder:
            self.sure, self.named = dict(self.seen), []
            return True
        inode = None if nameless else self.seen.get(self._name(path))
        if inode is not None:
            inode.sync()
        return inode is not None


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


def recorded(scenario: Scenario, how: str, folder: Path) -> list[Call]:
    """Run the command under strace; give its calls in the order in which they came back."""
    calls = folder.with_name("calls.txt")
    strace = ["strace", "-f", "-y", "-xx", "-s", "4000000", "--seccomp-bpf", "-o", str(calls)]
    command = [sys.executable, "-c", WRITER, how, *scenario.words(folder)]
    done = subprocess.run(
        [*strace, "-e", f"trace={TRACED}", *command],
        check=False,
        capture_output=True,
        text=True,
    )
    if done.returncode:
        raise SystemExit(
            f"{scenario.name} {how} ended with {done.returncode}: {done.stderr[-500:]}"
        )
    begun: dict[str, str] = {}
    out = []
    for line in calls.read_text().splitlines():
        process, said = _LINE.match(line).groups()
        if said.endswith("<unfinished ...>"):
            begun[process] = said.removesuffix("<unfinished ...>")
            continue
        if said.startswith("<... "):
            said = begun.pop(process) + said.partition("resumed>")[2]
        if (call := _CALL.match(said)) and call[3] != "?" and int(call[3]) >= 0:
            out.append(Call(call[1], call[2], int(call[3])))
    return out


def without_syncs(calls: list[Call], kind: str, folder: str) -> list[Call]:
    """Give the calls with the syncs of one kind of file taken out."""
    ends = {"log": "-wal", "store": "bends.db", "new file": ".part", "folder": folder}[kind]
    return [
        call
        for call in calls
        if not (call.name in ("fsync", "fdatasync") and call.fd[1].endswith(ends))
    ]


class Judged(NamedTuple):
    """How many disks were looked at, and what was wrong with how many."""

    looked: int
    wrong: dict[str, int]


def judged(scenario: Scenario, calls: list[Call], disk: Disk, seed: int, several: int) -> Judged:
    """Follow the calls and judge the disks that a cut behind each of them may leave."""
    folder = Path(disk.folder)
    chance = random.Random(seed)
    looked, wrong = 0, {}
    keeps = (0.0, 1.0) if seed == 0 else ()
    for call in (*calls, None):
        disk.ended = call is None
        if call is not None and not disk.follow(call):
            continue
        lines = disk.out.decode().split("\n")[:-1]
        for keep in (*keeps, *(chance.uniform(0.1, 0.9) for _ in range(several))):
            found = folder.with_name("found")
            shutil.rmtree(found, ignore_errors=True)
            found.mkdir()
            for name, content in disk.found(chance, keep).items():
                (found / name).write_bytes(content)
            told = scenario.wrong(found, lines, disk.ended)
            looked += 1
            if told:
                wrong[told] = wrong.get(told, 0) + 1
    return Judged(looked, wrong)


def run(scenario: Scenario, args: argparse.Namespace, memory: str | None) -> bool:
    """Judge a scenario and its yardsticks; say whether all came out as it must."""
    fine = True
    with tempfile.TemporaryDirectory(dir=memory) as name:
        before = Path(name).resolve() / "before"
        before.mkdir()
        scenario.prepare(before)
        for how in ("FULL", *scenario.yardsticks):
            folder = Path(name).resolve() / "store"
            shutil.rmtree(folder, ignore_errors=True)
            shutil.copytree(before, folder)
            calls = recorded(scenario, how, folder)
            jobs = [(how, calls)]
            if how == "FULL":
                jobs += [
                    (f"no sync of the {kind}", without_syncs(calls, kind, str(folder)))
                    for kind in scenario.syncs
                ]
            for what, these in jobs:
                fine = _judge(scenario, what, these, before, args) and fine
    return fine


def _judge(
    scenario: Scenario,
    what: str,
    calls: list[Call],
    before: Path,
    args: argparse.Namespace,
) -> bool:
    begun = time.perf_counter()
    looked, wrong = 0, {}
    for seed in range(args.seeds):
        one = judged(scenario, calls, Disk.of(before), seed, args.disks)
        looked += one.looked
        for told, many in one.wrong.items():
            wrong[told] = wrong.get(told, 0) + many
        if what != "FULL" and wrong:
            # A yardstick has shown what it had to.
            break
    bad, took = sum(wrong.values()), time.perf_counter() - begun
    sys.stdout.write(f"{scenario.name}, {what}: {looked} disks, {bad} wrong ({took:.0f} s)\n")
    for told, many in sorted(wrong.items(), key=lambda each: -each[1])[:3]:
        sys.stdout.write(f"    {many} {told}\n")
    sys.stdout.flush()
    return not bad if what == "FULL" else bool(bad)


def main() -> None:
    """Judge the commands and the yardsticks, print the table; exit 1 when one isn't as it must."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--only", choices=[each.name for each in SCENARIOS])
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--disks", type=int, default=3, help="random disks a call and seed")
    args = parser.parse_args()
    if shutil.which("strace") is None:
        sys.exit("this needs strace(1)")
    logging.disable()
    memory = "/dev/shm" if Path("/dev/shm").is_dir() else None  # noqa: S108 - own folders in it
    chosen = [each for each in SCENARIOS if args.only in (None, each.name)]
    fine = [run(scenario, args, memory) for scenario in chosen]
    sys.exit(0 if all(fine) else 1)


if __name__ == "__main__":
    main()
