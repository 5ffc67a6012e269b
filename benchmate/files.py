"""Files that are their owner's alone, and there whole or not at all."""

import os
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Self

from benchmate.errors import Failure

_FILE_MODE = 0o600
_FOLDER_MODE = 0o700


def write_whole(path: Path, pieces: Iterable[str | bytes]) -> None:
    """Write a file so that it is there whole or not at all, durable before it has its name.

    Text is written as UTF-8. A file that was there lends the new one its mode. A pipe or a device
    is written to as it stands, and a link keeps pointing where it does. Failure says why it can't
    be written.
    """
    try:
        if path.exists() and not path.is_file():
            with path.open("wb") as stream:
                stream.writelines(map(_as_bytes, pieces))
        else:
            _write_beside(path.resolve(), pieces)
    except OSError as error:
        raise Failure(f"{path}: the file can't be written ({error.strerror})") from error


def make_folders(folder: Path) -> None:
    """Make a folder and those above it where they are missing, for their owner alone."""
    for each in reversed([each for each in (folder, *folder.parents) if not each.exists()]):
        each.mkdir(exist_ok=True)
        # Whatever the umask took or left.
        each.chmod(_FOLDER_MODE)
        sync_folder(each.parent)


def create(path: Path, flags: int = os.O_EXCL) -> int:
    """Make a file for its owner alone and open it to read and write; gives its descriptor."""
    new = not path.exists()
    fd = os.open(path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC | flags, _FILE_MODE)
    if new:
        # A stick's file system may know no owners.
        with suppress(OSError):
            os.fchmod(fd, _FILE_MODE)
    return fd


def sync_file(path: Path) -> None:
    """Make a file's content durable."""
    _sync(path, os.O_RDWR)


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable."""
    _sync(folder, os.O_RDONLY | os.O_DIRECTORY)


@dataclass(frozen=True, slots=True)
class FileIdentity:
    """Which file lies under a name: device and inode (stat(2)), and how long it is."""

    device: int
    inode: int
    size: int

    @classmethod
    def of(cls, path: Path) -> Self | None:
        """Look at the file under that name; None when there is none."""
        try:
            found = path.stat()
        except (FileNotFoundError, NotADirectoryError):
            return None
        return cls(found.st_dev, found.st_ino, found.st_size)

    def same_file(self, other: "FileIdentity | None") -> bool:
        """Say whether both are one file, whatever was written to it."""
        return other is not None and (self.device, self.inode) == (other.device, other.inode)


def _write_beside(path: Path, pieces: Iterable[str | bytes]) -> None:
    part = path.with_name(path.name + ".part")
    part.unlink(missing_ok=True)
    try:
        with os.fdopen(create(part), "wb") as file:
            file.writelines(map(_as_bytes, pieces))
            file.flush()
            if path.exists():
                with suppress(OSError):
                    os.fchmod(file.fileno(), path.stat().st_mode & 0o777)
            os.fsync(file.fileno())
        part.rename(path)
        sync_folder(path.parent)
    finally:
        part.unlink(missing_ok=True)


def _sync(path: Path, flags: int) -> None:
    fd = os.open(path, flags | os.O_CLOEXEC)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def _as_bytes(piece: str | bytes) -> bytes:
    return piece.encode() if isinstance(piece, str) else piece
