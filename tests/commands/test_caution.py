"""What is told of a sensor before a bend begins: where it can't be believed while the arm moves."""

import pytest

from benchmate.runtime.hardware import caution
from benchmate.shop.parts import Arm, Bench, ChipKind, Sensor


def bench(chip: ChipKind, radius_mm: float) -> Bench:
    return Bench(bench="shed", sensor=Sensor(chip=chip), arm=Arm(radius_mm=radius_mm))


@pytest.mark.parametrize("chip", ["adxl345", "adxl355"])
def test_an_accelerometer_out_on_the_arm_is_told(chip: ChipKind) -> None:
    told = caution(bench(chip, 450.0))
    assert "450 mm from the pivot" in told
    assert "judged when it stands still" in told


@pytest.mark.parametrize(
    ("chip", "radius_mm"),
    [("adxl345", 80.0), ("lsm6dso", 450.0), ("lsm6dsox", 450.0), ("as5600", 450.0)],
)
def test_near_the_pivot_with_a_gyro_or_on_it_there_is_nothing_to_tell(
    chip: ChipKind, radius_mm: float
) -> None:
    assert caution(bench(chip, radius_mm)) == ""
