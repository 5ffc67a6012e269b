"""Files that are there whole or not at all."""

import os
from collections.abc import Iterable
from pathlib import Path

from benchmate.errors import Failure


def write_whole(path: Path, pieces: Iterable[str | bytes]) -> None:
    """Write a file so that it is there whole or not at all, durable before it has its name.

    Text is written as UTF-8. A pipe or a device is written to as it stands, and a link keeps
    pointing where it does. Failure says why it can't be written.
    """
    try:
        if path.exists() and not path.is_file():
            with path.open("wb") as stream:
                stream.writelines(map(_as_bytes, pieces))
        else:
            _write_beside(path.resolve(), pieces)
    except OSError as error:
        raise Failure(f"{path}: the file can't be written ({error.strerror})") from error


def sync_folder(folder: Path) -> None:
    """Make the names in a folder durable."""
    fd = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        os.fsync(fd)
    finally:
        os.close(fd)


def _write_beside(path: Path, pieces: Iterable[str | bytes]) -> None:
    part = path.with_name(path.name + ".part")
    try:
        with part.open("wb") as file:
            file.writelines(map(_as_bytes, pieces))
            file.flush()
            os.fsync(file.fileno())
        part.rename(path)
        sync_folder(path.parent)
    finally:
        part.unlink(missing_ok=True)


def _as_bytes(piece: str | bytes) -> bytes:
    return piece.encode() if isinstance(piece, str) else piece
