"""Gauge numbers of tube walls against the standard's table.

Source: Birmingham wire gauge as tube standards print it, in inches (from memory).
"""

import pytest

from benchmate.shop.gauges import gauge_mm
from benchmate.shop.tables import wall_mm

TABLE = {8: 0.165, 9: 0.148, 10: 0.134, 11: 0.120, 12: 0.109, 13: 0.095, 14: 0.083}
TABLE |= {15: 0.072, 16: 0.065, 17: 0.058, 18: 0.049, 19: 0.042, 20: 0.035, 22: 0.028}


@pytest.mark.parametrize(("number", "inches"), TABLE.items())
@pytest.mark.parametrize("written", ["{} ga", "{}ga", "{} gauge", "{} BWG"])
def test_a_gauge_is_the_wall_that_the_table_prints(written: str, number: int, inches: float):
    assert gauge_mm(written.format(number)) == pytest.approx(25.4 * inches, rel=1e-12)
    assert wall_mm(written.format(number)) == pytest.approx(25.4 * inches, rel=1e-12)
