"""Where the shop's files and the store are, when the command line doesn't say.

The environment says first, then the settings: one file that a log-in shell, the console's screen
and the service all go by.
"""

import os
from pathlib import Path

from benchmate.errors import Refusal
from benchmate.wording import printable

SHOP, STORE = "BENCHMATE_SHOP", "BENCHMATE_STORE"


def shop_folder(asked: Path | None) -> Path:
    """Give the shop folder: asked for, named, the user's own, else the starter shop."""
    if asked is not None:
        return _folder(asked, "--shop")
    named, where = _named(SHOP)
    if named is not None:
        return _folder(named, where)
    own = _own_folder()
    return own if (own / "bench.yaml").exists() else starter_shop()


def starter_shop() -> Path:
    """Give the shop that ships with the program."""
    beside = Path(__file__).parent.parent / "configs"
    return beside if beside.is_dir() else Path(__file__).parent / "configs"


def store_file(asked: Path | None) -> Path:
    """Give the store's path: asked for, named, else in the user's data folder."""
    if asked is not None:
        return asked.absolute()
    named, _ = _named(STORE)
    if named is not None:
        return named.absolute()
    data = Path(os.environ.get("XDG_DATA_HOME") or Path.home() / ".local" / "share")
    return (data / "benchmate" / "bends.db").absolute()


def settings_file() -> Path:
    """Give the file of the user's settings, which need not be there."""
    return _own_folder() / "settings"


def _own_folder() -> Path:
    return Path(os.environ.get("XDG_CONFIG_HOME") or Path.home() / ".config") / "benchmate"


def _named(name: str) -> tuple[Path | None, str]:
    """Give the path that environment or settings name, and who named it."""
    if named := os.environ.get(name):
        return Path(named), name
    path = settings_file()
    try:
        lines = path.read_text(encoding="utf-8").splitlines()
    except (FileNotFoundError, NotADirectoryError):
        return None, ""
    except (OSError, UnicodeDecodeError) as error:
        why = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise Refusal(f"{path}: the settings can't be read ({why})") from error
    found: tuple[Path | None, str] = (None, "")
    for number, line in enumerate(lines, start=1):
        key, equals, value = (part.strip() for part in line.partition("="))
        if not key or key.startswith("#"):
            continue
        value = value.strip("\"'")
        if key not in (SHOP, STORE) or not equals or not value:
            says = f"'{printable(line.strip(), 60)}' is no setting"
            raise Refusal(f"{path}:{number}: {says}; write {SHOP}=FOLDER or {STORE}=FILE")
        if key == name:
            found = _expanded(value, f"{path}:{number}"), f"{path}:{number}: {name}"
    return found


def _expanded(value: str, where: str) -> Path:
    try:
        whole = Path(value).expanduser()
    except RuntimeError as error:
        raise Refusal(f"{where}: {printable(value, 200)}: there is no such user") from error
    if not whole.is_absolute():
        raise Refusal(f"{where}: {printable(value, 200)}: write the whole path, from / or ~ on")
    return whole


def choices_file() -> Path:
    """Give the file of what a person chose on the screen: day or night colours."""
    state = os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state"
    return Path(state) / "benchmate" / "screen.json"


def runtime_folders() -> tuple[Path, ...]:
    """Give the folders in which a running bench may be found, the best first.

    The second is there whoever is logged in: a bench started by the service and a person who comes
    by SSH need not share the first.
    """
    state = os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state"
    always = Path(state) / "benchmate" / "running"
    named = os.environ.get("XDG_RUNTIME_DIR")
    return (Path(named) / "benchmate", always) if named else (always,)


def _folder(path: Path, source: str) -> Path:
    if not path.is_dir():
        raise Refusal(f"{path}: {source} names no folder; give one that holds bench.yaml")
    return path.absolute()
