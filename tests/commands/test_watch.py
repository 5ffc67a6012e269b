"""``watch`` through every room by bytes: shop files to bus to stream to store, on a quick clock."""

import io
import json
from pathlib import Path
from typing import Any

import pytest

from benchmate import stream
from benchmate.bench.replay import replay
from benchmate.cli import main
from benchmate.places import starter_shop
from benchmate.runtime.simulation import learned_sensor
from benchmate.runtime.watch_process import WatchRequest, watch_as_text, watch_plain
from benchmate.shop import Shop
from benchmate.store import Log


def bend(
    store: Path, job: str, *, seed: int = 1, first_bend: int = 1, as_planned: bool = False
) -> list[stream.Event]:
    """Rehearse a job of the starter shop; give what the stream said."""
    shop = Shop.for_job(starter_shop(), job)
    out = io.StringIO()
    wish = WatchRequest(
        shop=shop,
        store=store,
        job=shop.job(job),
        first_bend=first_bend,
        as_planned=as_planned,
        simulate=True,
        operator=True,
        quick=True,
        seed=seed,
    )
    assert watch_plain(wish, io.StringIO(), out) == 0
    return [stream.read_event(line) for line in out.getvalue().splitlines()]


def of(kind: type[Any], events: list[stream.Event]) -> list[Any]:
    return [event for event in events if isinstance(event, kind)]


@pytest.fixture(scope="module")
def frame(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[stream.Event]]:
    """Rehearse the starter shop's plane frame on a store that knows nothing."""
    store = tmp_path_factory.mktemp("frame") / "bends.db"
    return store, bend(store, "cold-frame-rib")


@pytest.fixture(scope="module")
def knee(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, list[stream.Event]]:
    """Rehearse the starter shop's job of one bend on a store that knows nothing."""
    store = tmp_path_factory.mktemp("knee") / "bends.db"
    return store, bend(store, "trellis-knee")


def test_a_whole_job_runs_from_its_first_target_to_done(frame: Any) -> None:
    _, events = frame
    assert isinstance(events[0], stream.Target)
    assert isinstance(events[-1], stream.Done)
    assert [t.bend for t in of(stream.Target, events) if t.hit == 1] == [1, 2, 3]


def test_the_mark_is_told_of_the_only_bend(knee: Any) -> None:
    assert of(stream.Target, knee[1])[0].mark == pytest.approx(300.0, abs=0.1)


def test_mark_and_turn_are_told_though_nothing_is_planned_again(tmp_path: Path) -> None:
    events = bend(tmp_path / "bends.db", "barrow-handle", as_planned=True)
    first = {t.bend: t for t in of(stream.Target, events) if t.hit == 1}
    assert all(each.mark is not None and each.mark > 0 for each in first.values())
    assert first[1].mark == pytest.approx(349.25, abs=0.1)
    assert [round(first[bend].turn or 0.0) for bend in (1, 2, 3)] == [0, 90, -60]


def test_the_stop_angles_doubt_falls_from_bend_to_bend(frame: Any) -> None:
    first = [t.sd for t in of(stream.Target, frame[1]) if t.hit == 1]
    assert first[0] > 2.0 * first[-1]


def test_every_bend_is_in_the_store_and_marked_as_a_rehearsal(frame: Any) -> None:
    store, events = frame
    with Log.open(store) as log:
        bends = list(log.bends(simulated=True))
        assert list(log.bends(simulated=False)) == []
    assert [each.record.bend for each in bends] == [1, 2, 3]
    assert {each.record.bend_id for each in bends} == {e.id for e in of(stream.Logged, events)}


def test_every_logged_trace_replays_to_the_same_peaks_and_rests(frame: Any) -> None:
    with Log.open(frame[0]) as log:
        assert all(replay(each.record).agrees for each in log.bends())


def test_the_same_rehearsal_says_the_same_again(tmp_path: Path, knee: Any) -> None:
    def without_ids(events: list[stream.Event]) -> list[stream.Event]:
        return [event for event in events if not isinstance(event, stream.Logged)]

    learned_sensor.cache_clear()
    again = bend(tmp_path / "again.db", "trellis-knee")
    assert without_ids(again) == without_ids(knee[1])


def test_what_a_rehearsal_taught_is_there_for_the_next_one(knee: Any) -> None:
    store, first = knee
    later = bend(store, "trellis-knee")
    assert of(stream.Target, later)[0].sd < 0.7 * of(stream.Target, first)[0].sd


def test_it_starts_with_the_bend_that_is_asked_for(tmp_path: Path) -> None:
    events = bend(tmp_path / "bends.db", "cold-frame-rib", first_bend=3)
    assert {t.bend for t in of(stream.Target, events)} == {3}


def test_without_a_terminal_the_job_is_told_in_lines_with_a_summary(tmp_path: Path) -> None:
    shop = Shop.for_job(starter_shop(), "trellis-knee")
    out = io.StringIO()
    wish = WatchRequest(
        shop=shop,
        store=tmp_path / "bends.db",
        job=shop.job("trellis-knee"),
        simulate=True,
        operator=True,
        quick=True,
    )
    assert watch_as_text(wish, io.StringIO(), out) == 0
    assert "1 of 1 bend in tolerance" in out.getvalue()


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (["watch", "--plain"], "name a JOB"),
        (["watch", "no-such-job", "--plain"], "no-such-job"),
        (["watch", "trellis-knee", "--bend", "9", "--plain", "--simulate"], "no bend 9"),
        (["watch", "trellis-knee", "--angle", "9", "--plain"], "exclude each other"),
        (["watch", "trellis-knee", "--operator", "--plain"], "needs --simulate"),
        (["watch", "--angle", "45", "--die", "x", "--tube", "y", "--plain"], "x"),
    ],
)
def test_what_is_asked_wrongly_is_a_sentence_and_exit_2(
    words: list[str], sentence: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    shop, store = ["--shop", str(starter_shop())], ["--store", str(tmp_path / "bends.db")]
    assert main([*shop, *store, *words]) == 2
    assert sentence in capsys.readouterr().err


def test_a_bench_that_nobody_has_aligned_is_a_fault_and_exit_1(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["--shop", str(starter_shop()), "--store", str(tmp_path / "bends.db")]
    assert main([*asked, "watch", "trellis-knee", "--plain"]) == 1
    said = capsys.readouterr()
    assert json.loads(said.out)["what"] == "alignment"
    assert "benchmate align" in said.err


def test_one_bend_without_a_job_file_runs_too(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    asked = ["--shop", str(starter_shop()), "--store", str(tmp_path / "bends.db")]
    one = ["--angle", "60", "--die", "round-25-r75", "--tube", "e235-25x2", "--lot", "7"]
    rehearse = ["--plain", "--simulate", "--operator", "--quick"]
    assert main([*asked, "watch", *one, *rehearse]) == 0
    events = [stream.read_event(line) for line in capsys.readouterr().out.splitlines()]
    assert of(stream.Verdict, events)[-1].bend_angle == pytest.approx(60.0, abs=0.6)


@pytest.mark.parametrize(
    ("lot", "told"),
    [("x" * 201, "too long with 201 characters"), ("A\x1b[2J", "can't be shown"), ("A\n", "shown")],
)
def test_a_lot_that_the_log_could_not_keep_is_refused_before_the_pump_moves(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], lot: str, told: str
) -> None:
    store = tmp_path / "bends.db"
    words = ["watch", "--angle", "90", "--die", "round-25-r75", "--tube", "e235-25x2", "--plain"]
    assert main(["--store", str(store), *words, "--simulate", "--lot", lot]) == 2
    said = capsys.readouterr()
    assert told in said.err
    assert "\x1b" not in said.err
    assert (said.out, list(tmp_path.iterdir())) == ("", [])
