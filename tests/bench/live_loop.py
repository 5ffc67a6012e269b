"""How long from the bus to the cue, and whether a sample is lost, with the screen drawing.

Run on purpose: ``python tests/bench/live_loop.py [--seconds 600] [--rate 104]``. The live loop runs
here, on real time, against the simulated chip: driver, estimator, session, writer thread. The real
screen program draws its stream in a process of its own on a pseudo-terminal of 100x30. The
yardstick in the same run is the same loop with nobody drawing. docs/figures.md keeps the table.
"""

import argparse
import os
import pty
import struct
import subprocess
import sys
import tempfile
import threading
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from fcntl import ioctl
from pathlib import Path
from termios import TIOCSWINSZ

import msgspec
import numpy as np

from benchmate import stream
from benchmate.bench.event_loop import EventLoop
from benchmate.bench.inputs import Closed, Notice
from benchmate.bench.pins import Pins
from benchmate.bench.session import Session, Task, begun
from benchmate.bench.writers import LineWriter
from benchmate.clock import MonotonicClock
from benchmate.places import starter_shop
from benchmate.runtime.hardware import simulated_hardware
from benchmate.runtime.simulation import PersonThread, learned_sensor
from benchmate.sensing.sample import Sample
from benchmate.shop import Shop
from benchmate.shop.parts import Signals
from benchmate.sim.operator import Operator
from benchmate.springback import Springback

SCREEN = """
import sys
from benchmate.screen.app import BenchApp
BenchApp(["job"], lambda _: None, lambda job, bend: ["cat", sys.argv[1]], job="job",
         rehearsal=True, cautions=False).run()
"""


class Timed:
    """The estimator, with each sample's time kept and how long ago it was read."""

    def __init__(self, estimator: object) -> None:
        self._estimator = estimator
        self.times: list[float] = []

    def step(self, sample: Sample) -> object:
        """Take one sample."""
        self.times.append(sample.t)
        return self._estimator.step(sample)

    def reset(self) -> None:
        """Start anew."""
        self._estimator.reset()


@contextmanager
def drawing(fifo: Path) -> Iterator[None]:
    """Let the real screen draw what is written to the pipe."""
    leader, follower = pty.openpty()
    ioctl(follower, TIOCSWINSZ, struct.pack("HHHH", 30, 100, 0, 0))
    process = subprocess.Popen(
        [sys.executable, "-c", SCREEN, str(fifo)],
        stdin=follower,
        stdout=follower,
        stderr=subprocess.DEVNULL,
        env={**os.environ, "TERM": "xterm-256color", "COLORTERM": "truecolor"},
    )
    os.close(follower)
    painted = threading.Thread(target=_drain, args=(leader,), daemon=True)
    painted.start()
    yield
    process.terminate()
    process.wait()


def _drain(leader: int) -> None:
    try:
        while os.read(leader, 65536):
            pass
    except OSError:
        return


def run(seconds: float, rate: float, out_path: Path) -> tuple[np.ndarray, np.ndarray]:
    """Run the loop so long; give the delays [ms] from read to said, and gaps [periods]."""
    shop = Shop.open(starter_shop())
    sensor = msgspec.structs.replace(shop.bench.sensor, rate_hz=rate)
    bench = msgspec.structs.replace(shop.bench, sensor=sensor)
    clock = MonotonicClock()
    learned = learned_sensor(bench, 1)
    rig = simulated_hardware(bench, clock, 1)
    die, tube = shop.die("round-25-r75"), shop.tube("e235-25x2")
    rig.world.load(die, tube, "bench")
    # More bends than can be made in the time: the loop is busy throughout.
    task = Task(
        run_id=str(uuid.uuid4()),
        job="bench",
        die=die,
        tube=tube,
        lot="bench",
        tolerance_deg=0.5,
        bend_angles=(60.0,) * 200,
        simulated=True,
    )
    delays: list[float] = []
    estimator = Timed(rig.estimator(learned))
    session = Session(begun(task, Springback(bench, die, tube, "bench")))
    with out_path.open("w") as out:
        writer = LineWriter(out, lambda: None)

        def emit(event: stream.Event) -> None:
            if isinstance(event, stream.Reading) and event.arm is not None:
                delays.append((clock.now() - event.t) * 1e3)
            writer(event)
            person.hear(event)

        live = EventLoop(session, estimator, clock, lambda _, done: done(""), emit)
        person = PersonThread(Operator(rig.world, 1), clock, live.put)
        turns = rig.sampler(learned).turns

        def asked() -> Iterator[Notice]:
            time.sleep(seconds)
            while not session.finished:
                yield Closed(clock.now())
                time.sleep(0.5)

        live.run(turns, asked(), Pins(Signals(), live.press))
        person.stop()
        writer.close()
    gaps = np.diff(estimator.times) * rig.chip.rate_hz
    return np.array(delays), gaps


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seconds", type=float, default=60.0)
    parser.add_argument("--rate", type=float, default=104.0)
    args = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        fifo = Path(folder) / "stream"
        os.mkfifo(fifo)
        with drawing(fifo):
            drawn = run(args.seconds, args.rate, fifo)
        alone = run(args.seconds, args.rate, Path(os.devnull))
    told = sys.stdout.write
    told(f"{args.seconds:g} s each at {args.rate:g} samples a second\n")
    told("                 within 2 ms    p50    p99    worst [ms]  samples  gaps > 1.7 periods\n")
    for name, (delays, gaps) in (("screen drawing", drawn), ("nobody drawing", alone)):
        p50, p99, worst = np.percentile(delays, [50, 99, 100])
        share = np.mean(delays <= 2.0)
        told(
            f"{name:<16} {share:10.2%}  {p50:6.2f} {p99:6.2f} {worst:8.2f}"
            f"   {len(gaps) + 1:10d}   {int(np.sum(gaps > 1.7)):6d}\n"
        )


if __name__ == "__main__":
    main()
