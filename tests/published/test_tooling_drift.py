"""Average run lengths of the two-sided CUSUM against the printed table."""

import numpy as np
import pytest

from benchmate.tooling.drift import Sums, average_run_length

# J. M. Lucas and R. B. Crosier, "Fast initial response for CUSUM quality-control schemes",
# Technometrics 24 (1982) 199, table 1: two-sided, k 0.5, h 4; shift in standard deviations.
LUCAS_CROSIER = [(0.0, 168), (0.25, 74.2), (0.5, 26.6), (0.75, 13.3), (1.0, 8.38), (1.5, 4.75)]


@pytest.mark.parametrize(("shift", "printed"), LUCAS_CROSIER)
def test_the_closed_form_is_within_two_per_cent_of_the_table(shift, printed):
    assert average_run_length(0.5, 4.0, shift) == pytest.approx(printed, rel=0.02)


@pytest.mark.parametrize(("shift", "printed"), [(0.0, 465), (1.0, 10.4)])
def test_at_five_as_the_textbook_prints(shift, printed):
    # D. C. Montgomery, "Introduction to Statistical Quality Control", table of CUSUM run lengths.
    assert average_run_length(0.5, 5.0, shift) == pytest.approx(printed, rel=0.01)


@pytest.mark.parametrize(("shift", "printed"), [(0.5, 26.6), (1.0, 8.38), (1.5, 4.75)])
def test_the_sums_themselves_run_as_long_as_the_table_says(shift, printed):
    rng = np.random.default_rng(11)
    lengths = []
    for _ in range(1500):
        sums, count = Sums(), 0
        while sums.largest <= 4.0:
            sums, count = sums.after(float(rng.normal(shift, 1.0)), 0.5), count + 1
        lengths.append(count)
    sure = 4 * np.std(lengths) / np.sqrt(len(lengths))
    assert np.mean(lengths) == pytest.approx(printed, abs=float(sure))
