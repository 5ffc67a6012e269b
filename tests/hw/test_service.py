"""The units for a bench without a screen: they start what the program takes."""

import argparse
import configparser
import importlib
import re
import shutil
import subprocess
from pathlib import Path

import pytest

HW = Path(__file__).parents[2] / "hw"
JOBS = ("trellis-knee", "rose arch", "no.2_left", "a - b")
"""Names as jobs may have them: letters, digits, space, - _ and dots."""


def unit(name: str) -> configparser.ConfigParser:
    parser = configparser.ConfigParser(interpolation=None, strict=False)
    parser.optionxform = lambda option: option  # systemd's keys have capitals
    parser.read_string(re.sub(r"\\\n\s*", "", (HW / name).read_text()))
    return parser


def unescaped(instance: str) -> str:
    """Give what systemd puts for %I: its own escapes undone (systemd.unit(5))."""
    plain = instance.replace("-", "/")
    return re.sub(r"\\x([0-9a-f]{2})", lambda code: chr(int(code[1], 16)), plain)


def escaped(name: str) -> str:
    """Give what ``systemd-escape NAME`` does: all but letters, digits and : _ . as escapes."""
    shown = re.sub(r"[^A-Za-z0-9:_./]", lambda letter: f"\\x{ord(letter[0]):02x}", name)
    return shown.replace("/", "-")


def started(instance: str, folder: Path) -> list[str]:
    """Run the unit's own command for an instance, with a stand-in for Python; give its words."""
    python = folder / "python"
    python.write_text('#!/bin/sh\nprintf "%s\\n" "$@"\n')
    python.chmod(0o755)
    line = unit("benchmate@.service")["Service"]["ExecStart"]
    assert line.endswith(" %h/benchmate/.venv/bin/python %I")
    shell, option, script = re.match(r"(\S+) (-c) '(.*)' ", line).groups()
    # %% is systemd's way to write a %.
    words = [shell, option, script.replace("%%", "%"), str(python), unescaped(instance)]
    ran = subprocess.run(words, capture_output=True, text=True, check=True, timeout=30)
    return ran.stdout.splitlines()


@pytest.mark.parametrize("job", JOBS)
def test_the_service_watches_the_job_whose_name_stands_after_the_at(job, tmp_path):
    written = {escaped(job)} | ({job} if " " not in job else set())
    for instance in written:
        words = started(instance, tmp_path)
        assert words[:3] == ["-P", "-m", "benchmate"]
        parser = argparse.ArgumentParser(exit_on_error=False)
        importlib.import_module("benchmate.commands.watch").prepare(parser)
        asked = parser.parse_args(words[4:])
        assert (words[3], asked.job, asked.plain) == ("watch", job, True)
        # After a pulled plug there is nobody who could be asked.
        assert asked.go_on


@pytest.mark.skipif(not shutil.which("systemd-escape"), reason="needs systemd's own escaping")
@pytest.mark.parametrize("job", JOBS)
def test_systemd_escapes_names_as_is_thought_here(job):
    tool = str(shutil.which("systemd-escape"))
    given = subprocess.run(
        [tool, "--", job], capture_output=True, text=True, check=True, timeout=30
    )
    assert given.stdout.rstrip("\n") == escaped(job)
    back = [tool, "--unescape", "--", escaped(job)]
    undone = subprocess.run(back, capture_output=True, text=True, check=True, timeout=30)
    assert undone.stdout.rstrip("\n") == unescaped(escaped(job)) == job


def test_commands_come_through_the_pipe_that_the_guide_names():
    assert unit("benchmate@.service")["Service"]["StandardInput"] == "socket"
    pipe = unit("benchmate@.socket")["Socket"]["ListenFIFO"]
    # As it stands after the @, and not with its - made into /.
    assert pipe == "%t/benchmate-%i"
    assert "$XDG_RUNTIME_DIR/benchmate-JOB" in (HW / "README.md").read_text()


def test_it_may_write_where_the_store_is_and_nowhere_else():
    service = unit("benchmate@.service")["Service"]
    assert service["ProtectSystem"] == "strict"
    assert service["ReadWritePaths"].split() == ["-%h/.local/share/benchmate"]
    assert service["NoNewPrivileges"] == "yes"


def test_a_user_s_own_service_has_the_name_space_that_its_hardening_needs():
    assert unit("benchmate@.service")["Service"]["PrivateUsers"] == "yes"


@pytest.mark.skipif(not shutil.which("systemd-analyze"), reason="needs systemd's own measure")
def test_systemd_itself_finds_little_exposed():
    words = [str(shutil.which("systemd-analyze")), "security", "--offline=true", "--no-pager"]
    path = str(HW / "benchmate@.service")
    ran = subprocess.run([*words, path], capture_output=True, text=True, check=False, timeout=30)
    level = re.search(r"exposure level for .*: ([0-9.]+)", ran.stdout)
    if level is None:
        pytest.skip("this systemd-analyze can't measure a unit's file")
    assert float(level[1]) <= 1.5


def test_what_is_wrong_is_not_tried_again_and_a_bench_that_hangs_is():
    whole = unit("benchmate@.service")
    service = whole["Service"]
    assert service["RestartPreventExitStatus"] == "2"
    assert service["Restart"] == "on-failure"
    assert service["Type"] == "notify"
    assert float(service["WatchdogSec"]) > 5.0
    assert int(whole["Unit"]["StartLimitBurst"]) <= 5
