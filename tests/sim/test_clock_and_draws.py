import pytest

from benchmate.sim.clock import QuickClock
from benchmate.sim.draws import Noise, chance, stable_seed


def test_time_passes_at_once_when_somebody_sleeps():
    clock = QuickClock(start=7.0)
    clock.sleep(2.5)
    assert clock.now() == 9.5


@pytest.mark.parametrize("seconds", [0.0, -1.0])
def test_time_never_goes_back(seconds):
    clock = QuickClock()
    clock.sleep(seconds)
    assert clock.now() == 100.0


def test_a_name_gives_the_same_seed_in_every_run():
    assert stable_seed("die", "heron-90", 3) == 0xBD3E9DF50433F58F


def test_names_do_not_run_into_each_other():
    assert stable_seed("ab", "c") != stable_seed("a", "bc")


def test_noise_belongs_to_the_sample_not_to_the_asking():
    forwards, backwards = Noise(11, 3), Noise(11, 3)
    wanted = [0, 5, 255, 256, 1000]
    seen = {k: forwards.row(k) for k in wanted}
    assert all(backwards.row(k) == seen[k] for k in reversed(wanted))
    assert forwards.row(5) == seen[5]


def test_different_names_draw_differently():
    assert chance("a").random() != chance("b").random()
