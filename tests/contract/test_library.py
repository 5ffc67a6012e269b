"""The library's calls, exactly as other programs write them."""

import math
import random
from pathlib import Path

import pytest

from benchmate.shop import Shop
from benchmate.springback import Bend, Springback

SHOP = Shop.open(str(Path(__file__).parents[2] / "configs"))
PAIRS = [
    (die, tube)
    for die in SHOP.dies.values()
    for tube in SHOP.tubes.values()
    if math.isclose(die.for_od_mm, tube.od_mm, rel_tol=0.01)
]
VERDICTS = {"accept", "again", "over", "measure"}


class Steel:
    """A tube on a die that answers as a straight line says."""

    def __init__(self, slack: float, legs: float, per_degree: float) -> None:
        self.slack, self.legs, self.per_degree = slack, legs, per_degree
        self.bent = 0.0

    def press(self, peak: float) -> tuple[float, float]:
        bent = (peak - self.slack - self.legs) / (1.0 + self.per_degree)
        self.bent = max(self.bent, bent)
        return peak, self.slack + self.bent


def made(steel: Steel, peak: float) -> tuple[float, float, float]:
    peak, rest = steel.press(peak)
    return peak, rest, steel.bent


def test_the_calls_are_as_written() -> None:
    die, tube = SHOP.dies["round-25-r75"], SHOP.tubes["e235-25x2"]
    assert SHOP.bench.bench == "east-window"
    assert "trellis-knee" in SHOP.jobs
    model = Springback(SHOP.bench, die, tube, lot="A")
    aim = model.aim(bend_angle=90.0, tolerance=0.5, hits=())
    assert aim.verdict in VERDICTS
    hits = (made(Steel(1.2, 0.4, 0.02), 93.0),)
    bends = [Bend(die=die, tube=tube, lot="A", bend_angle=90.0, hits=hits)]
    learned = model.learn(bends)
    assert learned is not model
    assert learned.aim(bend_angle=90.0, tolerance=0.5, hits=()).sd < aim.sd
    again = model.aim(bend_angle=90.0, tolerance=0.5, hits=())
    assert (again.stop_angle, again.sd) == (aim.stop_angle, aim.sd)
    aim = learned.aim(bend_angle=90.0, tolerance=0.5, hits=((91.0, 89.0, None),))
    assert aim.bend_angle == pytest.approx(87.8, abs=0.4)
    assert aim.verdict == "again"
    with pytest.raises(AttributeError):
        aim.verdict = "over"  # type: ignore[misc]  # frozen is what is tested
    with pytest.raises(AttributeError):
        SHOP.bench.bench = "mine"  # type: ignore[misc]  # frozen is what is tested


@pytest.mark.parametrize("seed", range(24))
def test_every_aim_is_a_finite_angle_not_below_what_was_passed(seed: int) -> None:
    chance = random.Random(seed)
    die, tube = chance.choice(PAIRS)
    model = Springback(SHOP.bench, die, tube, lot="A")
    terms = chance.uniform(0.0, 3.0), chance.uniform(0.0, 1.0), chance.uniform(0.003, 0.06)
    for _ in range(chance.choice((0, 1, 4))):
        wanted = chance.uniform(10.0, 100.0)
        hit = made(Steel(*terms), wanted * (1.0 + terms[2]) + terms[0] + terms[1])
        model = model.learn([Bend(die=die, tube=tube, lot="A", bend_angle=wanted, hits=(hit,))])
    wanted = chance.uniform(5.0, die.max_angle_deg)
    steel, hits, passed = Steel(*terms), (), 0.0
    for _ in range(4):
        aim = model.aim(bend_angle=wanted, tolerance=chance.choice((0.25, 0.5, 1.0)), hits=hits)
        assert aim.verdict in VERDICTS
        for angle in (aim.stop_angle, aim.sd, aim.bend_angle):
            assert math.isfinite(angle)
            assert angle >= 0.0
        assert aim.stop_angle >= passed
        peak, rest = steel.press(aim.stop_angle + chance.gauss(0.0, 0.3))
        read = round(steel.bent + chance.gauss(0.0, 0.12), 1) if chance.random() < 0.5 else None
        hits = (*hits, (peak, rest if chance.random() < 0.8 else None, read))
        passed = max(passed, peak)


@pytest.mark.parametrize(
    "hit",
    [
        (49.6, 48.7, 90.0),
        (49.6, 12.0, 45.0),
        (49.6, 60.0, None),
        (0.0, 0.0, None),
        (-5.0, -6.0, None),
        (500.0, 480.0, None),
        (1e-9, 0.0, 0.0),
        (46.0, None, None),
        (46.0, None, 0.0),
        (46.0, 45.0, -20.0),
    ],
)
def test_an_odd_hit_is_answered_with_an_angle(
    hit: tuple[float, float | None, float | None],
) -> None:
    die, tube = SHOP.dies["round-25-r75"], SHOP.tubes["e235-25x2"]
    aim = Springback(SHOP.bench, die, tube).aim(bend_angle=45.0, tolerance=0.5, hits=(hit,))
    assert aim.verdict in VERDICTS
    assert math.isfinite(aim.sd)
    assert math.isfinite(aim.bend_angle)
    assert aim.stop_angle >= max(hit[0], 0.0)


def test_a_bend_far_under_is_pressed_again_and_one_far_over_is_over() -> None:
    die, tube = SHOP.dies["round-25-r75"], SHOP.tubes["e235-25x2"]
    model = Springback(SHOP.bench, die, tube, lot="A")
    under = model.aim(bend_angle=90.0, tolerance=0.5, hits=((80.0, 77.5, 76.3),))
    assert under.verdict == "again"
    assert under.stop_angle > 90.0
    over = model.aim(bend_angle=90.0, tolerance=0.5, hits=((97.0, 94.5, 93.3),))
    assert over.verdict == "over"


@pytest.mark.parametrize("learned", [0, 1, 6])
@pytest.mark.parametrize("measured", [12.0, 56.0, 90.0])
def test_a_reading_far_off_all_else_is_asked_for_again(learned: int, measured: float) -> None:
    die, tube = SHOP.dies["round-25-r75"], SHOP.tubes["e235-25x2"]
    model = Springback(SHOP.bench, die, tube, lot="A")
    for wanted in (45.0, 90.0, 30.0, 60.0, 75.0, 50.0)[:learned]:
        hit = made(Steel(1.2, 0.4, 0.02), 1.02 * wanted + 1.6)
        model = model.learn([Bend(die=die, tube=tube, lot="A", bend_angle=wanted, hits=(hit,))])
    hits = ((49.6, 48.0, measured),)
    assert model.aim(bend_angle=45.0, tolerance=0.5, hits=hits).verdict == "measure"
