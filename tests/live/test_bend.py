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


@pytest.mark.parametrize("before", ["rest", "measured"])
def test_after_a_lost_hit_no_reading_far_below_what_the_tube_had_is_taken_unasked(
    known_hit: tuple[OpenBend, Springback], before: str
) -> None:
    bend, known = known_hit
    if before == "measured":
        bend = replace(bends.measured(bend, 84.3, known), unsure=frozenset((0,)))
    lost = bends.lost_hit(bends.next_hit(bend, known))
    told = bends.not_so(lost, 35.0, known)
    assert "no press unbends it" in told
    assert "'measured 35!' to keep it" in told
    assert bends.not_so(lost, 84.0, known) == ""
    assert bends.not_so(lost, 95.0, known) == ""


def test_where_a_fault_hid_the_peak_the_rest_still_tells_what_the_tube_has(
    known_hit: tuple[OpenBend, Springback],
) -> None:
    hidden = replace(known_hit[0], unsure=frozenset((0,)))
    assert "no press unbends it" in bends.not_so(hidden, 35.0, known_hit[1])
    assert bends.not_so(hidden, 83.5, known_hit[1]) == ""


def test_a_first_hit_that_was_lost_leaves_any_reading_to_the_person(
    known_hit: tuple[OpenBend, Springback],
) -> None:
    lost = bends.lost_hit(replace(known_hit[0], hits=(), verdict=None))
    assert bends.not_so(lost, 35.0, known_hit[1]) == ""


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


def begun(known: Springback) -> OpenBend:
    return OpenBend(
        index=0, bend_id="b", angle=45.0, tolerance=0.5, target=known.aim(45.0, tolerance=0.5)
    )


def test_after_a_peak_that_nobody_saw_the_next_press_rises_by_what_the_tube_is_short(
    known_hit: tuple[OpenBend, Springback],
) -> None:
    _, known = known_hit
    seen = bends.hit(begun(known), HitMade(peak=41.0, rest=39.0), known)
    hidden = HitMade(peak=30.0, rest=None, sure=False)
    lost = bends.hit(bends.next_hit(seen, known), hidden, known)
    told = bends.measured(lost, 37.4, known).verdict
    assert told is not None
    assert told.verdict == "again"
    assert told.stop_angle == pytest.approx(41.0 + (45.0 - 37.4))


def test_a_press_that_nobody_saw_stood_at_least_as_far_as_its_bend_needs(
    known_hit: tuple[OpenBend, Springback],
) -> None:
    """The angle seen before it hid says little; what the tube has says more, less its doubt."""
    _, known = known_hit
    usual = known.aim(45.0, 0.5)
    hidden = HitMade(peak=10.0, rest=None, sure=False)
    told = bends.measured(bends.hit(begun(known), hidden, known), 37.4, known).verdict
    assert told is not None
    assert usual.stop_sd < usual.stop_angle - told.stop_angle < 3.0 * usual.stop_sd


def read_twice(bend: OpenBend, angle: float, known: Springback) -> OpenBend:
    """Measure it, and confirm the reading, odd as it is."""
    return bends.measured(bends.measured(bend, angle, known), angle, known)


def test_a_press_again_goes_past_the_furthest_of_all_presses(
    known_hit: tuple[OpenBend, Springback],
) -> None:
    _, known = known_hit
    pressed = bends.hit(begun(known), HitMade(peak=60.0, rest=57.0), known)
    far = bends.next_hit(read_twice(pressed, 44.0, known), known)
    less = bends.hit(far, HitMade(peak=58.0, rest=56.0), known)
    told = read_twice(less, 44.0, known).verdict
    assert told is not None
    assert told.stop_angle >= 60.0 + bends.PAST_DEG


def test_a_press_again_goes_at_least_half_of_what_a_reading_says_is_missing_past_the_last(
    known_hit: tuple[OpenBend, Springback],
) -> None:
    """Half of it may be the reading's own error."""
    _, known = known_hit
    pressed = bends.hit(begun(known), HitMade(peak=60.0, rest=57.0), known)
    told = read_twice(pressed, 44.0, known).verdict
    assert told is not None
    assert told.stop_angle == pytest.approx(60.0 + (45.0 - 44.0) / 2.0)


def test_where_the_bench_stopped_in_a_hit_the_bend_is_somewhere_from_where_it_was_to_the_target(
    known_hit: tuple[OpenBend, Springback],
) -> None:
    _, known = known_hit
    seen = bends.measured(
        bends.hit(begun(known), HitMade(peak=33.0, rest=31.0), known), 29.0, known
    )
    told = bends.judged(bends.lost_hit(bends.next_hit(seen, known)), known).verdict
    assert told is not None
    assert (told.verdict, told.bend_angle) == ("measure", pytest.approx((29.0 + 45.0) / 2.0))
    # The standard deviation of a uniform distribution: its width over the root of 12.
    assert told.sd == pytest.approx((45.0 - 29.0) / 12.0**0.5)


def test_a_stop_past_all_that_was_expected_is_not_told_as_over(
    known_hit: tuple[OpenBend, Springback],
) -> None:
    _, known = known_hit
    hidden = HitMade(peak=60.0, rest=None, sure=False)
    told = bends.measured(bends.hit(begun(known), hidden, known), 37.4, known).verdict
    assert told is not None
    assert told.over_angle >= told.stop_angle > 60.0


def test_a_press_again_that_nothing_calls_for_still_passes_the_peak(model: Springback) -> None:
    fine = bends.measured(
        bends.hit(begun(model), HitMade(peak=60.0, rest=57.0), model), 44.4, model
    )
    assert fine.verdict is not None
    assert fine.verdict.stop_angle >= 60.0 + bends.PAST_DEG


def test_a_peak_that_a_fault_may_have_hidden_says_nothing_once_another_was_seen(
    known_hit: tuple[OpenBend, Springback],
) -> None:
    _, known = known_hit
    hidden = bends.hit(begun(known), HitMade(peak=30.0, rest=29.9, sure=False), known)
    seen = HitMade(peak=47.0, rest=45.0)
    after = bends.hit(bends.next_hit(hidden, known), seen, known).verdict
    alone = bends.hit(begun(known), seen, known).verdict
    assert after is not None
    assert alone is not None
    assert after.bend_angle == alone.bend_angle
