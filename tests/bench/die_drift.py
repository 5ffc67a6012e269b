"""How often a steady die is called changed, and how soon a changed one is.

    python tests/bench/die_drift.py [--runs 2000] [--whole 40] [--seed 1]

First the sums by themselves: average run lengths of the two-sided CUSUM against the printed tables.
Then series of slacks as bends would show them, a bend's residual scattering by 0.25 and 0.35
degree, with 40, 100 and 300 bends before the slack changes by half a degree; false alarms are
counted before the change. Last the whole way: bends of a simulated setup with the scatters of
docs/figures.md, learned from, their slacks freed of tube and lot by what was learned, and watched
together with their springback. Yardstick: single bends beyond the limits that cry wolf as seldom.
"""

import argparse
import math
import sys
from collections.abc import Callable
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np

from benchmate.places import starter_shop
from benchmate.shop import Shop
from benchmate.springback import Bend, Springback
from benchmate.springback.prior import SLACK, Setup
from benchmate.tooling.drift import (
    BENDS_TO_FALSE_ALARM_BY_SPRINGBACK,
    LEARNING,
    Point,
    Sums,
    average_run_length,
    changes_in,
)
from benchmate.tooling.series import slack_points, springback_points

CHANGE_DEG = 0.5
AFTER = 12

# k 0.5: J. M. Lucas and R. B. Crosier, Technometrics 24 (1982) 199, table 1 (h 4), and
# D. C. Montgomery, "Introduction to Statistical Quality Control" (h 5).
PRINTED = {(4.0, 0.0): 167.7, (4.0, 1.0): 8.38, (5.0, 0.0): 465.0, (5.0, 1.0): 10.4}


@dataclass
class Tally:
    """False alarms, finds, and the bends in which they could be."""

    alarms: int = 0
    steady_bends: int = 0
    found: int = 0
    runs: int = 0

    def line(self) -> str:
        """Give false alarms per 1,000 bends and the share found."""
        sure = (
            math.sqrt(max(self.found, 1) * (self.runs - self.found + 1)) / max(self.runs, 1) ** 1.5
        )
        return (
            f"{1000 * self.alarms / max(self.steady_bends, 1):5.2f} false alarms in 1,000 bends"
            f" ({self.alarms}), found {100 * self.found / max(self.runs, 1):5.1f} %"
            f" ± {100 * sure:.1f}"
        )


def say(line: str) -> None:
    """Write a line at once."""
    sys.stdout.write(line + "\n")
    sys.stdout.flush()


def run_lengths(rng: np.random.Generator, runs: int) -> None:
    """Tell the sums' own run lengths beside the printed ones."""
    say("average run lengths, k 0.5: simulated, closed form, printed")
    for (h, shift), printed in PRINTED.items():
        lengths = []
        for _ in range(runs):
            sums, count = Sums(), 0
            while sums.largest <= h:
                sums, count = sums.after(float(rng.normal(shift, 1.0)), 0.5), count + 1
            lengths.append(count)
        sure = np.std(lengths) / math.sqrt(runs)
        say(
            f"  h {h:g}, shift {shift:g}: {np.mean(lengths):7.2f} ± {sure:.2f},"
            f" {average_run_length(0.5, h, shift):7.2f}, {printed:g}"
        )


def count(tally: Tally, points: list[Point], before: int, within: int, finds: Callable) -> None:
    """Add one run to the tally."""
    alarms = [seq for seq in finds(points) if seq <= before]
    tally.alarms += len(alarms)
    tally.steady_bends += before - LEARNING
    if alarms:
        return
    tally.runs += 1
    tally.found += any(before < seq <= before + within for seq in finds(points))


def cusum(points: list[Point]) -> list[int]:
    """Give the bends at which the detector found a change."""
    return [each.found_seq for each in changes_in(points)]


def single_bends(points: list[Point]) -> list[int]:
    """Give the bends beyond the limits that cry wolf once in 1,000, from the mean so far."""
    limit = NormalDist().inv_cdf(1 - 0.0005)
    found, seen = [], []
    for point in points:
        if len(seen) >= LEARNING:
            off = point.value_deg - sum(seen) / len(seen)
            if abs(off) > limit * point.sd_deg * math.sqrt(1 + 1 / len(seen)):
                found.append(point.seq)
                continue
        seen.append(point.value_deg)
    return found


def bare_series(rng: np.random.Generator, runs: int) -> None:
    """Tell alarms and finds on series of plain normal slacks."""
    for sd, within in ((0.25, 8), (0.35, AFTER)):
        for before in (40, 100, 300):
            tallies = {"CUSUM": Tally(), "single bends": Tally()}
            for _ in range(runs):
                values = rng.normal(0.0, sd, before + AFTER)
                values[before:] += CHANGE_DEG
                points = [Point(n, float(v), sd) for n, v in enumerate(values, 1)]
                count(tallies["CUSUM"], points, before, within, cusum)
                count(tallies["single bends"], points, before, within, single_bends)
            for name, tally in tallies.items():
                say(
                    f"scatter {sd}, {before} bends before, within {within}: {name:12}"
                    f" {tally.line()}"
                )


def whole_way(rng: np.random.Generator, runs: int, before: int = 150) -> None:
    """Tell alarms and finds on bends that were learned from, slack and springback watched."""
    shop = Shop.open(starter_shop())
    bench, die, tube = shop.bench, shop.die("round-25-r75"), shop.tube("e235-25x2")
    setup = Setup(bench, die, tube, "A")
    tally, sides = Tally(), Tally()
    for _ in range(runs):
        terms = setup.mean + setup.sd * rng.normal(size=6) * 0.7
        bends = []
        for number in range(1, before + AFTER + 1):
            angle = float(rng.uniform(20, 120))
            now = terms.copy()
            now[SLACK] += CHANGE_DEG if number > before else 0.0
            spring = setup.arm_angle(now, angle) - angle - now[SLACK]
            piece = rng.normal(0, math.hypot(0.12, 0.015 * spring))
            zero = rng.normal(0, 0.03)
            peak = angle + now[SLACK] + spring + piece + zero + rng.normal(0, 0.08)
            rest = angle + now[SLACK] + zero + rng.normal(0, 0.08)
            read = angle + rng.normal(0, 0.12)
            bends.append(
                Bend(
                    die=die,
                    tube=tube,
                    lot="A",
                    bend_angle=angle,
                    hits=((peak, rest, read),),
                    stop_angles=(peak,),
                    bench=bench,
                    name=str(number),
                )
            )
        steady = Springback(bench, die, tube, "A").learn(bends[:before])
        known = steady.learn(bends[before:])
        found = slack_points(bends, known.knowledge)
        early = cusum(slack_points(bends[:before], steady.knowledge))
        beside = changes_in(
            springback_points(bends[:before], steady.knowledge),
            bends_to_false_alarm=BENDS_TO_FALSE_ALARM_BY_SPRINGBACK,
        )
        early += [each.found_seq for each in beside]
        tally.alarms += len(early)
        tally.steady_bends += before - LEARNING
        tally.runs += 1
        tally.found += any(before < n <= before + 8 for n in cusum(found))
        sides.runs += 1
        sides.found += bool(cusum(springback_points(bends, known.knowledge)))
    say(f"the whole way, {before} bends before, within 8: {tally.line()}")
    say(f"  of these taken for springback of the die as well: {sides.found} of {sides.runs}")


def main() -> None:
    """Run all three."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n", maxsplit=1)[0])
    parser.add_argument("--runs", type=int, default=2000)
    parser.add_argument("--whole", type=int, default=40)
    parser.add_argument("--seed", type=int, default=1)
    args = parser.parse_args()
    rng = np.random.default_rng(args.seed)
    run_lengths(rng, args.runs)
    bare_series(rng, args.runs)
    whole_way(rng, args.whole)


if __name__ == "__main__":
    main()
