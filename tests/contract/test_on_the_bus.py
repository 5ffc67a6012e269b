"""A bend on real time, over pipes, against chips made from their data sheets."""

import json
import resource
import sys
import time
from itertools import pairwise
from typing import Any

import pytest

REACTION_S = 0.25
SLOWLY_DEG_S = 3.0
ONE_BEND = ("watch", "--angle", "20", "--die", "round-25-r75", "--tube", "e235-25x2", "--plain")


def readings(events: list[dict[str, Any]]) -> list[dict[str, Any]]:
    return [event for event in events if event["event"] == "reading"]


def test_a_bend_from_the_swing_to_done(workshop: Any) -> None:
    aligned = workshop.align()
    assert aligned["event"] == "aligned"
    assert aligned["residual_deg"] < 0.1
    assert aligned["leverage"] == pytest.approx(1.0, abs=0.02)

    watch = workshop.start(*ONE_BEND)
    target = watch.event("target")
    assert (target["bend"], target["hit"], target["bend_angle"]) == (1, 1, 20.0)
    for word in ("frobnicate", "measured", "measured nan", "next", "again", "zero 3"):
        watch.say(word)
        assert watch.event("fault")["what"] == "command"
    watch.zero()
    watch.bender("pump 10")
    pumped_from = len(watch.events)
    watch.event("reading", cue="slow")
    time.sleep(REACTION_S)
    watch.bender(f"pump {SLOWLY_DEG_S}")
    truth = watch.stop_on_cue()
    held = readings(watch.events)[-1]
    # It has stood still for a while: the pressure may be let off.
    assert held["cue"] in ("stop", "release")
    assert held["arm"] == pytest.approx(truth["arm"], abs=0.15)
    assert held["to_go"] == pytest.approx(target["stop_angle"] - held["arm"], abs=0.01)
    overrun = SLOWLY_DEG_S * truth["late_s"]
    assert -0.3 < truth["arm"] - target["stop_angle"] < 0.3 + overrun
    truth = watch.bender("release")
    peak, rest = watch.event("peak"), watch.event("rest")
    verdict, logged = watch.event("verdict"), watch.event("logged")
    assert peak["arm"] == pytest.approx(truth["peak"], abs=0.15)
    assert rest["arm"] == pytest.approx(truth["rest"], abs=0.15)
    assert rest["springback"] == pytest.approx(peak["arm"] - rest["arm"], abs=0.001)
    assert abs(verdict["bend_angle"] - truth["bent"]) < 4.0 * verdict["sd"]

    watch.say(f"measured {truth['bent']:.1f}")
    told = watch.event("verdict")
    assert told["say"] == "again"
    assert told["bend_angle"] == pytest.approx(truth["bent"], abs=0.3)
    assert watch.event("logged")["id"] == logged["id"]
    watch.say("next")
    second = watch.event("target")
    assert second["hit"] == 2
    assert second["stop_angle"] == pytest.approx(told["stop_angle"])
    assert second["stop_angle"] > peak["arm"]
    watch.event("reading", cue="pump")
    watch.bender(f"pump {SLOWLY_DEG_S}")
    watch.stop_on_cue()
    truth = watch.bender("release")
    assert truth["bent"] == pytest.approx(20.0, abs=0.5)
    assert watch.event("verdict")["say"] == "accept"
    watch.event("logged")
    watch.say("next")
    watch.event("done")
    assert watch.end() == (0, "")

    times = [event["t"] for event in readings(watch.events)]
    assert len(times) / (times[-1] - times[0]) >= 20.0
    assert times == sorted(times)
    late = [
        heard - event["t"]
        for event, heard in zip(watch.events, watch.heard_at, strict=True)
        if event["event"] == "reading"
    ]
    assert sorted(late)[len(late) // 2] < 0.05
    cues = [event["cue"] for event in readings(watch.events[pumped_from:])]
    changes = [new for old, new in pairwise(cues) if old != new]
    assert [cue for cue in changes if cue != "pump"][:4] == ["slow", "stop", "release", "wait"]
    assert watch.events[-1] == {"event": "done"}


@pytest.mark.skipif(sys.platform != "linux", reason="a full disk is played by a limit of Linux")
def test_an_alignment_says_what_it_is_good_for_and_where_bench_yaml_is_wrong(workshop: Any) -> None:
    workshop.edit("bench.yaml", "plane: vertical ", "plane: tilted ")
    aligned = workshop.align()
    assert aligned["arc_deg"] == 120.0
    assert 1.0 < aligned["sd"] < 4.0
    plane, cure = aligned["warnings"]
    assert "bench.yaml says plane: tilted" in plane
    assert "write plane: vertical under arm" in plane
    assert "The lsm6dso was never calibrated" in cure
    assert "'benchmate align --turn'" in cure


def test_an_alignment_that_the_disk_refuses_is_a_fault_of_the_store(workshop: Any) -> None:
    align = workshop.start("align", "--plain")
    align.event("reading")
    align.say("begin")
    time.sleep(0.4)
    align.bender("move 60 80")
    time.sleep(1.2)
    room = resource.RLIM_INFINITY
    resource.prlimit(align.process.pid, resource.RLIMIT_FSIZE, (4096, room))
    align.say("end")
    assert align.event("fault")["what"] == "store"
    status, error = align.end()
    assert status == 1
    assert error.count("\n") == 1
    assert "aligned" not in {event["event"] for event in align.events}


def test_a_chip_pulled_off_the_bus_and_a_process_killed(workshop: Any) -> None:
    workshop.edit("bench.yaml", "chip: lsm6dso", "chip: adxl345")
    workshop.edit("bench.yaml", "address: 0x6a, rate: 208", "address: 0x53, rate: 400")
    # An adapter that knows blocks of 32 bytes and no plain messages.
    workshop.how = {"chip": "adxl345", "plain_messages": False, "attitude": 4}
    workshop.align()
    watch = workshop.start(*ONE_BEND)
    watch.zero()
    watch.bender("pump 10")
    watch.until(lambda e: (e.get("arm") or 0.0) > 8.0)
    watch.bender("hold")
    (began,) = watch.bender("fault pulled 0.8")["began"]
    fault = watch.event("fault")
    at_fault = len(watch.events)
    assert fault["what"] in ("bus", "sensor")
    heard = watch.heard_at[watch.events.index(fault)]
    assert heard - began[1] < 0.5
    watch.event("cleared", what=fault["what"])
    cleared = next(index for index, event in enumerate(watch.events) if event["event"] == "cleared")
    blind = readings(watch.events[at_fault:cleared])
    assert {(event["arm"], event["cue"]) for event in blind} <= {(None, "wait")}
    again = watch.until(lambda e: e.get("arm") is not None)
    assert again["arm"] == pytest.approx(watch.bender("truth")["arm"], abs=0.5)
    watch.bender("pump 6")
    watch.stop_on_cue()
    truth = watch.bender("release")
    assert watch.event("peak")["arm"] == pytest.approx(truth["peak"], abs=0.3)
    logged = watch.event("logged")
    watch.process.kill()
    rows = [json.loads(line) for line in workshop.run("log", "--json").stdout.splitlines()]
    (row,) = [row for row in rows if row["id"] == logged["id"]]
    assert row["simulated"] is False
    assert row["measured"] is None
    assert row["hits"][0]["rest"] == pytest.approx(truth["rest"], abs=0.3)
    assert any("0x53" in fault for fault in row["faults"])
