"""A tube that only springs is refused, not given a radius of a million miles."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.errors import Refusal
from benchmate.metal import PerfectlyPlastic, Section, free_radius_mm, released_per_mm
from benchmate.metal.hardening import from_strengths


@given(st.floats(6, 80), st.floats(0.04, 0.3), st.floats(150, 900), st.floats(1.05, 20))
def test_a_tube_that_stays_elastic_is_refused(od, wall, strength, farther):
    section = Section(od, wall * od)
    steels = (
        PerfectlyPlastic(205_000.0, strength),
        from_strengths(205_000, strength, 1.3 * strength),
    )
    for steel in steels:
        radius = farther * od / 2 / steel.yield_strain
        with pytest.raises(Refusal, match="only springs"):
            free_radius_mm(radius, released_per_mm(section, steel, radius))
