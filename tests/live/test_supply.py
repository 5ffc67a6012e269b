"""A supply that sags while a bend goes on: told, marked, and no reason to lose the arm."""

import threading
from collections.abc import Callable

import pytest

from benchmate import stream
from benchmate.bench.inputs import Advised
from benchmate.bench.supply import SupplyWatch
from benchmate.checks.power import Voltage
from benchmate.clock import MonotonicClock

LOW = "The Pi's supply voltage is too low: use the Pi's own supply with a short thick cable."


def answers(*given: str | None) -> Callable[[], str | None]:
    return iter(given).__next__


@pytest.mark.parametrize("told", [None, "no such command"])
def test_a_machine_that_does_not_tell_is_silent(told: str | None) -> None:
    assert Voltage(answers(told))() is None


def test_a_voltage_that_is_low_now_is_said_with_its_cure_until_it_holds_again() -> None:
    asked = Voltage(answers("throttled=0x0", "throttled=0x50005\n", "throttled=0x50000"))
    assert asked() == ""
    said = asked()
    assert said is not None
    assert "supply voltage is too low" in said
    assert "use the Pi's own supply with a short thick cable" in said
    assert asked() == ""


def test_a_dip_between_two_looks_is_said_once() -> None:
    asked = Voltage(answers("throttled=0x0", "throttled=0x50000", "throttled=0x50000"))
    assert [bool(asked()) for _ in range(3)] == [False, True, False]


def test_what_dipped_before_the_bend_is_nothing_to_say() -> None:
    assert Voltage(answers("throttled=0x50000"))() == ""


def test_only_changes_are_handed_on() -> None:
    put: list[Advised] = []
    watch = SupplyWatch(answers("", LOW, LOW, "", None), MonotonicClock(), put.append)
    assert [watch.look() for _ in range(5)] == [True, True, True, True, False]
    assert [given.advice for given in put] == [LOW, ""]


def test_it_asks_in_a_thread_of_its_own() -> None:
    heard = threading.Event()
    watch = SupplyWatch(lambda: LOW, MonotonicClock(), lambda _: heard.set())
    watch.start()
    assert heard.wait(5.0)
    watch.stop()


def test_it_stands_in_the_readings_blinds_nobody_and_marks_the_bend(bender) -> None:
    at = bender()
    at.zero()
    at.move(40.0)
    at.give(Advised(at.arm.t, LOW))
    at.move(60.0)
    low = at.last(stream.Reading)
    assert (low.advice, low.cue) == (LOW, "pump")
    assert low.arm == pytest.approx(60.0, abs=0.5)
    at.give(Advised(at.arm.t, ""))
    at.press(93.7, 91.0)
    assert at.last(stream.Reading).advice == ""
    assert at.rows[-1].notes == (f"supply: {LOW}",)
    assert not at.all(stream.Fault)


def test_a_supply_that_was_low_all_the_while_marks_every_bend_once(bender) -> None:
    at = bender()
    at.give(Advised(at.arm.t, LOW))
    at.zero()
    at.press(93.7, 91.0)
    assert at.rows[-1].notes == (f"supply: {LOW}",)


def test_one_that_held_again_before_the_hit_leaves_no_mark(bender) -> None:
    at = bender()
    at.give(Advised(at.arm.t, LOW), Advised(at.arm.t, ""))
    at.zero()
    at.press(93.7, 91.0)
    assert at.rows[-1].faults == ()


def test_a_copy_that_cannot_be_made_is_told_and_marks_no_bend(bender) -> None:
    at = bender()
    at.give(Advised(at.arm.t, LOW), Advised(at.arm.t, "The stick is gone.", "store copy"))
    at.zero()
    assert at.last(stream.Reading).advice == f"{LOW} The stick is gone."
    at.press(93.7, 91.0)
    assert at.rows[-1].notes == (f"supply: {LOW}",)
