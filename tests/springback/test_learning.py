"""What bends teach: die, steel, lot, scatter, the person; and what they must not."""

from dataclasses import replace

import numpy as np
import pytest

from benchmate.errors import Failure
from benchmate.shop.parts import Bench
from benchmate.springback import Bend, Knowledge


def other_die(die, **changed):
    return type(die)(**({name: getattr(die, name) for name in die.__struct_fields__} | changed))


def test_learning_gives_a_new_model_and_leaves_the_old(shop):
    model = shop.model()
    before = model.aim(90, 0.5)
    assert model.learn(shop.many(3)).aim(90, 0.5) != before
    assert model.aim(90, 0.5) == before


def test_slack_and_springback_are_found(shop):
    belief = shop.model().learn(shop.many(40)).belief()
    assert belief.slack_deg.value == pytest.approx(1.8, abs=3 * belief.slack_deg.sd)
    assert belief.slack_deg.sd < 0.1
    true_90 = 90 * shop.per_degree + shop.legs
    assert belief.springback_90_deg.value == pytest.approx(true_90, abs=0.1)
    assert belief.springback_90_deg.bends == pytest.approx(40, abs=1)


def test_bend_after_bend_is_the_same_as_all_at_once(shop):
    bends = shop.many(12)
    at_once = shop.model().learn(bends)
    one_by_one = shop.model()
    for bend in bends:
        one_by_one = one_by_one.learn([bend])
    dumped = shop.model(knowledge=Knowledge.load(shop.model().learn(bends[:5]).knowledge.dump()))
    resumed = dumped.learn(bends[5:])
    for model in (one_by_one, resumed):
        assert model.knowledge.mean == pytest.approx(at_once.knowledge.mean, abs=1e-9)
        assert model.knowledge.cov == pytest.approx(at_once.knowledge.cov, abs=1e-9)
        assert model.aim(77, 0.5) == at_once.aim(77, 0.5)


def test_the_order_of_bends_hardly_matters(shop):
    bends = shop.many(12)
    there, back = shop.model().learn(bends), shop.model().learn(bends[::-1])
    aims = [model.aim(60, 0.5) for model in (there, back)]
    assert aims[0].stop_angle == pytest.approx(aims[1].stop_angle, abs=0.05)


def test_a_tube_new_to_the_die_starts_with_the_die_s_slack(shop):
    stranger = replace(shop, tube=shop.tube.__class__(
        tube="other", od_mm=25.0, wall_mm=2.5, grade="E355", yield_strength_mpa=355.0,
        tensile_strength_mpa=490.0,
    ))  # fmt: skip
    fresh = stranger.model().belief().slack_deg
    taught = stranger.model().learn(shop.many(10)).belief().slack_deg
    assert fresh.sd > 1
    assert taught.sd < 0.2
    assert taught.value == pytest.approx(1.8, abs=0.3)


def test_a_new_lot_starts_from_its_steel_and_doubts_more(shop):
    model = shop.model().learn(shop.many(20))
    known, new = (replace(model, lot=lot).belief().springback_90_deg for lot in "AB")
    fresh = shop.model().belief().springback_90_deg
    assert known.sd < new.sd < fresh.sd
    assert abs(new.value - known.value) < abs(fresh.value - known.value)


def test_another_bench_s_die_of_the_same_name_shares_no_slack(shop):
    elsewhere = Bench(bench="south-door", sensor=shop.bench.sensor, arm=shop.bench.arm)
    bends = [replace(bend, bench=elsewhere) for bend in shop.many(10)]
    assert shop.model().learn(bends).belief().slack_deg == shop.model().belief().slack_deg


def test_a_stated_slack_and_stated_n_and_k_sharpen_the_start(shop):
    plain = shop.model().belief()
    stated = replace(shop, die=other_die(shop.die, slack_deg=1.8))
    assert stated.model().belief().slack_deg.value == 1.8
    assert stated.model().belief().slack_deg.sd < plain.slack_deg.sd / 3
    tube = other_die(shop.tube, n=0.2, K_mpa=550.0)
    assert replace(shop, tube=tube).model().belief().steel_ratio.sd < plain.steel_ratio.sd


def test_scatter_is_learned_from_the_bends(shop):
    rng = np.random.default_rng(4)

    def bends(scatter):
        return [
            shop.bend(float(a), rng.normal(0, scatter), stray=tuple(rng.normal(0, (0.08, 0.12))))
            for a in rng.uniform(20, 160, 60)
        ]

    even = shop.model().learn(bends(0.07)).belief().scatter_deg
    wild = shop.model().learn(bends(0.35)).belief().scatter_deg
    assert even.value < 0.13
    assert 0.25 < wild.value < 0.45


def test_equal_bends_leave_doubt_of_the_next(shop):
    model = shop.model().learn([shop.bend(90.0)] * 200)
    assert model.aim(90, 0.5).sd > 0.25
    assert model.belief().scatter_deg.value > 0.05
    assert model.belief().slack_deg.sd > 0.02


def test_a_bend_that_disagrees_weighs_little_and_is_named(shop):
    model = shop.model().learn(shop.many(12))
    slipped = shop.bend(90.0, 5.0)
    after = model.learn([slipped])
    (outlier,) = after.belief().outliers
    assert outlier.number == 13
    assert outlier.weight < 0.01
    assert "slipped" in outlier.why
    assert abs(outlier.off_sds) > 8
    assert after.aim(90, 0.5).expected == pytest.approx(model.aim(90, 0.5).expected, abs=0.1)
    before, now = (m.belief().springback_90_deg.value for m in (model, after))
    assert now == pytest.approx(before, abs=0.05)


def test_readings_that_nothing_explains_teach_nothing_and_are_named(shop):
    model = shop.model().learn(shop.many(3))
    absurd = replace(shop.bend(90.0), hits=((13.0, 12.0, 0.0), (29.0, -40.0, 70.0)))
    after = model.learn([absurd])
    told = [each.aim(90, 0.5).stop_angle for each in (after, model)]
    assert told[0] == pytest.approx(told[1], abs=0.01)
    (outlier,) = after.belief().outliers
    assert outlier.number == 4


def test_leaving_a_bend_out_is_folding_without_it(shop):
    bends = shop.many(8)
    wrong = shop.bend(60.0, 3.0)
    amended = shop.model().learn([*bends[:4], *bends[4:]])
    assert shop.model().learn([*bends[:4], wrong, *bends[4:]]).belief().outliers
    assert not amended.belief().outliers


def test_a_die_set_anew_is_followed_within_a_few_bends(shop):
    model = shop.model().learn(shop.many(30))
    moved = replace(shop, slack=shop.slack + 2.0)
    model = model.learn(moved.many(4, seed=9))
    assert model.belief().slack_deg.value == pytest.approx(moved.slack, abs=0.3)


def test_a_wearing_die_is_followed_and_its_drift_told(shop):
    model = shop.model().learn(shop.many(10))
    worn = shop
    for bend in range(200):
        worn = replace(worn, slack=worn.slack + 0.005)
        model = model.learn(worn.many(1, seed=bend))
    belief = model.belief()
    assert belief.slack_deg.value == pytest.approx(worn.slack, abs=0.2)
    assert belief.drift_deg is not None
    assert belief.drift_deg.value == pytest.approx(1.0, abs=0.25)


def test_the_person_s_late_stop_is_led(shop):
    errors = np.random.default_rng(3).normal(0, 0.2, 40)

    def stopped(late):
        made = zip(shop.many(40), errors, strict=True)
        return [replace(b, stop_angles=(b.hits[0][0] - late - e,)) for b, e in made]

    model = shop.model().learn(stopped(0.4))
    assert model.belief().stopping_deg.value == pytest.approx(0.4, abs=0.1)
    even = shop.model().learn(stopped(0.0))
    led = even.aim(90, 0.5).stop_angle - model.aim(90, 0.5).stop_angle
    assert led == pytest.approx(0.35, abs=0.1)


def test_a_retracting_arm_teaches_by_measured_angles_alone(retracting):
    model = retracting.model()
    unread = model.learn(retracting.many(5, measured=False))
    assert unread.aim(90, 0.5) == model.aim(90, 0.5)
    assert model.learn(retracting.many(10)).aim(90, 0.5).sd < 0.5


def test_what_a_reading_was_made_with_counts(shop):
    bends = shop.many(6)
    level = [replace(bend, how_measured=("digital level",)) for bend in bends]
    sds = [shop.model().learn(each).belief().slack_deg.sd for each in (level, bends)]
    assert sds[0] < sds[1]


def test_a_press_that_never_left_the_elastic_zone_teaches_next_to_nothing(shop):
    springy = Bend(die=shop.die, tube=shop.tube, lot="A", bend_angle=90.0, hits=((2.2, 0.9, 0.0),))
    before, after = (
        m.belief().springback_90_deg for m in (shop.model(), shop.model().learn([springy]))
    )
    assert after.value == pytest.approx(before.value, abs=0.15 * before.sd)
    assert after.sd > 0.9 * before.sd


def test_a_curve_has_its_doubt(shop):
    curve = shop.model().learn(shop.many(15)).curve([20, 90, 170])
    assert list(curve.springback) == sorted(curve.springback)
    assert all(curve.line_sd < curve.bend_sd)
    true = shop.legs + shop.per_degree * curve.angle
    assert np.abs(curve.springback - true).max() < 0.15


@pytest.mark.parametrize("dumped", [b"", b"[]", b'{"version": 1}', b'{"version": 99}', b"\x00"])
def test_what_is_no_knowledge_is_said_to_be_none(dumped):
    with pytest.raises(Failure, match="fold the log anew"):
        Knowledge.load(dumped)


def test_knowledge_is_kept_bit_for_bit(shop):
    known = shop.model().learn([*shop.many(9), shop.bend(90.0, 5.0)]).knowledge
    again = Knowledge.load(known.dump())
    assert again.dump() == known.dump()
    assert (again.cov == known.cov).all()
    assert again.outliers == known.outliers
    assert again.stopping == known.stopping


def test_the_belief_stays_a_proper_one_over_a_long_log(shop):
    known = shop.model().learn(shop.many(300)).knowledge
    assert np.linalg.eigvalsh(known.cov).min() > 0
    assert (known.cov == known.cov.T).all()
