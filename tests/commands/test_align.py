"""``align`` against a chip on the bus: a swing, a turn, and what the store then knows."""

from collections.abc import Iterator
from typing import Any

import pytest

from benchmate import stream
from benchmate.bench.aligning import AlignSession
from benchmate.bench.inputs import Asked, Back, Closed, Lost
from benchmate.places import starter_shop
from benchmate.runtime.hardware import simulated_hardware
from benchmate.runtime.simulation import learned_sensor
from benchmate.sensing.frame import FrameReferencedSwing
from benchmate.sensing.mount.alignment import Swing
from benchmate.shop import Shop
from benchmate.sim.clock import QuickClock

BENCH = Shop.open(starter_shop()).bench


class Swung:
    """A simulated bench whose arm is swung by what is said to the session."""

    def __init__(self, seed: int = 1) -> None:
        self.rig = simulated_hardware(BENCH, QuickClock(), seed)
        self.session = AlignSession(lambda: self.rig.swing(None))
        self.events: list[stream.Event] = []
        self._turns: Iterator[Any] = self.rig.sampler().turns()

    def run(self, seconds: float) -> None:
        until = self.rig.clock.now() + seconds
        for told in self._turns:
            if told is not None:
                self.events += self.session.step(told)
            if self.rig.clock.now() > until:
                return

    def say(self, word: str) -> None:
        self.events += self.session.step(Asked(self.rig.clock.now(), stream.Command(word)))


@pytest.fixture
def swung() -> Swung:
    return Swung()


def test_readings_come_at_once_and_twenty_a_second(swung: Swung) -> None:
    swung.run(2.0)
    times = [event.t for event in swung.events if isinstance(event, stream.Reading)]
    assert len(times) >= 1.7 * 20


def test_a_swing_between_begin_and_end_is_aligned(swung: Swung) -> None:
    swung.run(1.0)
    swung.say("begin")
    swung.rig.world.swing()
    swung.run(13.0)
    swung.say("end")
    aligned = swung.events[-1]
    assert isinstance(aligned, stream.Aligned)
    assert swung.session.finished
    assert 0.9 < aligned.leverage <= 1.0
    assert aligned.residual_deg < 0.3


def test_the_swept_angle_is_shown_while_it_swings(swung: Swung) -> None:
    swung.run(1.0)
    swung.say("begin")
    swung.rig.world.swing()
    swung.run(7.0)
    swept = [e.arm for e in swung.events if isinstance(e, stream.Reading) and e.arm is not None]
    assert max(swept) == pytest.approx(100.0, abs=6.0)


def test_an_arm_that_was_not_swung_is_refused_in_words(swung: Swung) -> None:
    swung.say("begin")
    swung.run(3.0)
    swung.say("end")
    fault = swung.events[-1]
    assert (fault.what, swung.session.learned) == ("alignment", None)
    assert "swing it" in fault.detail


def test_end_without_begin_is_a_command_fault_and_changes_nothing(swung: Swung) -> None:
    swung.say("end")
    assert swung.events[-1].what == "command"
    assert not swung.session.finished


def test_a_gap_in_the_swing_spoils_it_and_says_so(swung: Swung) -> None:
    swung.run(1.0)
    swung.say("begin")
    swung.run(1.0)
    swung.rig.world.faults.unplug()
    swung.run(0.6)
    swung.rig.world.faults.plug_in()
    swung.run(2.5)
    whats = [e.what for e in swung.events if isinstance(e, stream.Fault | stream.Cleared)]
    assert whats == ["bus", "alignment", "bus", "alignment"]
    swung.say("end")
    assert swung.events[-1].what == "command"


def test_a_rehearsal_learns_its_chip_and_mount_nearly_true() -> None:
    learned = learned_sensor(BENCH, 3)
    assert learned.calibration.coverage_deg > 300.0
    assert learned.mounts.arm.arc_deg == pytest.approx(100.0, abs=0.3)


def test_faults_of_a_session_are_cleared_by_their_own_names() -> None:
    session = AlignSession(lambda: FrameReferencedSwing(Swing(BENCH.sensor, "")))
    session.step(Lost(1.0, "bus", "gone"))
    assert session.step(Back(2.0)) == [stream.Cleared(what="bus")]
    session.step(Closed(3.0))
    assert session.finished


@pytest.mark.parametrize("leaving", [Closed(0.0), Asked(0.0, stream.Command("quit"))])
def test_leaving_before_the_end_is_told(swung: Swung, leaving: Closed | Asked) -> None:
    swung.say("begin")
    (fault,) = swung.session.step(leaving)
    assert isinstance(fault, stream.Fault)
    assert fault.what == "alignment"
    assert swung.session.finished
