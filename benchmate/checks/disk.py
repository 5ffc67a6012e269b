"""Where the store lies: a file system that keeps what it is given, with room on it."""

import os
import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from benchmate.checks.finding import Finding

LEAST_FREE_BYTES = 50_000_000
"""Room for some ten thousand bends, and for the copy that an upgrade takes."""
IN_MEMORY = {"tmpfs", "ramfs"}
FOREIGN = {"nfs", "nfs4", "cifs", "smb3", "9p", "fuse.sshfs", "afs", "ceph"}
"""File systems of another machine, whose locks can't be relied on."""


class MountPoint(NamedTuple):
    """One line of /proc/self/mountinfo: where, what kind, its own options."""

    point: str
    kind: str
    options: str


def look_at_disk(store: Path, mountinfo: Path = Path("/proc/self/mountinfo")) -> Iterator[Finding]:
    """Say whether the store's folder outlives a restart, can be written, and has room."""
    folder = nearest_folder(store)
    yield _lasting(folder, _mounts(mountinfo))
    if not os.access(folder, os.W_OK | os.X_OK):
        yield Finding(
            "wrong", "folder", f"{folder} may not be written; change its owner, or name --store"
        )
    free = shutil.disk_usage(folder).free
    room = f"{_size(free)} free at {folder}"
    if free < LEAST_FREE_BYTES:
        yield Finding("wrong", "space", f"{room}; make room for {_size(LEAST_FREE_BYTES)}")
    else:
        yield Finding("works", "space", room)


def _size(count: float) -> str:
    if count < 1e9:
        return f"{count / 1e6:.0f} MB"
    return f"{count / 1e9:.{0 if count >= 1e10 else 1}f} GB"


def nearest_folder(store: Path) -> Path:
    """Give the nearest folder above the store that is there already."""
    return next(folder for folder in store.absolute().parents if folder.is_dir())


def _lasting(folder: Path, mounts: list[MountPoint]) -> Finding:
    mount = _mount_of(os.path.realpath(folder), mounts)
    if mount is None:
        return Finding("works", "disk", f"{folder}: the system doesn't say what it lies on")
    cure = "name a file on the card or a stick with --store"
    if mount.kind in IN_MEMORY:
        return Finding("wrong", "disk", f"{folder} lies in memory and is lost at a restart; {cure}")
    if mount.kind in FOREIGN:
        return Finding("wrong", "disk", f"{folder} lies on another machine ({mount.kind}); {cure}")
    if mount.kind == "overlay":
        upper = re.search(r"(?:^|,)upperdir=([^,]*)", mount.options)
        under = _mount_of(upper[1], mounts) if upper else None
        if under is not None and under.kind in IN_MEMORY:
            return Finding(
                "wrong", "disk", f"{folder}: an overlay in memory, lost at a restart; {cure}"
            )
        return Finding("note", "disk", f"{folder} on an overlay; see that it outlives a restart")
    return Finding("works", "disk", f"{folder} on {mount.kind}")


def _mounts(mountinfo: Path) -> list[MountPoint]:
    """Read the mounts, later ones last (proc_pid_mountinfo(5)); none where the file isn't."""
    try:
        lines = mountinfo.read_text("utf-8", "replace").splitlines()
    except OSError:
        return []
    mounts = []
    for line in lines:
        words, _, rest = (part.split(" ") for part in line.partition(" - "))
        if len(words) > 4 and len(rest) > 2:
            point = re.sub(r"\\([0-7]{3})", lambda octal: chr(int(octal[1], 8)), words[4])
            mounts.append(MountPoint(point, rest[0], rest[2]))
    return mounts


def _mount_of(path: str, mounts: list[MountPoint]) -> MountPoint | None:
    """Give the mount that a path lies on: the longest point above it, the latest of equals."""
    over = [each for each in mounts if Path(path).is_relative_to(each.point)]
    return max(reversed(over), key=lambda each: len(each.point), default=None)
