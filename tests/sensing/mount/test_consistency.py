"""What the swing shows of the bender against what bench.yaml says."""

import numpy as np
import pytest
from msgspec.structs import replace

from benchmate.sensing import chip_facts
from benchmate.sensing.mount.alignment import Mount, fit_mount
from benchmate.sensing.mount.consistency import bends_clockwise, lean_deg, mismatches
from benchmate.shop.parts import Arm, Sensor

LSM = Sensor(chip="lsm6dso")
FACTS = chip_facts(LSM)
ARM = Arm(radius_mm=80.0)


def mount(arms, tilt, seed=1, chip="lsm6dso"):
    sensor = Sensor(chip=chip)
    rng = np.random.default_rng(seed)
    box = arms.any_box(chip_facts(sensor), 80.0, rng, tilt)
    return fit_mount(box.samples(arms.swing(chip_facts(sensor).rate_hz), rng), sensor)


@pytest.mark.parametrize("tilt", [0.0, 20.0, 45.0, -45.0, 65.0])
def test_the_lean_of_the_plane_is_found(arms, tilt):
    assert lean_deg(mount(arms, tilt)) == pytest.approx(abs(tilt), abs=4.0)


@pytest.mark.parametrize(
    ("plane", "tilt", "right"),
    [
        ("vertical", 35.0, "tilted"),
        ("tilted", 0.0, "vertical"),
        ("horizontal", 0.0, "vertical"),
        ("horizontal", 40.0, "tilted"),
    ],
)
def test_another_plane_than_bench_yaml_says_is_told_with_what_to_write(arms, plane, tilt, right):
    told = mismatches(replace(ARM, plane=plane, handed="left"), mount(arms, tilt))
    (sentence,) = told
    assert f"bench.yaml says plane: {plane}" in sentence
    assert f"write plane: {right} under arm" in sentence


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize(("plane", "tilt"), [("vertical", 2.0), ("tilted", 25.0)])
def test_a_plane_that_is_as_written_is_not_told_even_of_the_coarsest_chip(arms, plane, tilt, seed):
    found = mount(arms, tilt, seed, "adxl345")
    assert mismatches(replace(ARM, plane=plane, handed="left"), found) == ()


@pytest.mark.parametrize(("tilt", "clockwise"), [(30.0, False), (-30.0, True)])
def test_a_leaning_plane_tells_which_way_round_it_bends(arms, tilt, clockwise):
    # The pivot's axis, right-handed as the arm bends, points up at a lean over 0: seen from above
    # that is counterclockwise.
    assert bends_clockwise(mount(arms, tilt)) is clockwise


def test_an_upright_plane_does_not(arms):
    assert bends_clockwise(mount(arms, 0.0)) is None


@pytest.mark.parametrize(("tilt", "handed"), [(30.0, "right"), (-30.0, "left")])
def test_the_other_hand_than_bench_yaml_says_is_told_with_both_cures(arms, tilt, handed):
    (sentence,) = mismatches(replace(ARM, plane="tilted", handed=handed), mount(arms, tilt))
    other = {"right": "left", "left": "right"}[handed]
    assert f"bench.yaml says handed: {handed}" in sentence
    assert f"write handed: {other} under arm" in sentence
    assert "align again, first the way of bending" in sentence


@pytest.mark.parametrize(("tilt", "handed"), [(30.0, "left"), (-30.0, "right")])
def test_the_hand_that_bench_yaml_says_is_not_told(arms, tilt, handed):
    assert mismatches(replace(ARM, plane="tilted", handed=handed), mount(arms, tilt)) == ()


def test_a_swing_the_other_way_than_the_one_before_is_told(arms):
    rng = np.random.default_rng(4)
    box = arms.any_box(FACTS, 80.0, rng)
    before = fit_mount(box.samples(arms.swing(208.0), rng), LSM)
    same = fit_mount(box.samples(arms.swing(208.0), rng), LSM)
    back = fit_mount(box.samples(arms.swing(208.0, arc=-95.0), rng), LSM)
    assert mismatches(ARM, same, before) == ()
    (sentence,) = mismatches(ARM, back, before)
    assert "the other way than at the alignment before" in sentence


def test_a_box_clamped_anew_otherwise_is_no_mismatch(arms):
    assert mismatches(ARM, mount(arms, 0.0, 1), mount(arms, 0.0, 2)) == ()


def test_an_encoder_tells_only_a_swing_the_other_way():
    up = Mount(chip="as5600", address=0x36, identity="", sense=1)
    assert lean_deg(up) is None
    assert mismatches(replace(ARM, plane="horizontal"), up) == ()
    down = Mount(chip="as5600", address=0x36, identity="", sense=-1)
    (sentence,) = mismatches(replace(ARM, plane="horizontal"), down, up)
    assert "counts backwards" in sentence
