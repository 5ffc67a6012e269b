"""A wall clock that is wrong, stands still or jumps: order, learning and export go by none."""

import csv
import io
import json
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import msgspec
import pytest

from benchmate.clock import MonotonicClock
from benchmate.places import starter_shop
from benchmate.reports.log_table import shown_time
from benchmate.shop import Shop
from benchmate.springback import Springback
from benchmate.store import HitRecord, Log, Store
from benchmate.store.export import csv_lines, json_lines
from benchmate.store.learning import model_for
from benchmate.store.merging import merge
from benchmate.store.timestamps import StampClocks

YEAR_S = 365.25 * 86400
RIGHT = tuple(1.7e9 + 600 * bend for bend in range(6))
CLOCKS = {
    "years forwards and back": (1.7e9, 1.7e9 + 12 * YEAR_S, 1.7e9, 1.7e9 - 9 * YEAR_S, 0.0, 1.8e9),
    "back at each boot to where the card had it": (1.7e9, 1.7e9, 1.7e9, 1.7e9, 1.7e9, 1.7e9),
    "no clock at all": (0.0, 1.0, 2.0, 0.0, 1.0, 2.0),
    "before its epoch": (-1e9, -2e9, -3e9, 5.0, -1.0, 0.0),
    "the hour that comes twice": tuple(1_792_888_200.0 + 900 * bend for bend in range(6)),
    "backwards all day": tuple(1.7e9 - 86400 * bend for bend in range(6)),
}


@pytest.fixture(params=["UTC", "Europe/Berlin", "Pacific/Apia"])
def zone(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    monkeypatch.setenv("TZ", request.param)
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.fixture(scope="module")
def shop() -> Shop:
    return Shop.open(starter_shop())


def made(path: Path, walls: tuple[float, ...], bend: Callable[..., Any], shop: Shop) -> Path:
    """Log six bends of one setup, each at its time on the wall."""
    die, tube = shop.die("round-25-r75"), shop.tube("e235-25x2")
    setup = {
        "bench": msgspec.to_builtins(shop.bench),
        "die": msgspec.to_builtins(die),
        "tube": msgspec.to_builtins(tube),
    }
    told = iter(walls)
    times = StampClocks(
        MonotonicClock(), wall=lambda: next(told), synchronised=lambda: False, boot=lambda: "b"
    )
    with Store.open(path, times=times) as store:
        for number in range(6):
            hit = HitRecord(
                stop_angle=93.0 + number,
                stop_sd=0.5,
                peak=93.0 + number,
                rest=90.5 + 0.9 * number,
                measured=89.9 + 0.9 * number,
                how_measured="protractor",
            )
            store.append(
                bend(
                    bend_id=f"{number:036d}",
                    bend=number + 1,
                    die=die.die,
                    tube=tube.tube,
                    setup=setup,
                    hits=(hit,),
                )
            ).result()
    return path


def learned(path: Path, shop: Shop) -> Springback:
    die, tube = shop.die("round-25-r75"), shop.tube("e235-25x2")
    with Log.open(path) as log:
        return model_for(log, shop.bench, die, tube, "A", simulated=False)


def exported(path: Path) -> list[dict[str, Any]]:
    """Give the bends as exported, without what the clocks say."""
    with Log.open(path) as log:
        bends = list(log.bends())
    rows = list(csv.DictReader(io.StringIO("".join(csv_lines(bends)), newline="")))
    lines = [json.loads(line) for line in json_lines(bends)]
    told = {"wall_s", "monotonic_s", "origin", "row_id"}
    return [{name: row[name] for name in row if name not in told} for row in (*rows, *lines)]


@pytest.mark.parametrize("clock", CLOCKS)
def test_order_learning_and_export_are_as_with_a_clock_that_is_right(
    tmp_path: Path, a_bend: Callable[..., Any], shop: Shop, clock: str
) -> None:
    right = made(tmp_path / "right.db", RIGHT, a_bend, shop)
    wrong = made(tmp_path / "wrong.db", CLOCKS[clock], a_bend, shop)
    with Log.open(wrong) as log:
        assert log.check() == []
        assert [each.record.bend for each in log.bends()] == [1, 2, 3, 4, 5, 6]
        assert [each.wall_s for each in log.bends()] == list(CLOCKS[clock])
    asked = {"bend_angle": 90.0, "tolerance": 0.5, "hits": ()}
    assert learned(wrong, shop).aim(**asked) == learned(right, shop).aim(**asked)
    untaught = Springback(shop.bench, shop.die("round-25-r75"), shop.tube("e235-25x2"), lot="A")
    assert learned(wrong, shop).aim(**asked) != untaught.aim(**asked)
    assert exported(wrong) == exported(right)


def test_what_is_merged_keeps_its_own_order_whatever_the_clocks_of_both_say(
    tmp_path: Path, a_bend: Callable[..., Any], shop: Shop
) -> None:
    other = made(tmp_path / "other.db", CLOCKS["backwards all day"], a_bend, shop)
    here = tmp_path / "here.db"
    with Store.open(here) as store:
        merge(store, other)
    with Log.open(here) as log:
        assert log.check() == []
        assert [each.record.bend for each in log.bends()] == [1, 2, 3, 4, 5, 6]


@pytest.mark.usefixtures("zone")
@pytest.mark.parametrize("wall_s", [0.0, -1e11, 1e11, 1_792_888_200.0, 1.7e9, -3e9])
def test_any_time_can_be_shown_and_one_that_nothing_kept_right_is_marked(wall_s: float) -> None:
    assert shown_time(wall_s, synchronised=False, shape="%Y-%m-%d %H:%M").endswith("?")
    assert shown_time(wall_s, synchronised=True, shape="%Y-%m-%d %H:%M")
