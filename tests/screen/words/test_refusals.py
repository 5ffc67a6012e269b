import pytest

from benchmate.screen.client import Ended
from benchmate.screen.state.bench_state import after, leaving
from benchmate.screen.words.refusals import in_keys, why_not

KEYS = ("a", "b", "k", "m", "n", "p", "r", "s", "t", "u")


@pytest.fixture
def pumping(fold, say):
    return fold(say.target(mark=254.0), say.reading(40.0), rehearsal=False)


@pytest.fixture
def judged(fold, say):
    return fold(say.target(mark=254.0, turn=0.0), say.verdict(), rehearsal=False)


@pytest.mark.parametrize("key", ["a", "k", "m", "n", "t"])
def test_what_is_for_a_made_hit_waits_for_one(fold, say, pumping, key):
    assert why_not(pumping, key) == f"{key} is for after a hit: release first."
    zeroing = fold(say.target(), say.reading(0.0, phase="zeroing"))
    assert why_not(zeroing, key) == f"{key} is for after a hit: bend first."


def test_after_a_hit_these_keys_do_what_they_say(judged):
    assert [key for key in "akmtsu" if why_not(judged, key)] == []


def test_going_on_unmeasured_has_its_own_key_where_a_measurement_is_due_only(fold, say, judged):
    assert why_not(judged, "n") == "n is for a bend that is to be measured; Enter goes on."
    assert why_not(fold(say.target(), say.verdict("measure")), "n") == ""


@pytest.mark.parametrize("key", ["k", "t"])
def test_a_bend_without_a_part_has_neither_mark_nor_turn(fold, say, key):
    alone = fold(say.target(), say.verdict())
    assert why_not(alone, key) == f"{key} is for a part: this bend has no mark."


@pytest.mark.parametrize("key", ["s", "u"])
def test_a_loaded_tube_is_neither_skipped_nor_undone(pumping, key):
    assert why_not(pumping, key) == f"{key} is for between hits: release first."


def test_a_bite_is_for_a_loaded_tube_on_a_bender_that_takes_bites(fold, say, pumping):
    assert "bench.yaml" in why_not(pumping, "b")
    biting = fold(say.target(), say.reading(0.0, phase="ready"), bites=True)
    assert why_not(biting, "b") == "b is for a loaded tube: pump first."
    assert why_not(after(biting, say.reading(9.0, t=13.0), 0.0), "b") == ""


@pytest.mark.parametrize("key", ["p", "r"])
def test_a_pump_is_worked_by_key_in_a_rehearsal_by_hand_only(fold, say, pumping, key):
    assert "here you pump" in why_not(pumping, key)
    looking_on = fold(say.target(), say.reading(9.0))
    assert "a simulated person pumps" in why_not(looking_on, key)
    assert why_not(fold(say.target(), say.reading(9.0), by_hand=True), key) == ""


@pytest.mark.parametrize("key", KEYS)
def test_no_key_speaks_to_a_bench_that_does_not_hear(judged, key):
    for state in (leaving(judged), after(judged, Ended(1, "", again=False), 0.0)):
        assert why_not(state, key).startswith(f"{key} does nothing now: ")


@pytest.mark.parametrize("key", KEYS)
def test_each_reason_fits_the_bottom_of_a_small_panel(fold, say, pumping, key):
    zeroing = fold(say.target(), say.reading(0.0, phase="zeroing"), rehearsal=False)
    assert max(len(why_not(state, key)) for state in (pumping, zeroing)) <= 54


@pytest.mark.parametrize(
    ("said", "shown"),
    [
        ("'bite' is for a loaded tube; pump first", "b is for a loaded tube; pump first"),
        ("for 60 degrees say 'measured 120'", "for 60 degrees say m 120"),
        ("as in 'turned -89.5'", "as in t -89.5"),
        ("jobs/'odd'.yaml", "jobs/'odd'.yaml"),
    ],
)
def test_commands_are_named_by_their_keys(said, shown):
    assert in_keys(said) == shown
