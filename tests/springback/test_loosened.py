"""After something was done to a die it is learned again; a printed core settles first."""

import numpy as np
import pytest
from msgspec.structs import replace

from benchmate.shop.parts import Arm, Bench, Die, Sensor, Tube
from benchmate.shop.tooling import Core
from benchmate.springback import Bend, Knowledge, Springback
from benchmate.springback.prior import DIE, LOT, SLACK, STEEL, Setup

BENCH = Bench(bench="b", sensor=Sensor(chip="lsm6dso"), arm=Arm(radius_mm=80.0))
SOLID = Die(die="d", for_od_mm=25.0, centreline_radius_mm=75.0, max_angle_deg=180)
TUBE = Tube(
    tube="t",
    od_mm=25.0,
    wall_mm=2.0,
    grade="E235",
    yield_strength_mpa=235,
    tensile_strength_mpa=340,
)


def bends(die, slacks, seed=2):
    rng = np.random.default_rng(seed)
    setup = Setup(BENCH, die, TUBE, "A")
    made = []
    for slack in slacks:
        terms, angle = setup.mean.copy(), float(rng.uniform(30, 110))
        terms[SLACK] = slack
        peak = setup.arm_angle(terms, angle) + rng.normal(0, 0.12)
        rest = angle + slack + rng.normal(0, 0.08)
        read = angle + rng.normal(0, 0.1)
        made.append(Bend(die=die, tube=TUBE, lot="A", bend_angle=angle, hits=((peak, rest, read),)))
    return made


def known_after(die, slacks) -> Knowledge:
    return Springback(BENCH, die, TUBE, "A").learn(bends(die, slacks)).knowledge


def test_a_loosened_die_is_doubted_more_and_steel_and_lot_are_not():
    known, setup = known_after(SOLID, [1.8] * 12), Setup(BENCH, SOLID, TUBE, "A")
    loose = known.loosened(setup)
    before, after = known.of(setup)[1], loose.of(setup)[1]
    assert after[SLACK, SLACK] > 4 * before[SLACK, SLACK]
    assert after[DIE, DIE] > before[DIE, DIE]
    for term in (STEEL, LOT):
        assert after[term, term] == before[term, term]
    assert np.array_equal(loose.of(setup)[0], known.of(setup)[0])
    assert np.linalg.eigvalsh(after).min() > 0
    assert known.settled
    assert not loose.settled
    assert loose.counts[setup.keys[SLACK]] == 0.0


def test_a_new_slack_is_learned_sooner_after_loosening():
    setup = Setup(BENCH, SOLID, TUBE, "A")
    known = known_after(SOLID, [1.8] * 40)
    later = bends(SOLID, [2.5] * 3, seed=9)
    kept = Springback(BENCH, SOLID, TUBE, "A", known).learn(later)
    anew = Springback(BENCH, SOLID, TUBE, "A", known.loosened(setup)).learn(later)
    slack = [each.knowledge.of(setup)[0][SLACK] for each in (kept, anew)]
    assert abs(slack[1] - 2.5) < abs(slack[0] - 2.5) - 0.1


def test_a_die_never_bent_on_has_nothing_to_loosen():
    nothing = Knowledge()
    assert nothing.loosened(Setup(BENCH, SOLID, TUBE, "A")) is nothing


def test_the_first_strokes_of_a_printed_core_count_less():
    # Slack falls over the first strokes and is steady from the sixth on.
    printed = replace(SOLID, core=Core(material="petg", infill_pct=60, walls=4))
    slacks = [3.0, 2.6, 2.3, 2.1, 2.0, *[1.9] * 4]
    setup = Setup(BENCH, printed, TUBE, "A")
    solid, settled = (
        known_after(die, slacks).of(Setup(BENCH, die, TUBE, "A"))[0][SLACK]
        for die in (SOLID, printed)
    )
    assert setup.keys == Setup(BENCH, SOLID, TUBE, "A").keys
    assert abs(settled - 1.9) < abs(solid - 1.9)
    assert settled == pytest.approx(1.9, abs=0.25)
