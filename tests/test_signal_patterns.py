"""Tones and lamps: a beat while pumping, steady at stop, another rhythm for each trouble."""

import pytest

from benchmate.signal_patterns import LAMPS, PATTERNS, lamp_test, signal

AGES = [step * 0.01 for step in range(400)]


def tones(cue: str, *, fault: bool = False, to_go: float | None = 50.0) -> list[float | None]:
    return [signal(cue, fault=fault, to_go=to_go, age_s=age).tone_hz for age in AGES]  # type: ignore[arg-type]  # cue is parametrized


def beeps(heard: list[float | None]) -> int:
    return sum(1 for a, b in zip([None, *heard], heard, strict=False) if a is None and b)


def test_stop_sounds_without_a_break() -> None:
    assert None not in tones("stop")
    assert len(set(tones("stop"))) == 1


def test_pumping_beats_slowly_and_slow_beats_faster_the_nearer_the_stop() -> None:
    pump, far, near = (
        beeps(tones("pump")),
        beeps(tones("slow", to_go=3.0)),
        beeps(tones("slow", to_go=0.2)),
    )
    assert 1 <= pump < far < near


def test_over_and_a_fault_each_have_two_tones_and_share_none() -> None:
    over, fault = set(tones("over")), set(tones("pump", fault=True))
    assert len(over) == len(fault) == 2
    assert not over & fault


@pytest.mark.parametrize("cue", ["pump", "slow", "stop", "over", "release"])
def test_every_tone_can_be_heard_behind_ear_muffs(cue: str) -> None:
    """500 to 1500 Hz is what muffs and worn hearing let through (MIL-STD-1472E prefers 500-3000).

    Second hand; the over tone's lower half lies just under it on purpose, to be felt as low.
    """
    heard = {tone for tone in tones(cue) if tone is not None}
    assert all(460.0 <= tone <= 1500.0 for tone in heard)


def test_the_lamps_tell_cues_apart_by_count() -> None:
    lit = {
        cue: sum(signal(cue, fault=False, to_go=3.0, age_s=0.0).lamps)  # type: ignore[arg-type]  # a literal each
        for cue in ("wait", "pump", "slow", "release", "stop")
    }
    assert len(set(lit.values())) == len(lit)
    assert lit["stop"] == LAMPS


def test_all_lamps_are_lit_at_the_start_so_that_a_dead_one_shows() -> None:
    first = lamp_test(0.0)
    assert first is not None
    assert all(first.lamps)
    assert lamp_test(5.0) is None


def test_every_pattern_of_the_table_is_told_apart_by_ear_and_by_lamps() -> None:
    heard = {pattern.name: tuple(pattern.at(age).tone_hz for age in AGES) for pattern in PATTERNS}
    assert len(set(heard.values())) == len(PATTERNS)
    lit = {pattern.name: tuple(pattern.at(age).lamps for age in AGES) for pattern in PATTERNS}
    assert len(set(lit.values())) == len(PATTERNS)


def test_good_rises_and_press_again_falls() -> None:
    def notes(name: str) -> list[float]:
        pattern = next(each for each in PATTERNS if each.name == name)
        sounded = [tone for age in AGES[:100] if (tone := pattern.at(age).tone_hz)]
        return [sounded[0], sounded[-1]]

    low, high = notes("good")
    assert low < high
    assert notes("again") == [high, low]


def test_no_situation_that_asks_for_something_is_silent() -> None:
    for pattern in PATTERNS:
        assert any(pattern.at(age).tone_hz for age in AGES), pattern.name


def test_a_fault_is_heard_whatever_else_stands() -> None:
    fault = signal("stop", fault=True, to_go=0.0, age_s=0.0, say="accept", unzeroed=True)
    assert fault == signal("wait", fault=True, to_go=None, age_s=0.0)
