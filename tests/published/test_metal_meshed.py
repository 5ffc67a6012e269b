"""Tube sections against a general-purpose section library, where it has a build (conftest.py)."""

import pytest
from sectionproperties.analysis import Section as Meshed
from sectionproperties.pre.library import circular_hollow_section

from benchmate.metal import Section


def test_a_section_library_meshes_the_same_tube():
    # sectionproperties (finite elements): its 128 facets stand for the circle within 0.1 %.
    meshed = Meshed(circular_hollow_section(d=44.45, t=3.048, n=128).create_mesh(mesh_sizes=[3]))
    meshed.calculate_geometric_properties()
    meshed.calculate_plastic_properties()
    ours = Section(44.45, 3.048)
    assert ours.inertia_mm4 == pytest.approx(meshed.get_ic()[0], rel=2e-3)
    assert ours.plastic_modulus_mm3 == pytest.approx(meshed.get_s()[0], rel=2e-3)
