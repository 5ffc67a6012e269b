"""Hits against the best policy for the same belief and person, and of bends moved by re-planning.

    python tests/bench/best_policy.py [--setups 20] [--pieces 200] [--offset 0] [--learned 12]

The yardstick is dynamic programming, one setup at a time: after a press the state is the gap from
what the tube is believed to have to its bend angle, on a grid; the actions are to accept, or to
press again to any target on the grid; the price is a hit each, and one for over-bent and one for
under-bent. Belief and doubt are the program's own, readings and pieces the same, and of all prices
on a grid those are shown that take the fewest hits with no more bends over or out of tolerance, as
counted on the same pieces. So hindsight chose them, which favours the yardstick.
"""

import argparse
import itertools
import math
import sys
from collections.abc import Callable
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent))
from angle_hit import (
    OPERATOR,
    PEAK,
    REST,
    ZERO,
    Truth,
    World,
)  # found by the line above

from benchmate.shop.parts import Arm, Bench, Sensor
from benchmate.springback import Bend, Springback
from benchmate.springback.limits import limits

TOLERANCE, MOST_HITS = 0.5, 8
GRID = np.arange(-2.0, 6.0, 0.02)
"""Gaps [deg]: bend angle less what is believed."""
TARGETS = np.arange(-0.6, 0.6, 0.02)
"""Where a press may be aimed, past the bend angle [deg]."""
OVER, UNDER = (2.0, 4.0, 8.0, 15.0), (1.5, 2.0, 2.5, 3.0, 4.0)
"""Prices in hits."""
MOVES = (-0.4, -0.2, 0.0, 0.2, 0.4)

Piece = tuple[float, float, float, np.ndarray]
"""Bend angle, the piece's own, its zero's error, and the errors of its presses."""


def normal(z: np.ndarray) -> np.ndarray:
    """Give the standard normal distribution function."""
    return 0.5 * np.vectorize(math.erfc)(-np.asarray(z) / math.sqrt(2.0))


def policy(after: float, first: float, again: float, over: float, under: float) -> tuple:
    """Give the first target, where to press again (by gap), and to what target.

    ``after`` is the doubt of the tube's angle after a reading, ``first`` and ``again`` what a press
    leaves it scattered by about its target [deg, 1 sd].
    """
    taken = over * normal((-GRID - TOLERANCE) / after) + under * normal((GRID - TOLERANCE) / after)
    value = taken.copy()

    def lands(sd: float) -> np.ndarray:
        """Rows of chances over the grid, one a target."""
        seen = math.sqrt(max(sd * sd - after * after, 0.05**2))
        rows = np.exp(-0.5 * ((GRID[None, :] + TARGETS[:, None]) / seen) ** 2)
        return rows / rows.sum(axis=1, keepdims=True)

    on = lands(again)
    # A press goes past what the tube has: no target below.
    below = TARGETS[None, :] <= -GRID[:, None]
    for _ in range(60):
        by_target = np.where(below, np.inf, (on @ value)[None, :])
        better = np.minimum(taken, 1.0 + by_target.min(axis=1))
        if np.abs(better - value).max() < 1e-6:
            break
        value = better
    presses = taken > 1.0 + by_target.min(axis=1)
    return TARGETS[np.argmin(lands(first) @ value)], presses, TARGETS[by_target.argmin(axis=1)]


class Shop:
    """One setup that has been bent often enough, and the pieces to come."""

    def __init__(self, seed: int, learned: int, pieces: int) -> None:
        self.truth = Truth(np.random.default_rng([seed, 7]), World("policy"))
        rng = np.random.default_rng([seed, 9])
        bench = Bench(bench="sim", sensor=Sensor(chip="lsm6dso"), arm=Arm(radius_mm=80.0))
        self.model = Springback(bench, self.truth.die, self.truth.tube, "A")
        for _ in range(learned):
            self._learn(rng)
        # One angle a setup: the yardstick's sums are done once.
        wanted = float(rng.uniform(12, 70))
        self.pieces: list[Piece] = [
            (wanted, self.truth.piece(wanted), rng.normal(0, ZERO), rng.normal(size=(MOST_HITS, 3)))
            for _ in range(pieces)
        ]

    def _learn(self, rng: np.random.Generator) -> None:
        wanted = float(rng.uniform(12, 70))
        piece = self.truth.piece(wanted)
        stop = self.model.aim(wanted, TOLERANCE).stop_angle
        peak = stop + rng.normal(0, OPERATOR)
        now = self.truth.bent(peak + rng.normal(0, PEAK), piece)
        hit = (peak, now + self.truth.slack + rng.normal(0, REST), now + rng.normal(0, 0.12))
        self.model = self.model.learn(
            [
                Bend(
                    die=self.truth.die,
                    tube=self.truth.tube,
                    lot="A",
                    bend_angle=wanted,
                    hits=(hit,),
                    stop_angles=(stop,),
                )
            ]
        )

    def press(self, piece: Piece, hits: list, now: float, stop: float) -> float:
        """Press once; give the angle that the tube has by now."""
        _, own, zero, errors = piece
        at_stop, at_peak, at_rest = errors[len(hits)] * (OPERATOR, PEAK, REST)
        shown = stop + at_stop
        now = max(now, self.truth.bent(shown - zero - at_peak, own))
        hits.append((shown, now + self.truth.slack + zero + at_rest, None))
        return now

    def by_program(self, piece: Piece, moved: float = 0.0) -> tuple[float, int]:
        """Give error and hits of a piece by the program's aims."""
        drawn = piece[0]
        wanted = drawn + moved
        bounds = limits(drawn, wanted, TOLERANCE)
        hits: list = []
        now, aim = 0.0, self.model.aim(wanted, TOLERANCE, limits=bounds)
        while aim.verdict == "again" and len(hits) < MOST_HITS:
            now = self.press(piece, hits, now, aim.stop_angle)
            aim = self.model.aim(wanted, TOLERANCE, tuple(hits), limits=bounds)
        return now - drawn, len(hits)

    def by_policy(self, piece: Piece, to: tuple) -> tuple[float, int]:
        """Give error and hits by the yardstick, that believes as the program does."""
        first, presses, best = to
        wanted = piece[0]
        steep = 1.0 / self._slope()
        hits: list = []
        aim = self.model.aim(wanted, TOLERANCE)
        target = wanted + first
        now = 0.0
        while len(hits) < MOST_HITS:
            stop = aim.stop_angle + (target - aim.expected) * steep
            now = self.press(piece, hits, now, max(stop, hits[-1][0] if hits else 0.0))
            aim = self.model.aim(wanted, TOLERANCE, tuple(hits))
            at = int(np.clip(round((wanted - aim.bend_angle - GRID[0]) / 0.02), 0, len(GRID) - 1))
            if not presses[at]:
                break
            target = wanted + best[at]
        return now - wanted, len(hits)

    def _slope(self) -> float:
        curve = [self.model.aim(angle, TOLERANCE) for angle in (40.0, 50.0)]
        return (curve[1].expected - curve[0].expected) / (curve[1].stop_angle - curve[0].stop_angle)

    def doubts(self) -> tuple[float, float, float]:
        """Give the doubt after a reading, and what a first and a later press scatter by."""
        wanted = self.pieces[0][0]
        aim = self.model.aim(wanted, TOLERANCE)
        hits: list = []
        self.press(self.pieces[0], hits, 0.0, aim.stop_angle - 0.6)
        later = self.model.aim(wanted, TOLERANCE, tuple(hits))
        return later.sd, aim.stop_sd, later.stop_sd


def counted(shop: Shop, bend: Callable[[Piece], tuple[float, int]]) -> tuple[float, float, float]:
    """Give hits a bend, share over and share out of tolerance."""
    made = np.array([bend(piece) for piece in shop.pieces])
    return (
        float(made[:, 1].mean()),
        float(np.mean(made[:, 0] > TOLERANCE)),
        float(np.mean(np.abs(made[:, 0]) > TOLERANCE)),
    )


def say(line: str) -> None:
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--setups", type=int, default=20)
    parser.add_argument("--pieces", type=int, default=200)
    parser.add_argument("--offset", type=int, default=0)
    parser.add_argument("--learned", type=int, default=12)
    args = parser.parse_args()
    shops = [
        Shop(seed, args.learned, args.pieces)
        for seed in range(args.offset, args.offset + args.setups)
    ]
    program = np.array([counted(shop, shop.by_program) for shop in shops])
    by_price = {}
    for prices in itertools.product(OVER, UNDER):
        found = []
        for shop in shops:
            to = policy(*shop.doubts(), *prices)
            found.append(counted(shop, lambda piece, shop=shop, to=to: shop.by_policy(piece, to)))
        by_price[prices] = np.mean(found, axis=0)
    hits, over, out = program.mean(axis=0)
    error = program[:, 0].std() / math.sqrt(len(shops))
    say(f"{len(shops)} setups of {args.pieces} pieces, {args.learned} bends learned of each")
    say(f"  the program:      {hits:.3f} hits (+- {error:.3f}), over {over:.2%}, out {out:.2%}")
    fair = {p: f for p, f in by_price.items() if f[1] <= over and f[2] <= out}
    if fair:
        prices, best = min(fair.items(), key=lambda each: each[1][0])
        say(
            f"  the best policy:  {best[0]:.3f} hits, over {best[1]:.2%}, out {best[2]:.2%} "
            f"(prices {prices}); the program takes {hits / best[0] - 1:+.1%}"
        )
    else:
        say("  no prices on the grid end as few bends over and out of tolerance")
    for prices, found in sorted(by_price.items(), key=lambda each: each[1][0]):
        say(f"    {prices}: {found[0]:.3f} hits, over {found[1]:.2%}, out {found[2]:.2%}")
    say("  moved by re-planning, judged by the drawing's limits:")
    for moved in MOVES:
        found = np.mean(
            [counted(s, lambda piece, s=s, moved=moved: s.by_program(piece, moved)) for s in shops],
            axis=0,
        )
        say(
            f"    {moved:+.1f}: {found[0]:.3f} hits ({found[0] / hits - 1:+.1%}), over the drawn "
            f"limit {found[1]:.2%}, out of it {found[2]:.2%}"
        )


if __name__ == "__main__":
    main()
