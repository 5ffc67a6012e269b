"""A stand-in for the bench process: a scripted arm in real time, speaking the plain stream.

    python tests/screen/fake_bench.py [--by-itself] [--die-after SECONDS] [--bend N]

It needs what a bench needs (zero, next) on standard input; ``--by-itself`` gives these to itself.
"""

import argparse
import math
import queue
import sys
import threading
import time
from collections.abc import Iterator

from benchmate.stream import (
    Cue,
    Done,
    Event,
    Logged,
    Peak,
    Phase,
    Reading,
    Rest,
    Target,
    Verdict,
    write_event,
)

READINGS_A_SECOND = 50
BENDS = ((90.0, 93.4), (45.0, 47.1), (120.0, 124.6))


class Script:
    """One pass through the bends; the arm moves as the clock does."""

    def __init__(self, options: argparse.Namespace) -> None:
        self.by_itself = options.by_itself
        self.ends_at = time.monotonic() + options.die_after
        self.first = options.bend
        self.asked: queue.Queue[str] = queue.Queue()
        self.shut = threading.Event()
        self.stop = 0.0
        threading.Thread(target=self.listen, daemon=True).start()

    def listen(self) -> None:
        for line in sys.stdin:
            self.asked.put(line.strip())
        self.shut.set()

    def say(self, event: Event) -> None:
        sys.stdout.write(write_event(event) + "\n")
        sys.stdout.flush()

    def read(self, arm: float, phase: Phase, cue: Cue, rate: float = 0.0) -> None:
        if time.monotonic() > self.ends_at:
            raise SystemExit("the script was told to end here")
        to_go = self.stop - arm
        strokes = max(to_go, 0.0) / 3.0 if phase == "bending" else None
        self.say(
            Reading(
                t=time.monotonic(),
                arm=arm,
                rate=rate,
                sd=0.07,
                to_go=to_go,
                phase=phase,
                cue=cue,
                strokes=strokes,
            )
        )
        time.sleep(1 / READINGS_A_SECOND)

    def wait_for(self, words: set[str], arm: float, phase: Phase) -> str:
        deadline = time.monotonic() + 1.2
        while not self.shut.is_set():
            self.read(arm, phase, "wait")
            if self.by_itself and time.monotonic() > deadline:
                return next(iter(words))
            try:
                word = self.asked.get_nowait()
            except queue.Empty:
                continue
            if word in words:
                return word
        raise SystemExit(0)

    def rise(self, start: float) -> Iterator[tuple[float, float]]:
        began = time.monotonic()
        while True:
            t = time.monotonic() - began
            arm = start + 9.0 * t + 1.1 * math.sin(7.0 * t)
            yield arm, 9.0 + 7.7 * math.cos(7.0 * t)
            if arm >= self.stop + 0.1:
                return

    def hit(self, start: float, springback: float) -> tuple[float, float]:
        peak = start
        for arm, rate in self.rise(start):
            peak = max(peak, arm)
            near = self.stop - arm
            self.read(
                arm, "bending", "pump" if near > 4 else "slow" if near > 0.3 else "stop", rate
            )
        for _ in range(40):
            self.read(peak, "holding", "release")
        self.say(Peak(arm=peak))
        for step in range(12):
            self.read(peak - springback * step / 12, "releasing", "wait", -15.0)
        for _ in range(25):
            self.read(peak - springback, "resting", "wait")
        self.say(Rest(arm=peak - springback, springback=springback))
        return peak, peak - springback

    def run(self) -> None:
        for number, (wanted, stop) in enumerate(BENDS, start=1):
            if number >= self.first:
                self.bend(number, wanted, stop)
        self.say(Done())

    def bend(self, number: int, wanted: float, stop: float) -> None:
        springback = stop - wanted
        rest, hits = 0.0, 2 if number == 1 else 1
        for hit in range(1, hits + 1):
            short = 1.2 if hit < hits else 0.0
            self.stop = stop - short
            self.say(
                Target(
                    bend=number,
                    hit=hit,
                    bend_angle=wanted,
                    stop_angle=self.stop,
                    sd=0.9 / (number + hit - 1),
                    tolerance=0.5,
                    bends=len(BENDS),
                    over_angle=stop + 0.6,
                )
            )
            if hit == 1:
                self.wait_for({"zero"}, 0.0, "zeroing")
                for _ in range(25):
                    self.read(0.0, "zeroing", "wait")
                for _ in range(25):
                    self.read(0.0, "ready", "pump")
            _, rest = self.hit(rest, springback)
            found = Verdict(
                say="again" if hit < hits else "accept",
                bend_angle=rest,
                sd=0.15,
                stop_angle=stop if hit < hits else None,
                bend=number,
                hits=hit,
            )
            self.say(found)
            if hit == hits:
                self.say(Logged(id=f"0198-{number:04d}", bend=number))
            self.wait_for({"next"}, rest, "logged")


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--by-itself", action="store_true")
    parser.add_argument("--die-after", type=float, default=math.inf)
    parser.add_argument("--bend", type=int, default=1)
    Script(parser.parse_args()).run()


if __name__ == "__main__":
    main()
