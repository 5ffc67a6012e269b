"""One piece on the bender: what its readings come to."""

from dataclasses import replace

import pytest

from benchmate.bench.session import bend as bends
from benchmate.bench.session.bend import OpenBend
from benchmate.bench.session.journal import HitMade
from benchmate.shop import Shop
from benchmate.springback import Bend, Springback


@pytest.fixture
def model() -> Springback:
    shop = Shop.open("configs")
    return Springback(shop.bench, shop.dies["round-25-r75"], shop.tubes["e235-25x2"])


@pytest.fixture
def hit(model: Springback) -> OpenBend:
    begun = OpenBend(
        index=0, bend_id="b", angle=45.0, tolerance=0.5, target=model.aim(45.0, tolerance=0.5)
    )
    rested = HitMade(peak=41.0, rest=39.0)
    return bends.hit(begun, rested, model)


def test_an_odd_reading_counts_once_it_was_made_twice(hit: OpenBend, model: Springback) -> None:
    once = bends.measured(hit, 12.0, model)
    assert once.verdict is not None
    assert once.verdict.verdict == "measure"
    twice = bends.measured(once, 12.2, model)
    assert twice.verdict is not None
    assert twice.verdict.verdict == "again"
    assert twice.verdict.bend_angle == pytest.approx(12.1, abs=0.3)


def test_a_reading_put_right_takes_the_wrong_one_s_place(hit: OpenBend, model: Springback) -> None:
    right = bends.measured(bends.measured(hit, 12.0, model), 37.4, model)
    assert right.verdict == bends.measured(hit, 37.4, model).verdict


def test_a_poor_sensor_makes_the_angle_less_sure(hit: OpenBend, model: Springback) -> None:
    known = model.learn(
        [
            Bend(
                die=model.die,
                tube=model.tube,
                lot="",
                bend_angle=a,
                hits=((1.03 * a + 2, a + 1.5, a),),
            )
            for a in (30.0, 60.0, 90.0)
        ]
    )
    sds = []
    for sd in (0.0, 0.02, 0.4):
        rested = HitMade(peak=41.0, rest=39.0, sd=sd)
        judged = bends.hit(replace(hit, hits=(), verdict=None, arm_sd=None), rested, known)
        assert judged.verdict is not None
        sds.append(judged.verdict.sd)
    # No sensor tells a peak under way better than usual.
    assert sds[0] == sds[1] < 0.6 * sds[2]


def test_a_reading_made_twice_is_of_that_hit_alone(hit: OpenBend, model: Springback) -> None:
    twice = bends.measured(bends.measured(hit, 12.0, model), 12.2, model)
    assert bends.measured(twice, None, model).verdict == hit.verdict
    again = bends.next_hit(twice, model)
    rested = HitMade(peak=45.0, rest=43.0)
    assert bends.hit(again, rested, model).read_again is None


def test_a_protractor_on_the_piece_takes_the_arm_s_standing_error_out_of_the_next_press(
    model: Springback,
) -> None:
    begun = OpenBend(
        index=0, bend_id="b", angle=45.0, tolerance=0.5, target=model.aim(45.0, tolerance=0.5)
    )
    stops = []
    for sd in (0.05, 0.6):
        rested = HitMade(peak=41.0, rest=39.0, sd=sd)
        measured = bends.measured(bends.hit(begun, rested, model), 37.4, model)
        stops.append(bends.next_hit(measured, model).target.stop_angle)
    assert stops[0] == stops[1]
