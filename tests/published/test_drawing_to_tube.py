"""What a drawing's words mean on the tube: facts of the trade (common practice, no source)."""

import pytest

from benchmate.layout.centreline import points
from benchmate.layout.shape_geometry import shape_centreline
from benchmate.shop.shapes import Hoop


@pytest.mark.parametrize(
    ("at", "apart"), [("outside", 575.0), ("centre", 600.0), ("inside", 625.0)]
)
def test_a_hoop_600_wide_of_25_tube_has_its_legs_so_far_apart(at: str, apart: float) -> None:
    part = shape_centreline(Hoop(width_mm=600.0, height_mm=800.0, at=at), 25.0, 75.0)
    corners = points(part)
    assert float(abs(corners[-1] - corners[0]).max()) == pytest.approx(apart)
