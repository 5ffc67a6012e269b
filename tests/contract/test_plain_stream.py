"""What the plain stream says and in which order, over a whole rehearsed job."""

import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from benchmate.cli import main

Event = dict[str, Any]
KEYS = {
    "target": {"bend", "hit", "bend_angle", "stop_angle", "sd"},
    "reading": {"t", "arm", "rate", "sd", "to_go", "phase", "cue"},
    "peak": {"arm"},
    "rest": {"arm", "springback"},
    "verdict": {"say", "bend_angle", "sd"},
    "logged": {"id", "bend"},
    "fault": {"what", "detail"},
    "cleared": {"what"},
    "done": set(),
}
PHASES = {"zeroing", "ready", "bending", "holding", "releasing", "resting", "logged"}
CUES = {"wait", "pump", "slow", "stop", "release", "over"}


@pytest.fixture(scope="module")
def events(tmp_path_factory: pytest.TempPathFactory) -> list[Event]:
    folder: Path = tmp_path_factory.mktemp("stream")
    with pytest.MonkeyPatch.context() as patch:
        told = (folder / "told").open("w+", encoding="utf-8")
        patch.setattr("sys.stdout", told)
        words = ["watch", "barrow-handle", "--bend", "2", "--plain"]
        rehearse = ["--simulate", "--operator", "--quick"]
        assert main(["--store", str(folder / "bends.db"), *words, *rehearse]) == 0
    told.seek(0)
    with told:
        return [json.loads(line) for line in told]


def of(events: list[Event], kind: str) -> list[Event]:
    return [event for event in events if event["event"] == kind]


def hits(events: list[Event]) -> list[list[Event]]:
    """Give the events of each hit, from its target on."""
    starts = [at for at, event in enumerate(events) if event["event"] == "target"]
    return [events[a:b] for a, b in pairwise([*starts, len(events)])]


def test_every_event_is_known_and_has_its_keys(events: list[Event]) -> None:
    for event in events:
        assert KEYS[event["event"]] <= set(event)
    for reading in of(events, "reading"):
        assert reading["phase"] in PHASES
        assert reading["cue"] in CUES


def test_the_order_of_a_hit_is_target_peak_rest_verdict_logged(events: list[Event]) -> None:
    for hit in hits(events):
        said = [event["event"] for event in hit if event["event"] != "reading"]
        assert said[:5] == ["target", "peak", "rest", "verdict", "logged"]
        # A reading by the protractor gives a new verdict, and the row anew.
        assert set(said[5:]) <= {"verdict", "logged", "done"}
    assert events[-1] == {"event": "done"}
    assert len(of(events, "done")) == 1


def test_a_verdict_has_a_stop_angle_with_again_and_only_then(events: list[Event]) -> None:
    for verdict in of(events, "verdict"):
        assert verdict["say"] in ("accept", "again", "over", "measure")
        assert (verdict.get("stop_angle") is not None) == (verdict["say"] == "again")


def test_next_does_what_the_verdict_says(events: list[Event]) -> None:
    for hit, after in pairwise(hits(events)):
        say = of(hit, "verdict")[-1]["say"]
        before, target = hit[0], after[0]
        if say == "again":
            assert (target["bend"], target["hit"]) == (before["bend"], before["hit"] + 1)
        else:
            assert (target["bend"], target["hit"]) == (before["bend"] + 1, 1)


def test_no_stop_angle_lies_below_one_already_passed(events: list[Event]) -> None:
    for hit, after in pairwise(hits(events)):
        if after[0]["bend"] == hit[0]["bend"]:
            assert after[0]["stop_angle"] >= of(hit, "peak")[0]["arm"]


def test_all_versions_of_a_bend_bear_one_id(events: list[Event]) -> None:
    ids = {(event["bend"], event["id"]) for event in of(events, "logged")}
    assert len(ids) == len({bend for bend, _ in ids}) == 2


def test_readings_come_twenty_a_second_in_order(events: list[Event]) -> None:
    times = [event["t"] for event in of(events, "reading")]
    assert all(0.0 < new - old <= 0.05 for old, new in pairwise(times))


def test_to_go_is_stop_angle_less_arm_angle(events: list[Event]) -> None:
    for hit in hits(events):
        for reading in of(hit, "reading"):
            assert reading["to_go"] == pytest.approx(hit[0]["stop_angle"] - reading["arm"])


def test_zero_is_taken_before_a_bends_first_hit(events: list[Event]) -> None:
    for hit in hits(events):
        if hit[0]["hit"] == 1:
            phases = [reading["phase"] for reading in of(hit, "reading")]
            assert phases[0] == "zeroing"
            first = of(hit, "reading")[phases.index("ready")]
            assert abs(first["arm"]) < 0.1


def test_the_stop_cue_stands_until_the_arm_has_stood_still_for_half_a_second(
    events: list[Event],
) -> None:
    stops = 0
    for hit in hits(events):
        readings = of(hit, "reading")
        cues = [reading["cue"] for reading in readings]
        released = cues.index("release")
        assert "slow" in cues[:released]
        if "stop" not in cues[:released]:
            continue
        stops += 1
        at = cues.index("stop")
        after = next(k for k in range(at, len(cues)) if cues[k] not in ("stop", "over"))
        # On from there it is release, or slow again where the stop was missed.
        assert cues[after] in ("release", "slow")
        moved = [each["t"] for each in readings[at:after] if abs(each["rate"] or 0.0) > 1.0]
        assert not moved or readings[after]["t"] - moved[-1] > 0.4
    assert stops


def test_peak_and_rest_are_those_of_the_readings(events: list[Event]) -> None:
    for hit in hits(events):
        arms = [event["arm"] for event in of(hit, "reading") if event["phase"] != "zeroing"]
        (peak,), (rest,) = of(hit, "peak"), of(hit, "rest")
        assert peak["arm"] == pytest.approx(max(arms), abs=0.15)
        assert rest["arm"] == pytest.approx(arms[-1], abs=0.15)
        assert rest["springback"] == pytest.approx(peak["arm"] - rest["arm"])
