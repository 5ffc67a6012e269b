"""Cues that move on, stops taken back only where they were missed, and strokes still to go."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from benchmate.bench.motion.cue import Guide, Wanted, advise, afresh, strokes_left

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
def test_while_the_arm_moves_the_cue_never_goes_back(arms: list[float]) -> None:
    ranks = [ORDER.index(cue) for cue in follow(arms)]
    assert ranks == sorted(ranks)


@given(st.floats(0.0, 92.9))
def test_between_two_strokes_stop_comes_only_where_no_short_stroke_fits(arm: float) -> None:
    (cue,) = follow([arm], 0.0)
    assert (cue == "stop") == (93.0 - arm <= Guide().hand.short_deg)


class Pump:
    """A hand whose strokes have the speed of a raised cosine, braked a reaction after stop."""

    def __init__(self, wanted: Wanted, arm: float = 0.0, guide: Guide | None = None) -> None:
        self.wanted, self.arm, self.t = wanted, arm, 0.0
        self.guide = guide or Guide()
        self.cues = [self.guide.cue]
        self.stood = 0

    def look(self, rate: float, phase: str = "bending") -> None:
        self.t += 0.01
        self.arm += rate * 0.01
        self.guide = advise(
            self.guide,
            phase=phase,
            latched=False,
            t=self.t,
            arm=self.arm,
            rate=rate,
            wanted=self.wanted,
        )
        if self.guide.cue != self.cues[-1]:
            self.cues.append(self.guide.cue)

    def stand(self, seconds: float) -> None:
        for _ in range(round(seconds * 100)):
            self.stood += 1
            self.look(0.0, "holding" if self.stood > 30 else "bending")

    def stroke(self, top_dps: float, seconds: float, reaction_s: float = 0.25) -> bool:
        """Stroke; True when it was braked."""
        told, self.stood = None, 0
        for step in range(round(seconds * 100)):
            self.look(0.5 * top_dps * (1.0 - math.cos(math.tau * step / (100.0 * seconds))))
            if self.guide.cue in ("stop", "over") and told is None:
                told = step
            if told is not None and step >= told + 100.0 * reaction_s:
                return True
        return told is not None

    def press(self, full: tuple[float, float], short: tuple[float, float]) -> None:
        """Pump by the cues until they say release."""
        for _ in range(300):
            if self.guide.cue in ("wait", "pump", "slow"):
                self.stroke(*(short if self.guide.cue == "slow" else full))
                self.stand(0.25)
            elif self.guide.cue == "release":
                return
            else:
                self.stand(0.7)
        raise AssertionError("nobody is ever told to let go")


@given(
    st.floats(2.0, 9.0), st.floats(0.8, 1.3), st.floats(1.5, 3.5), st.floats(0.45, 0.8),
    st.floats(30.0, 60.0),
)  # fmt: skip
@settings(deadline=None, max_examples=25)
def test_who_follows_the_cues_lets_go_near_the_stop_however_the_strokes_are(
    top: float, seconds: float, short_top: float, short_s: float, stop: float
) -> None:
    pump = Pump(Wanted(stop, stop + 1.5), arm=stop - 14.0)
    pump.press((top, seconds), (short_top, short_s))
    assert stop - 0.3 <= pump.arm <= stop + 0.6


def test_a_stop_that_was_missed_goes_back_to_slow_and_needs_no_release() -> None:
    pump = Pump(Wanted(30.0, 31.0), arm=28.0)
    pump.stroke(6.0, 1.0, reaction_s=0.0)
    assert pump.cues[-1] == "stop"
    pump.arm = 29.2
    pump.stand(0.4)
    assert pump.cues[-1] == "stop"
    pump.stand(0.3)
    assert pump.cues[-1] == "slow"


def test_release_comes_after_half_a_second_of_standstill_at_the_stop() -> None:
    pump = Pump(Wanted(30.0, 31.0), arm=28.0)
    pump.stroke(6.0, 1.0, reaction_s=0.0)
    pump.arm = 30.1
    pump.stand(0.45)
    assert pump.cues[-1] == "stop"
    pump.stand(0.15)
    assert pump.cues[-1] == "release"


def test_no_press_again_is_let_go_before_the_old_peak() -> None:
    pump = Pump(Wanted(30.1, 31.0, passed=30.0), arm=28.5)
    pump.stroke(4.0, 0.6, reaction_s=0.0)
    pump.arm = 29.98
    pump.stand(1.0)
    assert pump.cues[-1] in ("slow", "stop")
    assert "release" not in pump.cues


def test_a_press_again_with_little_to_go_is_slow_from_its_first_stroke() -> None:
    ready = {"phase": "ready", "latched": False, "t": 0.0, "rate": 0.0}
    near, far = Wanted(88.1, 89.0, passed=87.7), Wanted(98.1, 99.0, passed=87.7)
    assert advise(Guide(), arm=85.2, wanted=near, **ready).cue == "slow"
    assert advise(Guide(), arm=85.2, wanted=far, **ready).cue == "pump"
    assert advise(Guide(), arm=0.0, wanted=WANTED, **ready).cue == "pump"


def test_the_lead_is_learned_from_where_this_persons_strokes_end() -> None:
    stops = []
    guide = Guide()
    for _ in range(25):
        pump = Pump(Wanted(30.0, 31.5), arm=28.2, guide=afresh(guide))
        for _ in range(4):
            if pump.stroke(6.0, 1.2, reaction_s=0.45):
                break
        stops.append(pump.arm - 30.0)
        pump.stand(1.0)
        guide = pump.guide
    assert guide.hand.reaction_s > 0.3
    assert abs(np.mean(stops[-5:])) < abs(stops[0])


def test_a_hit_that_is_pumped_on_after_release_gets_its_cues_again() -> None:
    pump = Pump(Wanted(30.0, 31.0), arm=28.0)
    pump.stroke(6.0, 1.0, reaction_s=0.0)
    pump.arm = 30.1
    pump.stand(1.0)
    pump.stroke(6.0, 1.0, reaction_s=5.0)
    assert pump.cues[-2:] == ["stop", "over"] or pump.cues[-1] == "over"


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
    assert min(stops) > 92.5 - 0.8
    assert np.mean(stops) == pytest.approx(92.5, abs=0.2)


@given(st.floats(1.0, 20.0))
@settings(deadline=None, max_examples=8)
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


@pytest.mark.parametrize("dps", [1.0, 2.0, 3.0, 4.0])
def test_who_pumps_on_steadily_and_lets_go_a_reaction_after_stop_stands_at_the_stop(
    dps: float,
) -> None:
    pump = Pump(WANTED)
    while pump.guide.cue != "slow":
        pump.look(10.0)
    for _ in range(25):
        pump.look(10.0)
    while pump.guide.cue == "slow":
        pump.look(dps)
    for _ in range(25):
        pump.look(dps)
    assert pump.arm == pytest.approx(93.0, abs=0.3)
