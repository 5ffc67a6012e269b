"""Allan deviation against the allantools package and a published worked set."""

import allantools
import numpy as np
import pytest

from benchmate.sensing.calibration.allan import allan_deviation


@pytest.mark.parametrize("kind", ["white", "walk", "mixed"])
def test_as_allantools_computes_it(kind):
    rng = np.random.default_rng(3)
    white, walk = rng.normal(size=4000), np.cumsum(rng.normal(size=4000)) * 0.02
    values = {"white": white, "walk": walk, "mixed": white + walk}[kind]
    times, ours = allan_deviation(values, 50.0)
    theirs_at, theirs, _, _ = allantools.oadev(values, rate=50.0, data_type="freq", taus=times)
    assert times[: len(theirs_at)] == pytest.approx(theirs_at)
    assert ours[: len(theirs)] == pytest.approx(theirs, rel=1e-9)
    assert len(theirs) > 12


def test_as_the_thousand_point_worked_set_prints_it():
    # W. J. Riley, Handbook of Frequency Stability Analysis (NIST Special Publication 1065, 2008),
    # section 12.4: a thousand values from a prime-modulus generator, n(0) = 1234567890,
    # n(i+1) = 16807 n(i) mod 2147483647, divided by the modulus. Table 31 (page 108) prints
    # the overlapping Allan deviation at averaging factors 1, 10 and 100; read in the tests of
    # allantools and other public suites, which quote it.
    modulus = 2147483647
    n, values = 1234567890, []
    for _ in range(1000):
        values.append(n / modulus)
        n = 16807 * n % modulus
    _, found = allan_deviation(values, 1.0, [1.0, 10.0, 100.0])
    assert found == pytest.approx([2.922319e-1, 9.159953e-2, 3.241343e-2], rel=5e-7)


def test_a_record_too_short_is_refused():
    with pytest.raises(ValueError, match="too few"):
        allan_deviation([1.0, 2.0, 3.0], 1.0)
