"""A checkout and a machine of its own for each test of hw/setup.sh."""

import shutil
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]

# Answers as a Python does that is fit for benchmate, makes environments that point back to
# itself, and writes down what it was asked for.
PYTHON = """#!/bin/sh
echo "$(basename "$0") $*" >>"$CALLS"
case "$*" in
    *"sys.version_info"*) exit "${VERSION_TOO_OLD:-0}" ;;
    *"sys.maxsize"*) exit "${NARROW:-0}" ;;
    *"import ensurepip"*) exit "${NO_VENV:-0}" ;;
    *"realpath"*) readlink -f "$0" ;;
    *"import pip"*) [ -e "$(dirname "$0")/../has-pip" ] ;;
    *"find_spec"*) exit "${NO_LGPIO:-0}" ;;
    "-m venv"*)
        [ -z "${VENV_SAYS-}" ] || { echo "$VENV_SAYS"; exit 1; }
        for folder in "$@"; do :; done
        mkdir -p "$folder/bin" && touch "$folder/has-pip"
        ln -sf "$(readlink -f "$0")" "$folder/bin/python" ;;
    "-m pip"*) [ -z "${PIP_SAYS-}" ] || { echo "$PIP_SAYS"; exit 1; } ;;
    "-m benchmate check"*)
        cd "$(dirname "$0")/../.."
        [ ! -e broken ] || { echo "wrong    broken"; exit 1; }
        exit "${CHECK_STATUS:-0}" ;;
    "-m benchmate"*) pwd; shift 2; printf '<%s>' "$@"; exit "${STATUS:-0}" ;;
    "-m pytest"*) pwd; exit "${STATUS:-0}" ;;
    *) echo "not expected: $*" >&2; exit 99 ;;
esac
"""


class Checkout:
    """A checkout of its own and a machine of its own to set it up on."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "bench mate"
        (self.folder / "hw").mkdir(parents=True)
        for name in ("setup.sh", "benchmate", "requirements.lock", "requirements-test.lock"):
            shutil.copy(ROOT / "hw" / name, self.folder / "hw")
        shutil.copy(ROOT / "pyproject.toml", self.folder)
        self.model = folder / "model"
        self._read_model_from(self.model)
        self.calls = folder / "calls"
        self.home = folder / "home"
        self.home.mkdir()
        self.tools = folder / "tools"
        self.tools.mkdir()
        for name in ("awk", "basename", "cat", "cksum", "date", "df", "dirname", "flock", "git",
                     "grep", "id", "ln", "mkdir", "mv", "readlink", "rm", "sh", "sync", "tail",
                     "touch", "tr"):  # fmt: skip
            (self.tools / name).symlink_to(str(shutil.which(name)))
        self.add_python("python3")

    def _read_model_from(self, file: Path) -> None:
        script = self.folder / "hw" / "setup.sh"
        text = script.read_text()
        assert "/proc/device-tree/model" in text
        text = text.replace("/proc/device-tree/model", f"'{file}'")
        script.write_text(text.replace("/usr/bin/python3", "python3"))

    def add_python(self, name: str, at_pip: str = "") -> None:
        """Add a stand-in; ``at_pip``: what it does before it installs, for a shell."""
        python = self.tools / name
        python.write_text(PYTHON.replace('"-m pip"*)', f'"-m pip"*) {at_pip}'))
        python.chmod(0o755)

    def run(self, *words: str, **environment: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [str(self.tools / "sh"), str(self.folder / "hw" / "setup.sh"), *words],
            env={"PATH": str(self.tools), "CALLS": str(self.calls), "HOME": str(self.home)}
            | environment,
            cwd=self.folder.parent,
            capture_output=True,
            text=True,
            timeout=50,
            check=False,
        )

    def asked_for(self) -> list[str]:
        """Give what Python was called with since the last look."""
        lines = self.calls.read_text().splitlines()
        self.calls.unlink()
        return lines


@pytest.fixture
def checkout(tmp_path: Path) -> Checkout:
    return Checkout(tmp_path)
