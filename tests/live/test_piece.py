"""One piece on the bender: what its readings come to."""

from dataclasses import replace

import pytest

from benchmate.bench import piece as pieces
from benchmate.bench.motion.tracker import Rested
from benchmate.bench.piece import Piece
from benchmate.shop import Shop
from benchmate.springback import Bend, Springback


@pytest.fixture
def model() -> Springback:
    shop = Shop.open("configs")
    return Springback(shop.bench, shop.dies["round-25-r75"], shop.tubes["e235-25x2"])


@pytest.fixture
def hit(model: Springback) -> Piece:
    begun = Piece(
        index=0, bend_id="b", angle=45.0, tolerance=0.5, target=model.aim(45.0, tolerance=0.5)
    )
    rested = Rested(peak=41.0, rest=39.0, sure=True, broken=False)
    return pieces.hit(begun, rested, (), model)


def test_an_odd_reading_counts_once_it_was_made_twice(hit: Piece, model: Springback) -> None:
    once = pieces.measured(hit, 12.0, model)
    assert once.verdict is not None
    assert once.verdict.verdict == "measure"
    twice = pieces.measured(once, 12.2, model)
    assert twice.verdict is not None
    assert twice.verdict.verdict == "again"
    assert twice.verdict.bend_angle == pytest.approx(12.1, abs=0.3)


def test_a_reading_put_right_takes_the_wrong_one_s_place(hit: Piece, model: Springback) -> None:
    right = pieces.measured(pieces.measured(hit, 12.0, model), 37.4, model)
    assert right.verdict == pieces.measured(hit, 37.4, model).verdict


def test_a_poor_sensor_s_own_doubt_makes_the_angle_less_sure(hit: Piece, model: Springback) -> None:
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
        rested = Rested(peak=41.0, rest=39.0, sure=True, broken=False, sd=sd)
        judged = pieces.hit(replace(hit, hits=(), verdict=None, arm_sd=None), rested, (), known)
        assert judged.verdict is not None
        sds.append(judged.verdict.sd)
    # No sensor tells a peak under way better than usual.
    assert sds[0] == sds[1] < 0.6 * sds[2]


def test_a_reading_made_twice_is_of_that_hit_alone(hit: Piece, model: Springback) -> None:
    twice = pieces.measured(pieces.measured(hit, 12.0, model), 12.2, model)
    assert pieces.measured(twice, None, model).verdict == hit.verdict
    again = pieces.next_hit(twice, model)
    rested = Rested(peak=45.0, rest=43.0, sure=True, broken=False)
    assert pieces.hit(again, rested, (), model).read_again is None


def test_a_protractor_on_the_piece_takes_the_arm_s_standing_error_out_of_the_next_press(
    model: Springback,
) -> None:
    begun = Piece(
        index=0, bend_id="b", angle=45.0, tolerance=0.5, target=model.aim(45.0, tolerance=0.5)
    )
    stops = []
    for sd in (0.05, 0.6):
        rested = Rested(peak=41.0, rest=39.0, sure=True, broken=False, sd=sd)
        measured = pieces.measured(pieces.hit(begun, rested, (), model), 37.4, model)
        stops.append(pieces.next_hit(measured, model).target.stop_angle)
    assert stops[0] == stops[1]
