"""The program as another program has it: a process, its streams, and a chip on its bus.

Nothing here knows the code. A person of the test's own works the pump of a bender of the test's own
(``wired/``), in real time.
"""

import json
import os
import shutil
import socket
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from benchmate.places import starter_shop

Event = dict[str, Any]
REACTION_S = 0.25


class Process:
    """One run of the program with a bender on its bus."""

    def __init__(self, shop: Path, store: Path, how: Event, words: tuple[str, ...]) -> None:
        # A socket's path may be no longer than about a hundred characters.
        self._folder = tempfile.mkdtemp(prefix="bm")
        self._door = os.path.join(self._folder, "b")  # noqa: PTH118 - sockets take strings
        wired = str(Path(__file__).parent / "wired")
        others = os.environ.get("PYTHONPATH")
        environment = os.environ | {
            "PYTHONPATH": os.pathsep.join((wired, others)) if others else wired,
            "BENDER_SOCKET": self._door,
            "BENDER": json.dumps(how),
            "GPIOZERO_PIN_FACTORY": "mock",
            "GPIOZERO_MOCK_PIN_CLASS": "mockpwmpin",
        }
        program = [sys.executable, "-m", "benchmate", "--shop", str(shop), "--store", str(store)]
        self.process = subprocess.Popen(
            [*program, *words],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            bufsize=1,
            env=environment,
            cwd=self._folder,
        )
        self.events: list[Event] = []
        self.heard_at: list[float] = []
        self._next = 0
        self._more = threading.Condition()
        self._over = False
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()
        self._mouth = socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)
        self._mouth.bind(self._door + "m")
        self._mouth.settimeout(5.0)

    def _read(self) -> None:
        for line in self.process.stdout or ():
            with self._more:
                self.events.append(json.loads(line))
                self.heard_at.append(time.monotonic())
                self._more.notify_all()
        with self._more:
            self._over = True
            self._more.notify_all()

    def say(self, word: str) -> None:
        """Write one command."""
        assert self.process.stdin is not None
        self.process.stdin.write(word + "\n")

    def bender(self, words: str) -> Event:
        """Tell the bender something; give the truth about it."""
        for _ in range(200):
            try:
                self._mouth.sendto(words.encode(), self._door)
                break
            except (FileNotFoundError, ConnectionRefusedError):
                time.sleep(0.02)
        truth: Event = json.loads(self._mouth.recv(65536))
        return truth

    def until(self, wanted: Callable[[Event], bool], seconds: float = 15.0) -> Event:
        """Give the next event that is wanted."""
        end = time.monotonic() + seconds
        with self._more:
            while True:
                while self._next < len(self.events):
                    self._next += 1
                    if wanted(self.events[self._next - 1]):
                        return self.events[self._next - 1]
                said = [event for event in self.events if event["event"] != "reading"]
                assert not self._over, f"it ended after {said[-5:]}"
                assert self._more.wait(end - time.monotonic()), f"it only said {said[-5:]}"

    def event(self, kind: str, **keys: object) -> Event:
        """Give the next event of this kind with these values."""
        return self.until(lambda e: e["event"] == kind and all(e[key] == keys[key] for key in keys))

    def zero(self) -> None:
        """Take zero."""
        self.event("reading", phase="zeroing")
        self.say("zero")
        self.event("reading", phase="ready")

    def stop_on_cue(self) -> Event:
        """Stop pumping a person's reaction after the stop cue; give the truth then.

        Its "late_s" is what this computer took on top of the reaction.
        """
        cue = self.until(lambda e: e.get("cue") in ("stop", "over"))
        time.sleep(REACTION_S)
        self.bender("hold")
        late_s = time.monotonic() - cue["t"] - REACTION_S
        time.sleep(0.5)
        return self.bender("truth") | {"late_s": late_s}

    def end(self) -> tuple[int, str]:
        """Give exit status and what it wrote to standard error."""
        status = self.process.wait(15.0)
        self._reader.join(5.0)
        return status, self.process.stderr.read() if self.process.stderr is not None else ""

    def close(self) -> None:
        """Leave nothing behind."""
        self.process.kill()
        self.process.wait()
        for pipe in (self.process.stdin, self.process.stdout, self.process.stderr):
            if pipe is not None:
                pipe.close()
        self._mouth.close()
        shutil.rmtree(self._folder, ignore_errors=True)


class Workshop:
    """A shop and a store of a test's own, and processes on its bender."""

    def __init__(self, folder: Path) -> None:
        self.shop = folder / "shop"
        self.store = folder / "bends.db"
        self.how: Event = {}
        self.processes: list[Process] = []
        shutil.copytree(starter_shop(), self.shop)

    def edit(self, file: str, old: str, new: str) -> None:
        """Write something else into a shop file."""
        path = self.shop / file
        text = path.read_text(encoding="utf-8")
        assert old in text
        path.write_text(text.replace(old, new), encoding="utf-8")

    def start(self, *words: str) -> Process:
        """Start the program with its bender."""
        self.processes.append(Process(self.shop, self.store, self.how, words))
        return self.processes[-1]

    def align(self) -> Event:
        """Swing the arm once."""
        process = self.start("align", "--plain")
        process.event("reading")
        process.say("begin")
        time.sleep(0.5)
        process.bender("move 80 60")
        time.sleep(2.0)
        process.say("end")
        aligned = process.until(lambda e: e["event"] != "reading")
        assert aligned["event"] == "aligned", aligned
        assert process.end() == (0, "")
        return aligned

    def run(self, *words: str) -> "subprocess.CompletedProcess[str]":
        """Run the program to its end, with nothing on its bus."""
        program = [sys.executable, "-m", "benchmate"]
        files = ["--shop", str(self.shop), "--store", str(self.store)]
        return subprocess.run(
            [*program, *files, *words], capture_output=True, text=True, check=False, timeout=50
        )


@pytest.fixture
def workshop(tmp_path: Path) -> Iterator[Workshop]:
    made = Workshop(tmp_path)
    yield made
    for process in made.processes:
        process.close()
