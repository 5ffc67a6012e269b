import pytest

from benchmate.screen.sizes import share


@pytest.mark.parametrize("width", [20, 50, 80, 100, 300])
def test_every_row_of_the_terminal_is_given_out_once(width):
    for height in range(10, 130):
        sizes = share(width, height)
        labels = 1 if sizes.label or sizes.pair == 1 else 0
        pair = sizes.pair if sizes.pair > 1 else 0
        used = 2 + sizes.live + labels + pair + sizes.cue + sizes.status + sizes.told
        assert used == height


def test_at_the_usual_sizes_the_live_angle_is_the_largest():
    assert share(80, 24)[:3] == (10, 1, 7)
    assert share(100, 30)[:3] == (14, 1, 7)
    assert share(50, 15)[:3] == (7, 0, 5)


def test_the_live_angle_is_never_smaller_than_the_other_two():
    for height in range(10, 130):
        sizes = share(80, height)
        assert sizes.live >= sizes.pair


def test_even_a_terminal_of_one_row_is_shared_out():
    assert share(1, 1).live >= 1
