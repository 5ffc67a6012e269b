"""Where the shop's files and the store are, when the command line doesn't say."""

import os
from pathlib import Path

from benchmate.errors import Refusal


def shop_folder(asked: Path | None) -> Path:
    """Give the shop folder: asked for, $BENCHMATE_SHOP, the user's own, else the starter shop."""
    if asked is not None:
        return _folder(asked, "--shop")
    if named := os.environ.get("BENCHMATE_SHOP"):
        return _folder(Path(named), "BENCHMATE_SHOP")
    own = Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "benchmate"
    return own if (own / "bench.yaml").exists() else starter_shop()


def starter_shop() -> Path:
    """Give the shop that ships with the program."""
    beside = Path(__file__).parent.parent / "configs"
    return beside if beside.is_dir() else Path(__file__).parent / "configs"


def store_file(asked: Path | None) -> Path:
    """Give the store's path: asked for, $BENCHMATE_STORE, else in the user's data folder."""
    if asked is not None:
        return asked.absolute()
    if named := os.environ.get("BENCHMATE_STORE"):
        return Path(named).absolute()
    data = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    return (data / "benchmate" / "bends.db").absolute()


def _folder(path: Path, source: str) -> Path:
    if not path.is_dir():
        raise Refusal(f"{path}: {source} names no folder; give one that holds bench.yaml")
    return path.absolute()
