"""However ``watch`` ends, what it said was logged is in the store, and nobody sees a traceback."""

import json
import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from benchmate.places import starter_shop
from benchmate.store import Log

QUICK = ["--simulate", "--operator", "--quick", "--plain"]


def start(
    store: Path, *words: str, command: str = "watch", out: int = subprocess.PIPE
) -> "subprocess.Popen[str]":
    """Start the program as its user does, on the starter shop."""
    program = [sys.executable, "-m", "benchmate", "--shop", str(starter_shop())]
    return subprocess.Popen(
        [*program, "--store", str(store), command, *words],
        stdin=subprocess.PIPE,
        stdout=out,
        stderr=subprocess.PIPE,
        text=True,
    )


@pytest.mark.parametrize("after", [1, 2, 3])
def test_a_kill_loses_no_bend_that_was_said_to_be_logged(tmp_path: Path, after: int) -> None:
    store = tmp_path / "bends.db"
    process = start(store, "cold-frame-rib", *QUICK)
    said: list[str] = []
    for line in process.stdout or ():
        event = json.loads(line)
        if event["event"] == "logged":
            said.append(event["id"])
        if len(said) == after:
            break
    process.send_signal(signal.SIGKILL)
    process.communicate()
    with Log.open(store) as log:
        assert log.check() == []
        kept = {each.record.bend_id for each in log.bends(withdrawn=True)}
    assert set(said) <= kept


def test_a_reader_that_goes_away_is_no_traceback(tmp_path: Path) -> None:
    process = start(tmp_path / "bends.db", "trellis-knee", *QUICK)
    assert process.stdout is not None
    assert process.stderr is not None
    process.stdout.readline()
    process.stdout.close()
    complaint = process.stderr.read()
    assert process.wait() == 1
    assert complaint == ""
    process.stderr.close()
    if process.stdin is not None:
        process.stdin.close()


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="needs a device that is always full")
def test_a_full_disk_behind_the_output_is_one_sentence(tmp_path: Path) -> None:
    full = os.open("/dev/full", os.O_WRONLY)
    process = start(tmp_path / "bends.db", "trellis-knee", *QUICK, out=full)
    os.close(full)
    _, complaint = process.communicate(timeout=50)
    assert process.returncode == 1
    assert complaint == "benchmate: No space left on device\n"


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_an_alignment_told_to_end_says_that_nothing_was_learned(
    tmp_path: Path, number: signal.Signals
) -> None:
    process = start(tmp_path / "bends.db", "--plain", "--simulate", command="align")
    assert process.stdout is not None
    process.stdout.readline()
    process.send_signal(number)
    said, complaint = process.communicate(timeout=20)
    assert (process.returncode, complaint) == (1, "")
    last = json.loads(said.splitlines()[-1])
    assert (last["event"], last["what"]) == ("fault", "alignment")
