"""The second copy is made beside the bench; what hinders it is said once and made up for."""

import pytest

from benchmate.errors import Failure
from benchmate.runtime import store_copy
from benchmate.runtime.store_copy import TRY_AGAIN_S, StoreCopy
from benchmate.shop.parts import Arm, Bench, Sensor
from benchmate.sim.clock import QuickClock


class Medium:
    """A second medium that can be there or not, and how often it was written."""

    def __init__(self) -> None:
        self.there = True
        self.behind = True
        self.written = 0

    def is_behind(self, *_: object) -> bool:
        self.second_copy() if not self.there else None
        return self.behind

    def second_copy(self, *_: object) -> str:
        if not self.there:
            raise Failure("/media/stick: is the stick plugged in?")
        self.behind = False
        self.written += 1
        return "/media/stick/shed.db"


@pytest.fixture
def medium(monkeypatch) -> Medium:
    medium = Medium()
    monkeypatch.setattr(store_copy, "is_behind", medium.is_behind)
    monkeypatch.setattr(store_copy, "second_copy", medium.second_copy)
    return medium


@pytest.fixture
def clock() -> QuickClock:
    return QuickClock()


@pytest.fixture
def copy(tmp_path, clock) -> StoreCopy:
    store = tmp_path / "bends.db"
    store.touch()
    bench = Bench(
        bench="shed",
        sensor=Sensor(chip="lsm6dso"),
        arm=Arm(radius_mm=80),
        store_copy="/media/stick",
    )
    return StoreCopy(store, bench, clock)


def test_what_was_missed_is_made_up_for_at_the_start(copy, medium):
    assert copy.ask() == ""
    assert medium.written == 1
    assert copy.ask() == ""
    assert medium.written == 1


def test_a_copy_that_is_up_to_date_is_left_alone(copy, medium):
    medium.behind = False
    assert copy.ask() == ""
    assert medium.written == 0


def test_a_finished_part_is_copied(copy, medium):
    copy.ask()
    copy.make()
    assert medium.written == 2


def test_a_pulled_stick_is_said_and_made_up_for_when_it_is_back(copy, medium, clock):
    medium.there = False
    assert "is the stick plugged in?" in copy.ask()
    medium.there = True
    assert "is the stick plugged in?" in copy.ask()
    clock.sleep(TRY_AGAIN_S)
    assert copy.ask() == ""
    assert medium.written == 1


def test_a_stick_that_fails_at_the_end_of_a_part_is_said(copy, medium):
    copy.ask()
    medium.there = False
    copy.make()
    assert "is the stick plugged in?" in copy.ask()


def test_nobody_is_asked_where_no_copy_is_wanted(tmp_path, medium, clock):
    bench = Bench(bench="shed", sensor=Sensor(chip="lsm6dso"), arm=Arm(radius_mm=80))
    copy = StoreCopy(tmp_path / "bends.db", bench, clock)
    assert copy.ask() is None
    copy.make()
    assert medium.written == 0
