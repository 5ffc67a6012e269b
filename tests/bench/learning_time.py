"""What learning and aiming cost with many lots learned, against dense solves of the same size.

    OPENBLAS_NUM_THREADS=1 python tests/bench/learning_time.py [--lots 260] [--bends 2000]

One thread, because numpy's solve waits for a second core that others use.
Yardsticks in the same run: one solve by numpy of a dense system with as many unknowns as there are
terms (the least that a bend would cost if all were solved again instead of folded on), the whole
log folded anew, and the same bend learned with a tenth of the log behind it.
"""

import argparse
import random
import statistics
import sys
import time
from collections.abc import Callable

import numpy as np

from benchmate.shop.parts import Arm, Bench, Die, Sensor, Tube
from benchmate.springback import Bend, Knowledge, Springback

BENCH = Bench(bench="bench", sensor=Sensor(chip="lsm6dso"), arm=Arm(radius_mm=80))
DIE = Die(die="die", for_od_mm=25.0, centreline_radius_mm=75.0, max_angle_deg=180)
TUBE = Tube(
    tube="tube",
    od_mm=25.0,
    wall_mm=2.0,
    grade="E235",
    yield_strength_mpa=235.0,
    tensile_strength_mpa=340.0,
)
TIMES = 41


def bends(lots: int, many: int) -> list[Bend]:
    """Make bends as a shop would, the lots in turn."""
    chance = np.random.default_rng(1)
    made = []
    for number in range(many):
        angle = float(chance.uniform(15, 170))
        peak = 1.02 * angle + 2.2 + float(chance.normal(0, 0.15))
        hit = (peak, angle + 1.8 + float(chance.normal(0, 0.05)), angle)
        lot = f"lot {number % lots}"
        made.append(Bend(die=DIE, tube=TUBE, lot=lot, bend_angle=angle, hits=(hit,)))
    return made


def medians_ms(*tasks: Callable[[], object]) -> list[float]:
    """Give each task's middle time [ms], all taken in turn: what else runs meets all alike."""
    taken: list[list[float]] = [[] for _ in tasks]
    order = list(range(len(tasks)))
    for _ in range(TIMES):
        random.shuffle(order)
        for at in order:
            begun = time.perf_counter()
            tasks[at]()
            taken[at].append(1e3 * (time.perf_counter() - begun))
    return [statistics.median(times) for times in taken]


def model(knowledge: Knowledge | None = None) -> Springback:
    """Give the model of the last lot."""
    return Springback(BENCH, DIE, TUBE, "lot 0", knowledge or Knowledge())


def say(line: str) -> None:
    """Print a line."""
    sys.stdout.write(line + "\n")


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--lots", type=int, default=260)
    parser.add_argument("--bends", type=int, default=2000)
    args = parser.parse_args()
    log = bends(args.lots, args.bends)
    begun = time.perf_counter()
    known = model().learn(log)
    refold_ms = 1e3 * (time.perf_counter() - begun)
    # As many lots met, but a tenth of the bends.
    young = model().learn(log[: max(args.lots, args.bends // 10)])
    terms = len(known.knowledge.keys)
    dumped = known.knowledge.dump()
    matrix = known.knowledge.cov + np.eye(terms)
    side = known.knowledge.mean
    press = (92.0, 89.0, None)
    learn, early, load, first, after, dense = medians_ms(
        lambda: known.learn(log[:1]),
        lambda: young.learn(log[:1]),
        lambda: Knowledge.load(dumped),
        lambda: known.aim(90.0, 0.5),
        lambda: known.aim(90.0, 0.5, hits=(press,)),
        lambda: np.linalg.solve(matrix, side),
    )
    say(f"{terms} terms, {known.knowledge.bends} bends learned; the middle of {TIMES} each")
    say(f"one dense solve of {terms} unknowns: {dense:.2f} ms")
    say(f"the whole log folded anew: {refold_ms:.0f} ms")
    for what, took in (
        ("a bend learned", learn),
        (f"the same with {young.knowledge.bends} bends learned", early),
        ("what was learned loaded", load),
        ("a first aim", first),
        ("an aim after a press", after),
    ):
        say(
            f"{what}: {took:.2f} ms, {took / dense:.2f} times the solve,"
            f" 1/{refold_ms / took:.0f} of the fold"
        )


if __name__ == "__main__":
    main()
