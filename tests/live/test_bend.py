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


def test_after_a_first_press_with_unknown_slack_a_reading_is_asked_for_and_why(
    hit: OpenBend, model: Springback
) -> None:
    assert hit.verdict is not None
    assert (hit.verdict.verdict, hit.asked) == ("measure", True)
    assert "slack" in hit.verdict.advice
    answered = bends.measured(hit, 37.4, model)
    assert answered.verdict is not None
    assert (answered.verdict.verdict, answered.asked) == ("again", False)
    unanswered = bends.next_hit(hit, model)
    pressed = bends.hit(unanswered, HitMade(peak=44.0, rest=42.0), model)
    assert not pressed.asked


@pytest.fixture
def known_hit(model: Springback) -> tuple[OpenBend, Springback]:
    """A bend of 85 degrees on a setup that was bent before; the arm says 84.4."""
    known = model.learn(
        Bend(die=model.die, tube=model.tube, lot="", bend_angle=a, hits=((1.03 * a + 2, a + 1, a),))
        for a in (30.0, 60.0, 90.0, 45.0)
    )
    begun = OpenBend(
        index=0, bend_id="b", angle=85.0, tolerance=0.5, target=known.aim(85.0, tolerance=0.5)
    )
    return bends.hit(begun, HitMade(peak=1.03 * 84.4 + 2, rest=85.4), known), known


@pytest.mark.parametrize(("said", "meant"), [(8.44, "84.4"), (844.0, "84"), (95.6, "84.4")])
def test_a_misread_protractor_is_asked_about_and_the_likely_number_named(
    known_hit: tuple[OpenBend, Springback], said: float, meant: str
) -> None:
    told = bends.not_so(known_hit[0], said, known_hit[1])
    assert f"{said:g}" in told
    assert meant in told


def test_a_likely_reading_is_taken_at_once(known_hit: tuple[OpenBend, Springback]) -> None:
    for angle in (84.2, 84.6, 85.1):
        assert bends.not_so(known_hit[0], angle, known_hit[1]) == ""


def test_an_odd_reading_says_how_it_is_kept(known_hit: tuple[OpenBend, Springback]) -> None:
    assert "'measured 80!' to keep it" in bends.not_so(known_hit[0], 80.0, known_hit[1])


def test_a_bend_moved_by_planning_anew_is_aimed_there_and_judged_by_the_drawing(
    known_hit: tuple[OpenBend, Springback],
) -> None:
    bend, known = known_hit
    moved = replace(bend, hits=(), verdict=None, drawn=85.0, angle=84.8)
    low = bends.hit(moved, HitMade(peak=1.03 * 84.7 + 2, rest=85.7), known).verdict
    assert low is not None
    assert low.verdict == "accept"
    unmoved = known.aim(85.0, 0.5)
    assert known.aim(84.8, 0.5, limits=moved.limits).over_angle == pytest.approx(
        unmoved.over_angle, abs=0.05
    )
