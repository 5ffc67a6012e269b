"""Tube sections against printed tables and a textbook."""

import math

import pytest

from benchmate.metal import Section

# A maker's table of hot-finished circular hollow sections to EN 10210-2, as printed: diameter and
# wall mm, A mm2, I mm4, elastic and plastic modulus mm3. Three figures are printed: within 0.5 %.
HOLLOW_SECTIONS = [
    (21.3, 3.2, 182, 7700, 720, 1060),
    (26.9, 2.6, 198, 14800, 1100, 1540),
    (33.7, 2.6, 254, 30900, 1840, 2520),
    (42.4, 3.2, 394, 76200, 3590, 4930),
    (48.3, 5.0, 680, 162000, 6690, 9420),
    (60.3, 8.0, 1310, 460000, 15300, 22100),
    (88.9, 4.0, 1070, 963000, 21700, 28900),
    (114.3, 6.3, 2140, 3130000, 54700, 73600),
]


@pytest.mark.parametrize("row", HOLLOW_SECTIONS, ids=lambda row: f"{row[0]}x{row[1]}")
def test_sections_match_the_printed_table(row):
    od, wall, area, inertia, elastic, plastic = row
    section = Section(od, wall)
    assert section.area_mm2 == pytest.approx(area, rel=5e-3)
    assert section.inertia_mm4 == pytest.approx(inertia, rel=5e-3)
    assert section.elastic_modulus_mm3 == pytest.approx(elastic, rel=5e-3)
    assert section.plastic_modulus_mm3 == pytest.approx(plastic, rel=5e-3)


# Steel pipe as tabulated by the American Institute of Steel Construction (Manual, table of pipe):
# outside diameter and design wall (0.93 of nominal) in, I in4, Z in3, S in3. Within 0.7 %.
@pytest.mark.parametrize(
    ("od", "wall", "inertia", "plastic", "elastic"),
    [
        (1.660, 0.130, 0.184, 0.305, 0.222),
        (1.900, 0.135, 0.293, 0.421, 0.309),
        (2.375, 0.143, 0.627, 0.713, 0.528),
    ],
)
def test_pipe_matches_the_steel_manual(od, wall, inertia, plastic, elastic):
    section = Section(od, wall)
    assert section.inertia_mm4 == pytest.approx(inertia, rel=7e-3)
    assert section.plastic_modulus_mm3 == pytest.approx(plastic, rel=7e-3)
    assert section.elastic_modulus_mm3 == pytest.approx(elastic, rel=7e-3)


def test_shape_factors_of_solid_bar_and_thin_wall_are_the_textbook_s():
    # Any text on plastic design: 16/(3 pi) = 1.698 solid, 4/pi = 1.273 thin.
    for wall, wanted, rel in ((10.0, 16 / (3 * math.pi), 1e-12), (1e-6, 4 / math.pi, 1e-6)):
        section = Section(20.0, wall)
        shape_factor = section.plastic_modulus_mm3 / section.elastic_modulus_mm3
        assert shape_factor == pytest.approx(wanted, rel=rel)
