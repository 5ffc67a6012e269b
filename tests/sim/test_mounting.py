"""What the box on the arm feels, against a point moved through space and differentiated twice."""

import numpy as np
import pytest

from benchmate.shop.parts import Arm
from benchmate.sim.motion import Move
from benchmate.sim.mounting import Knock, draw_mounting, felt

G = 9.80665
STROKE = Move(0.0, 0.5, 20.0, 4.0)


def turned(axis, deg):
    a = np.radians(deg)
    x, y, z = axis
    cross = np.array([[0, -z, y], [z, 0, -x], [-y, x, 0]])
    return np.eye(3) + np.sin(a) * cross + (1 - np.cos(a)) * cross @ cross


def space(mounting):
    """Pivot's axis (as the arm turns about it, right-handed) and the box's arm at the start."""
    tilt = np.radians(mounting.tilt_deg)
    axis = np.array([0.0, -np.cos(tilt), mounting.sense * np.sin(tilt)])
    up_in_plane = np.array([0.0, 0.0, 1.0]) - axis[2] * axis
    return axis, turned(axis, mounting.start_deg) @ up_in_plane / np.linalg.norm(up_in_plane)


@pytest.mark.parametrize("handed", ["right", "left"])
@pytest.mark.parametrize("plane", ["vertical", "tilted", "horizontal"])
@pytest.mark.parametrize("seed", range(3))
def test_a_box_on_the_moving_arm_feels_what_mechanics_says(plane, handed, seed):
    mounting = draw_mounting(Arm(radius_mm=300.0, plane=plane, handed=handed), seed, 0.0)
    axis, outward = space(mounting)

    def box(t):
        return mounting.radius_m * turned(axis, STROKE.at(t).deg) @ outward

    t, h = 0.17, 1e-4
    acceleration = (box(t + h) - 2 * box(t) + box(t - h)) / h**2
    force = acceleration / G + np.array([0.0, 0.0, 1.0])
    out = turned(axis, STROKE.at(t).deg) @ outward
    arm_frame = np.array([out, np.cross(axis, out), axis])
    chip = np.array(mounting.chip_from_arm) @ arm_frame
    shown = felt(mounting, STROKE.at(t), (), t)
    assert shown.accel_g == pytest.approx(chip @ force, abs=1e-5)
    assert shown.turn_dps == pytest.approx(chip @ axis * STROKE.at(t).dps, abs=1e-6)


def test_any_attitude_is_a_plain_rotation():
    for seed in range(20):
        rotation = np.array(draw_mounting(Arm(radius_mm=80.0), seed, 0.0).chip_from_arm)
        assert rotation @ rotation.T == pytest.approx(np.eye(3), abs=1e-12)
        assert np.linalg.det(rotation) == pytest.approx(1.0)


def test_a_knock_looks_as_if_the_arm_had_turned():
    mounting = draw_mounting(Arm(radius_mm=80.0), 3, 0.0)
    still = Move(0.0, 0.0, 30.0, 0.0).at(1.0)
    further = Move(0.0, 0.0, 37.0, 0.0).at(1.0)
    assert felt(mounting, still, (Knock(0.0, 7.0),), 0.0).accel_g == pytest.approx(
        felt(mounting, further, (), 0.0).accel_g
    )
    assert (
        felt(mounting, still, (Knock(0.0, 7.0),), 0.0).shaft_deg
        == felt(mounting, further, (), 0.0).shaft_deg
    )


def test_the_box_warms_up_after_it_was_switched_on():
    mounting = draw_mounting(Arm(radius_mm=80.0), 3, 50.0)
    still = Move(0.0, 0.0, 0.0, 0.0).at(1.0)
    cold, warm = (felt(mounting, still, (), t).temperature_c for t in (50.0, 5000.0))
    assert warm - cold == pytest.approx(5.0, abs=0.01)


def test_the_level_plane_leaves_hardly_any_gravity_in_it():
    mounting = draw_mounting(Arm(radius_mm=80.0, plane="horizontal"), 3, 0.0)
    assert np.cos(np.radians(mounting.tilt_deg)) < 0.05
