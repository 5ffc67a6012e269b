"""When a silent sampler is at work, when it hangs, and who tells the time meanwhile."""

from benchmate.bench.sampler_timeout import SamplerTimeout


def looks(
    silence: SamplerTimeout, until: float, beats: "dict[float, int]", since: float = 0.0
) -> list:
    """Look twenty times a second; give what was told and when."""
    told, count, now = [], 0, since
    while now < until:
        now = round(now + 0.05, 6)
        count = beats.get(now, count)
        if (said := silence.look(now, count)) is not None:
            told.append((now, said))
    return told


def test_a_first_transfer_that_hangs_is_told_within_half_a_second() -> None:
    ((when, said),) = looks(SamplerTimeout(0.0), 0.5, {0.1: 1})
    assert (when <= 0.5, said) == (True, "hangs")


def test_a_chip_that_is_set_up_with_its_rests_does_not_hang() -> None:
    at_work = {round(0.1 * step, 6): step for step in range(1, 21)}
    assert looks(SamplerTimeout(0.0), 2.0, at_work) == []


def test_a_bus_that_is_slow_to_open_gets_longer() -> None:
    assert looks(SamplerTimeout(0.0), 1.4, {}) == []
    assert [said for _, said in looks(SamplerTimeout(0.0), 1.6, {})] == ["hangs"]


def test_a_hang_is_told_once_and_then_the_time_four_times_a_second() -> None:
    told = [said for _, said in looks(SamplerTimeout(0.0), 3.0, {0.05: 1})]
    assert told[0] == "hangs"
    assert set(told[1:]) == {"tick"}
    assert 8 <= len(told[1:]) <= 12


def test_a_fault_that_stands_is_no_hang_and_good_samples_begin_anew() -> None:
    silence = SamplerTimeout(0.0)
    silence.heard(0.1, fault=True)
    assert {said for _, said in looks(silence, 2.0, {}, since=0.1)} == {"tick"}
    silence.heard(2.0, fault=False)
    assert [said for _, said in looks(silence, 2.5, {}, since=2.0)] == ["hangs"]
