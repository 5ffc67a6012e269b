"""``benchmate check``: a line for each thing, an exit status that scripts can go by."""

import json
from pathlib import Path

import pytest
import smbus2

from benchmate.cli import main
from benchmate.runtime.hardware import sensor_key
from benchmate.sensing.mount.alignment import Mount
from benchmate.shop.parts import Arm, Bench, Sensor
from benchmate.sim.bench import SimBench
from benchmate.sim.clock import QuickClock
from benchmate.store import Store

BENCH = "bench: shed\nsensor: {chip: lsm6dso}\narm: {radius: 80 mm}\n"
BENCH_READ = Bench(bench="shed", sensor=Sensor(chip="lsm6dso"), arm=Arm(radius_mm=80.0))
DIE = "die: round\nfor_od: 25 mm\ncentreline_radius: 75 mm\nmax_angle: 120\n"


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    (folder / "dies").mkdir(parents=True)
    (folder / "bench.yaml").write_text(BENCH)
    (folder / "dies" / "round.yaml").write_text(DIE)
    return folder


@pytest.fixture
def bench_there(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> SimBench:
    """Put a rehearsal's bus, clock and a lasting disk in the system's place."""
    clock = QuickClock()
    sim = SimBench(BENCH_READ, clock)
    monkeypatch.setattr(smbus2, "SMBus", sim.bus)
    monkeypatch.setattr("benchmate.clock.MonotonicClock", lambda: clock)
    monkeypatch.setattr("benchmate.checks.disk._mounts", lambda _: [])
    monkeypatch.setattr("benchmate.checks.power._vcgencmd", lambda: None)
    return sim


def check(shop: Path, *more: str) -> int:
    return main(["--shop", str(shop), "--store", str(shop.parent / "bends.db"), "check", *more])


def test_all_that_works_is_told_and_ends_with_0(
    shop: Path, bench_there: SimBench, capsys: pytest.CaptureFixture[str]
) -> None:
    assert check(shop) == 0
    out = capsys.readouterr().out.splitlines()
    assert [line for line in out if not line.startswith(("works    ", "note     SQLite"))] == [
        "missing  alignment: none of this sensor yet; run benchmate align"
    ]
    assert f"works    {shop}/bench.yaml" in out
    assert f"works    {shop}/dies/round.yaml" in out
    assert [line.split()[1] for line in out[2:]] == [
        "SQLite:",
        "store:",
        "disk:",
        "space:",
        "alignment:",
        "bus:",
        "sensor:",
    ]


def test_nothing_there_is_told_without_a_traceback_and_ends_with_1(
    shop: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / "bench.yaml").write_text(BENCH.replace("lsm6dso}", "lsm6dso, bus: 255}"))
    assert check(shop) == 1
    out, err = capsys.readouterr()
    assert "missing  bus: no /dev/i2c-255" in out
    assert err == ""


def test_a_wrong_file_ends_with_2_and_its_lines_stand_as_editors_jump(
    shop: Path, bench_there: SimBench, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / "dies" / "round.yaml").write_text(DIE.replace("75", "seventy"))
    assert check(shop) == 2
    out = capsys.readouterr().out
    assert f"wrong    {shop}/dies/round.yaml:3: centreline_radius: 'seventy mm' is no length" in out
    assert "works    sensor: " in out


def test_a_wrong_bench_file_leaves_the_chip_alone(
    shop: Path, bench_there: SimBench, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / "bench.yaml").write_text("bench: shed\n")
    assert check(shop) == 2
    assert "missing  sensor: not looked at until bench.yaml is right" in capsys.readouterr().out


def test_a_store_that_fails_ends_with_1(shop: Path, bench_there: SimBench) -> None:
    (shop.parent / "bends.db").write_bytes(b"no store at all")
    assert check(shop) == 1


def test_an_alignment_that_is_kept_is_told_with_its_day(
    shop: Path, bench_there: SimBench, capsys: pytest.CaptureFixture[str]
) -> None:
    with Store.open(shop.parent / "bends.db") as store:
        store.keep("mount", sensor_key(BENCH_READ), {"taken": "2026-05-04"}).result()
    assert check(shop) == 0
    assert "works    alignment: of 2026-05-04; anew when it was moved" in capsys.readouterr().out


def test_a_chip_that_reads_gravity_is_refused_on_a_bender_that_lies_flat(
    shop: Path, bench_there: SimBench, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / "bench.yaml").write_text(BENCH.replace("80 mm}", "80 mm, plane: horizontal}"))
    assert check(shop) == 1
    out = capsys.readouterr().out
    assert "wrong    plane: bench.yaml says plane: horizontal; the lsm6dso reads gravity" in out
    assert "use an encoder on the pivot (as5600)" in out


def test_an_alignment_that_found_another_plane_than_bench_yaml_says_is_told_and_ends_with_0(
    shop: Path, bench_there: SimBench, capsys: pytest.CaptureFixture[str]
) -> None:
    leaning = Mount(
        chip="lsm6dso",
        address=0x6A,
        identity="",
        normal=(0.0, 0.0, 1.0),
        height_g=0.6,
        leverage=0.8,
    )
    with Store.open(shop.parent / "bends.db") as store:
        store.keep("mount", sensor_key(BENCH_READ), leaning.to_plain()).result()
    assert check(shop) == 0
    out = capsys.readouterr().out
    assert "wrong    alignment: bench.yaml says plane: vertical, but" in out
    assert "leans 37 deg" in out


def test_a_live_bend_is_left_alone(
    shop: Path, bench_there: SimBench, capsys: pytest.CaptureFixture[str]
) -> None:
    bench_there.faults.unplug()
    with Store.open(shop.parent / "bends.db"):
        assert check(shop) == 0
    assert "works    sensor and pins: not touched while benchmate" in capsys.readouterr().out


def test_json_is_one_object_with_the_same_findings(
    shop: Path, bench_there: SimBench, capsys: pytest.CaptureFixture[str]
) -> None:
    bench_there.faults.unplug()
    assert check(shop, "--json") == 1
    told = json.loads(capsys.readouterr().out)
    assert told["exit"] == 1
    marks = {finding["what"]: finding["mark"] for finding in told["findings"]}
    assert marks["sensor"] == "missing"
    assert marks["bus"] == marks["store"] == "works"


def test_names_reach_the_terminal_without_escapes(
    shop: Path, bench_there: SimBench, capsys: pytest.CaptureFixture[str]
) -> None:
    (shop / "dies" / "a\x1b[2Jb.yaml").write_text(DIE)
    (shop / "dies" / "c.yaml").write_text('die: c\nfor_od: "\\e[2J"\n')
    assert check(shop) == 2
    out = capsys.readouterr().out
    assert out.replace("\n", "").isprintable()


def test_a_folder_s_name_reaches_the_terminal_without_escapes(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert check(tmp_path / "a\x1b[2Jb") == 2
    assert capsys.readouterr().err.strip().isprintable()


def test_a_shop_folder_that_is_not_there_ends_with_2(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert check(tmp_path / "nowhere") == 2
    assert "names no folder" in capsys.readouterr().err
