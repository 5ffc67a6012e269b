"""However ``watch`` ends, what it said was logged is in the store, and nobody sees a traceback."""

import json
import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest

from benchmate.cli import main
from benchmate.places import starter_shop
from benchmate.store import Log, Store
from benchmate.wording import is_printable

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
@pytest.mark.parametrize(
    ("unbuffered", "words"),
    [
        ("", ("watch", "trellis-knee", *QUICK)),
        ("1", ("watch", "trellis-knee", *QUICK)),
        ("", ("demo", "trellis-knee", "--text")),
        ("", ("plan", "trellis-knee")),
        ("", ("log",)),
        ("", ("plan", "--help")),
        ("1", ("plan", "--help")),
    ],
)
def test_a_full_disk_behind_the_output_is_one_sentence(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], unbuffered: str
) -> None:
    monkeypatch.setenv("PYTHONUNBUFFERED", unbuffered)
    with Store.open(tmp_path / "bends.db"):
        pass
    full = os.open("/dev/full", os.O_WRONLY)
    process = start(tmp_path / "bends.db", *words[1:], command=words[0], out=full)
    os.close(full)
    _, complaint = process.communicate(timeout=50)
    assert complaint == "benchmate: No space left on device\n"
    assert process.returncode == 1


def test_with_standard_streams_closed_there_is_no_traceback(tmp_path: Path) -> None:
    words = [sys.executable, "-m", "benchmate", "--shop", str(starter_shop()), "--store"]
    words += [str(tmp_path / "bends.db"), "watch", "trellis-knee", *QUICK]
    ran = subprocess.run(
        ["/bin/sh", "-c", 'exec "$@" <&- >&-', "sh", *words],
        capture_output=True,
        text=True,
        check=False,
        timeout=50,
    )
    assert (ran.returncode, ran.stderr) == (0, "")
    with Log.open(tmp_path / "bends.db") as log:
        assert len(list(log.bends())) == 1


def test_what_is_written_is_its_owner_s_alone_whatever_the_umask(tmp_path: Path) -> None:
    store = tmp_path / "data" / "deep" / "bends.db"
    before = os.umask(0)
    try:
        for words in (
            ("watch", "trellis-knee", *QUICK),
            ("log", "export", "-o", str(tmp_path / "data" / "bends.csv")),
            ("sheet", "trellis-knee", "-o", str(tmp_path / "data" / "sheet.svg")),
        ):
            process = start(store, *words[1:], command=words[0])
            process.communicate(timeout=50)
            assert process.returncode == 0
    finally:
        os.umask(before)
    modes = {each.name: stat.S_IMODE(each.stat().st_mode) for each in tmp_path.rglob("*")}
    assert {"deep", "bends.db", "bends.csv", "sheet.svg"} <= set(modes)
    folders = {each.name for each in tmp_path.rglob("*") if each.is_dir()}
    assert {name: f"{mode:o}" for name, mode in modes.items()} == {
        name: "700" if name in folders else "600" for name in modes
    }


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


def test_bytes_that_are_no_text_are_a_bad_command_and_end_nothing(tmp_path: Path) -> None:
    process = start(tmp_path / "bends.db", "trellis-knee", "--plain", "--simulate")
    assert process.stdin is not None
    process.stdin.flush()
    process.stdin.buffer.write(b"zero\xff\x1b[2J\nmeasured \xc3\x28\nquit\n")
    said, complaint = process.communicate(timeout=50)
    faults = [each for each in map(json.loads, said.splitlines()) if each["event"] == "fault"]
    assert [each["what"] for each in faults] == ["command", "command"]
    assert "'zero\\xff" in faults[0]["detail"].replace("\\\\", "\\")
    assert (process.returncode, complaint) == (0, "")


@pytest.mark.parametrize("words", [("plan", "\x1b[2J\a\u202e"), ("plan", "x", "--\x1b[2J\a\u202e")])
def test_what_was_typed_never_steers_the_terminal_that_it_is_told_on(
    capsys: pytest.CaptureFixture[str], words: tuple[str, ...]
) -> None:
    assert main([*words]) == 2
    told = capsys.readouterr().err
    assert "\\x1b[2J\\x07\\u202e" in told
    assert is_printable(told.replace("\n", ""))
