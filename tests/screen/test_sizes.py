import pytest

from benchmate.screen.digits import cut_to
from benchmate.screen.sizes import share


@pytest.mark.parametrize("width", [20, 50, 80, 100, 300])
def test_every_row_of_the_terminal_is_given_out_once(width):
    for height in range(10, 130):
        for steering in (True, False):
            sizes = share(width, height, steering=steering)
            rows = (sizes.live, sizes.label, sizes.pair, sizes.cue, sizes.status, sizes.told)
            assert 2 + sum(rows) == height


def test_at_the_usual_sizes_the_live_angle_is_the_largest():
    assert share(80, 24)[:3] == (10, 1, 7)
    assert share(100, 30)[:3] == (14, 1, 7)
    assert share(50, 15)[:3] == (7, 0, 5)
    assert share(40, 10)[:3] == (5, 1, 0)


@pytest.mark.parametrize("height", range(10, 15))
@pytest.mark.parametrize("digits", [3, 4])
def test_on_the_smallest_arm_and_stop_angle_are_digits_side_by_side(height, digits):
    for steering in (True, False):
        sizes = share(40, height, steering=steering)
        live = cut_to(digits, 40 - sizes.beside, sizes.live)
        stop = cut_to(digits, sizes.beside, sizes.live)
        assert live is not None
        assert stop is not None
        assert live.width(digits) >= stop.width(digits)


def test_the_live_angle_is_never_smaller_than_the_other_two():
    for height in range(10, 130):
        sizes = share(80, height)
        assert sizes.live >= sizes.pair


def test_even_a_terminal_of_one_row_is_shared_out():
    assert share(1, 1).live >= 1
