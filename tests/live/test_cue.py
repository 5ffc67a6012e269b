"""The guide: cues that only move on, and strokes still to go."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from benchmate.bench.motion.cue import Guide, Wanted, advise, strokes_left

WANTED = Wanted(stop_angle=93.0, over_angle=93.8)
ORDER = ("pump", "slow", "stop", "over")


def follow(arms: list[float], dps: float = 2.0) -> list[str]:
    guide = Guide()
    cues = []
    for step, arm in enumerate(arms):
        guide = advise(
            guide,
            phase="bending",
            latched=False,
            t=step * 0.01,
            arm=arm,
            rate=dps,
            wanted=WANTED,
        )
        cues.append(guide.cue)
    return cues


@given(st.lists(st.floats(-5.0, 120.0), min_size=1, max_size=60))
def test_within_a_hit_the_cue_never_goes_back(arms: list[float]) -> None:
    ranks = [ORDER.index(cue) for cue in follow(arms)]
    assert ranks == sorted(ranks)


@given(st.floats(0.0, 30.0), st.floats(0.0, 92.9))
def test_the_stop_cue_comes_no_later_than_the_stop_angle(dps: float, arm: float) -> None:
    (cue,) = follow([arm], dps)
    assert (cue in ("stop", "over")) == (93.0 - arm <= min(dps * 0.25, 1.5))


def test_a_noisy_rate_stops_no_hit_early() -> None:
    noise = np.random.default_rng(1).normal(0.0, 2.0, 20_000)
    stops = []
    for hit in range(20):
        guide = Guide()
        for step in range(1000):
            arm = 85.0 + 2.0 * step * 0.005
            rate = 2.0 + float(noise[1000 * hit + step])
            guide = advise(
                guide,
                phase="bending",
                latched=False,
                t=step * 0.005,
                arm=arm,
                rate=rate,
                wanted=WANTED,
            )
            if guide.cue == "stop":
                stops.append(arm)
                break
    # At 2 deg/s half a degree goes by in a person's quarter of a second.
    assert len(stops) == 20
    assert min(stops) > 92.5 - 0.3
    assert np.mean(stops) == pytest.approx(92.5, abs=0.2)


@given(st.floats(1.0, 20.0))
def test_slow_leaves_at_least_a_reaction_and_a_half_before_the_stop(dps: float) -> None:
    arms = [dps * 0.01 * step for step in range(int(93.0 / dps * 100))]
    cues = follow(arms, dps)
    first = arms[cues.index("slow")]
    assert (93.0 - first) / dps >= 0.7 or 93.0 - first >= 3.0 - dps * 0.01


def test_past_the_angle_at_which_it_is_more_likely_over_than_not_the_cue_says_over() -> None:
    assert follow([93.9]) == ["over"]


def test_strokes_left_are_counted_by_this_hits_own_strokes() -> None:
    guide = advise(Guide(), phase="ready", latched=False, t=0.0, arm=0.0, rate=0.0, wanted=WANTED)
    t, arm = 0.0, 0.0
    for _ in range(6):
        for rate, seconds in ((6.0, 0.5), (0.0, 0.3)):
            for _ in range(int(seconds * 100)):
                t, arm = t + 0.01, arm + rate * 0.01
                guide = advise(
                    guide, phase="bending", latched=False, t=t, arm=arm, rate=rate, wanted=WANTED
                )
    left = strokes_left(guide, 30.0)
    assert left == pytest.approx(10.0, rel=0.05)


def test_before_a_stroke_is_complete_no_count_is_given() -> None:
    assert strokes_left(Guide(), 30.0) is None
