"""What one sample costs from the bus to the cue, and whether anything grows over an hour of them.

    python tests/bench/sample_cost.py [--minutes 60] [--only CHIP]

A bus that takes no time replays one pumped bend over and over, as the chip's registers show it, at
the chip's own rate; driver, health, estimator, tracker and guide take each sample. The yardstick in
the same run is a bare loop of the same transfers. docs/figures.md keeps the table.
"""

import argparse
import gc
import resource
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1] / "sensing"))
import looped  # the tests' own, found by the line above
import shaken_arm

CHIPS = ("lsm6dso", "adxl355", "adxl345", "as5600")
REACH_US = 150.0
MOST_BLOCKS = 1000
"""What a quarter second of samples in hand comes and goes by; one kept a sample makes 700,000."""


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--minutes", type=float, default=60.0)
    parser.add_argument("--only", default="")
    asked = parser.parse_args()
    say(f"{asked.minutes:g} minutes of samples each; reach: {REACH_US:g} us, flat memory")
    missed = [chip for chip in CHIPS if asked.only in chip and not row(chip, asked.minutes)]
    return 1 if missed else 0


def row(chip: str, minutes: float) -> bool:
    """Run one chip's samples; tell its cost and growth, and give whether both are in reach."""
    loop = looped.Looped(shaken_arm, chip)
    samples = round(minutes * 60.0 * loop.facts.rate_hz)
    bends = max(samples // loop.bend_samples, 3)
    n = loop.bend_samples
    timed(loop.step, n)
    blocks, resident = blocks_held(), resident_kb()
    spent = sorted(timed(loop.step, n) for _ in range(bends))
    grown, more = blocks_held() - blocks - bends, resident_kb() - resident
    bare = sorted(timed(loop.bare, n) for _ in range(min(bends, 20)))
    cost, worst, yardstick = (
        1e6 * t / n for t in (spent[len(spent) // 2], spent[-1], bare[len(bare) // 2])
    )
    ok = cost < REACH_US and grown < MOST_BLOCKS
    say(
        f"{chip:8} {bends * n:7d} samples, {sum(loop.peaks_deg.values()) - 1} of {bends} bends "
        f"{cost:5.1f} us a sample (slowest bend {worst:5.1f}), bare transfers {yardstick:4.1f}   "
        f"memory: {grown:+d} blocks, {more:+d} kB   {'ok' if ok else 'MISSED'}"
    )
    return ok


def blocks_held() -> int:
    """Give how many memory blocks are held once what is garbage is gone."""
    gc.collect()
    return sys.getallocatedblocks()


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def timed(step: object, times: int) -> float:
    """Give how much of a processor's time [s] so many calls take."""
    began = time.process_time()
    for _ in range(times):
        step()
    return time.process_time() - began


def resident_kb() -> int:
    """Give the largest resident size so far."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


if __name__ == "__main__":
    raise SystemExit(main())
