"""Which turn of an angle is meant, and what no arm can reach."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.sensing import chip_facts
from benchmate.sensing.health.monitor import BEYOND_S, HealthMonitor
from benchmate.sensing.mount.alignment import Mount
from benchmate.sensing.reach import Reach
from benchmate.sensing.sample import Sample
from benchmate.shop.parts import Sensor

ARM = Reach(-20.0, 130.0)
angles = st.floats(-2000.0, 2000.0)


@given(angles, angles)
def test_a_direction_within_reach_is_found_whatever_the_turns(arm, last):
    arm = ARM.least_deg + arm % 150.0
    for turns in (-2, 0, 3):
        assert ARM.unwrap(arm + 360.0 * turns, last) == pytest.approx(arm, abs=1e-6)


@given(angles, angles)
def test_it_is_always_the_direction_that_was_shown(shown, last):
    off = (ARM.unwrap(shown, last) - shown) % 360.0
    assert min(off, 360.0 - off) < 1e-6


def test_where_two_turns_are_within_reach_the_one_nearest_to_where_it_was_is_meant():
    far = Reach(-20.0, 500.0)
    assert far.unwrap(10.0, 5.0) == pytest.approx(10.0)
    assert far.unwrap(10.0, 300.0) == pytest.approx(370.0)
    # Led astray by a fault: where it was can't be believed either.
    assert far.unwrap(10.0, -700.0) == pytest.approx(10.0)


def encoder_at(*angles_deg):
    return [Sample(t=0.01 * i, raw=(i,), angle_deg=a % 360.0) for i, a in enumerate(angles_deg)]


@pytest.fixture
def monitor():
    facts = chip_facts(Sensor(chip="as5600", rate_hz=100.0))
    return HealthMonitor(facts, Mount(chip="as5600", address=0x36, identity=""), reach=ARM)


def test_a_direction_beyond_the_reach_is_soon_a_fault_that_says_where(monitor):
    told = [monitor.see(sample) for sample in encoder_at(*[100.0] * 20, *[200.0] * 40)]
    first = next(i for i, fault in enumerate(told) if fault)
    assert 0.01 * (first - 20) == pytest.approx(BEYOND_S, abs=0.011)
    assert told[first].what == "sensor"
    assert "200 deg" in told[first].detail
    assert "-20 to 130" in told[first].detail


def test_a_lone_sample_beyond_the_reach_is_no_fault(monitor):
    path = [100.0 if i % 10 else 200.0 for i in range(60)]
    assert not any(monitor.see(sample) for sample in encoder_at(*path))
