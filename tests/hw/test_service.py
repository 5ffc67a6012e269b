"""The units for a bench without a screen: they start what the program takes."""

import argparse
import configparser
import importlib
import shlex
from pathlib import Path

HW = Path(__file__).parents[2] / "hw"


def unit(name: str) -> configparser.ConfigParser:
    parser = configparser.ConfigParser(interpolation=None, strict=False)
    parser.optionxform = lambda option: option  # systemd's keys have capitals
    parser.read(HW / name)
    return parser


def test_the_service_starts_a_watch_that_the_program_takes():
    python, *words = shlex.split(unit("benchmate@.service")["Service"]["ExecStart"])
    assert python == "%h/benchmate/.venv/bin/python"
    assert words[:4] == ["-P", "-m", "benchmate", "watch"]
    parser = argparse.ArgumentParser(exit_on_error=False)
    importlib.import_module("benchmate.commands.watch").prepare(parser)
    asked = parser.parse_args(words[4:])
    assert asked.job == "%I"
    assert asked.plain


def test_commands_come_through_the_pipe_that_the_guide_names():
    assert unit("benchmate@.service")["Service"]["StandardInput"] == "socket"
    pipe = unit("benchmate@.socket")["Socket"]["ListenFIFO"]
    assert pipe == "%t/benchmate-%i"
    assert "$XDG_RUNTIME_DIR/benchmate-JOB" in (HW / "README.md").read_text()


def test_it_may_write_where_the_store_is_and_nowhere_else():
    service = unit("benchmate@.service")["Service"]
    assert service["ProtectSystem"] == "strict"
    assert service["ReadWritePaths"].split() == ["%t", "-%h/.local/share/benchmate"]
    assert service["NoNewPrivileges"] == "yes"
