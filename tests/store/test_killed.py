"""kill -9 at any moment: every row with a receipt is there, and the chain holds."""

import contextlib
import random
import signal
import subprocess
import sys
import time

from benchmate.store import Log, Store

WRITER = """
import sys, uuid
from pathlib import Path
from benchmate.store import BendRecord, HitRecord, Store

with Store.open(Path(sys.argv[1])) as store:
    print("open", flush=True)
    for number in range(1, 100000):
        hit = HitRecord(stop_angle=93.0, stop_sd=0.5, peak=93.1, rest=91.0)
        bend = BendRecord(bend_id=str(uuid.uuid4()), job="gate", bend=number, die="d", tube="t",
            lot="", bend_angle=90.0, tolerance=0.5, hits=(hit,), verdict="accept", setup={},
            trace=bytes(2000))
        store.append(bend).result()
        print(number, flush=True)
"""


def test_no_row_with_a_receipt_is_lost(tmp_path):
    chance = random.Random(4)
    for run in range(3):
        path = tmp_path / f"{run}.db"
        with subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path)], stdout=subprocess.PIPE, text=True
        ) as writer:
            assert writer.stdout.readline() == "open\n"
            seen = 0
            for _ in range(chance.randrange(1, 12)):
                seen = int(writer.stdout.readline())
            spin_until = time.perf_counter() + chance.uniform(0.0, 0.01)
            while time.perf_counter() < spin_until:
                pass
            writer.send_signal(signal.SIGKILL)
            for line in writer.stdout:
                with contextlib.suppress(ValueError):
                    seen = int(line)
        # The lock went with the process; the store opens, and what was promised is there.
        with Store.open(path) as store, Log.open(path) as log:
            found = [each.record.bend for each in log.bends()]
            assert found[:seen] == list(range(1, seen + 1))
            assert len(found) <= seen + 1
            assert log.check() == []
            assert store.keep("mount", "here", {}).result() == 1
