"""A start of bend that moved between trials is told, one that scattered is not."""

import numpy as np

from benchmate.tooling.trials import Trial, moved


def trials(figures):
    return [Trial(86_400.0 * day, "t", offset, u, 76.0, 0.4) for day, offset, u in figures]


def test_an_offset_that_moved_is_told_since_the_trial_before():
    found = moved(trials([(1, 3.0, 0.3), (2, 3.1, 0.25), (9, 4.6, 0.2)]))
    assert found is not None
    assert found.since.wall_s == 2 * 86_400.0
    assert 1.4 < found.by_mm < 1.6


def test_an_offset_that_scatters_as_its_pieces_do_is_left_alone():
    rng = np.random.default_rng(5)
    called = 0
    for _ in range(400):
        pieces = rng.normal(3.0, 0.5, 6)
        seen = [(n, pieces[:n].mean(), 0.5 / np.sqrt(n)) for n in (2, 4, 6)]
        called += moved(trials(seen)) is not None
    assert called <= 8  # two comparisons each at three deviations: about two expected


def test_another_tube_s_trial_is_no_move():
    first, second = trials([(1, 3.0, 0.3), (2, 5.0, 0.3)])
    assert moved([first, second._replace(tube="other")]) is None
    assert moved([]) is None
