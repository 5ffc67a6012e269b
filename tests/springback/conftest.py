"""A bench, dies and tubes of our own, and bends as a shop would make them."""

from dataclasses import dataclass

import numpy as np
import pytest

from benchmate.shop.parts import Arm, Bench, Die, Sensor, Tube
from benchmate.springback import Bend, Springback


def tube_of(name, grade="E235", od=25.0, wall=2.0, strength=235.0, **more):
    return Tube(
        tube=name,
        od_mm=od,
        wall_mm=wall,
        grade=grade,
        yield_strength_mpa=strength,
        tensile_strength_mpa=1.45 * strength,
        **more,
    )


def die_of(name, radius=75.0, **more):
    return Die(die=name, for_od_mm=25.0, centreline_radius_mm=radius, max_angle_deg=180, **more)


@dataclass
class Shop:
    """One shop with its truth: what slack, legs and springback per degree really are."""

    bench: Bench
    die: Die
    tube: Tube
    slack: float = 1.8
    legs: float = 0.4
    per_degree: float = 0.02

    def model(self, lot="A", **more):
        return Springback(self.bench, self.die, self.tube, lot, **more)

    def hit(self, bend_angle, off=0.0, *, rest=True, measured=True, stray=(0.0, 0.0)):
        """One press that leaves the bend angle on a piece that strays by ``off``."""
        peak = bend_angle * (1 + self.per_degree) + self.slack + self.legs + off
        return (
            peak,
            bend_angle + self.slack + stray[0] if rest else None,
            bend_angle + stray[1] if measured else None,
        )

    def bend(self, bend_angle, *args, lot="A", die=None, tube=None, **more):
        return Bend(
            die=die or self.die,
            tube=tube or self.tube,
            lot=lot,
            bend_angle=bend_angle,
            hits=(self.hit(bend_angle, *args, **more),),
        )

    def many(self, count, seed=1, **more):
        """Bends of all angles with the scatter and errors of a good shop."""
        rng = np.random.default_rng(seed)
        return [
            self.bend(
                float(rng.uniform(15, 170)),
                rng.normal(0, 0.12),
                stray=tuple(rng.normal(0, (0.08, 0.12))),
                **more,
            )
            for _ in range(count)
        ]


@pytest.fixture
def shop():
    bench = Bench(bench="north-window", sensor=Sensor(chip="lsm6dso"), arm=Arm(radius_mm=80))
    return Shop(bench, die_of("round-25"), tube_of("e235-25x2"))


@pytest.fixture
def retracting(shop):
    bench = Bench(
        bench="north-window",
        sensor=Sensor(chip="lsm6dso"),
        arm=Arm(radius_mm=80, follows_tube=False),
    )
    return Shop(bench, shop.die, shop.tube)
