"""Every fault of chip, cable and box, by bytes: told in time, with cause and cure, and survived.

A bend is under way on a simulated bench, through driver, sampler, estimator and session.
"""

import functools
import math
import uuid
from collections.abc import Callable, Iterator
from typing import NamedTuple

import msgspec
import pytest

from benchmate import stream
from benchmate.bench.estimation import estimated
from benchmate.bench.inputs import Asked, Durable, Input
from benchmate.bench.sampler import Told
from benchmate.bench.session import Session, Task, begun
from benchmate.places import starter_shop
from benchmate.runtime.hardware import AlignedSensor, simulated_hardware
from benchmate.runtime.simulation import learned_sensor
from benchmate.sensing.reach import Reach
from benchmate.shop import Shop
from benchmate.shop.parts import Arm, Bench, ChipKind, Sensor
from benchmate.sim.bench import SimBench
from benchmate.sim.chips.chip import Felt
from benchmate.sim.chips.kinds import KINDS
from benchmate.sim.chips.lsm6dso import Lsm6dso
from benchmate.sim.clock import QuickClock
from benchmate.sim.faults import FaultInjector
from benchmate.springback import Springback
from benchmate.store.record import BendRecord, RunInput, RunRecord

SHOP = Shop.for_job(starter_shop(), "trellis-knee")
JOB = SHOP.job("trellis-knee")
SEED = 1
TOLD_WITHIN_S = 0.5


def bench(chip: ChipKind) -> Bench:
    """Give the starter shop's bench with another chip; the encoder's arm swings flat."""
    upright, flat = Arm(radius_mm=80.0), Arm(radius_mm=80.0, plane="horizontal")
    arm = flat if chip == "as5600" else upright
    return msgspec.structs.replace(SHOP.bench, sensor=Sensor(chip=chip), arm=arm)


@functools.cache
def known(chip: ChipKind) -> AlignedSensor:
    return learned_sensor(bench(chip), SEED)


class Bending:
    """A session in the middle of a hit, with the simulated world at hand."""

    def __init__(self, chip: ChipKind) -> None:
        learned = known(chip)
        self.clock = QuickClock()
        rig = simulated_hardware(bench(chip), self.clock, SEED)
        assert rig.world is not None
        self.world = rig.world
        die, tube = SHOP.die(JOB.die), SHOP.tube(JOB.tube)
        self.world.load(die, tube)
        task = Task(
            run_id=str(uuid.UUID(int=1)),
            job=JOB.job,
            die=die,
            tube=tube,
            lot="",
            tolerance_deg=0.5,
            bend_angles=(90.0, 45.0),
        )
        self._session = Session(begun(task, Springback(rig.bench, die, tube)))
        reach = Reach.of_die(die.max_angle_deg)
        self._estimator = rig.estimator(learned, reach)
        self._turns: Iterator[Told | None] = rig.sampler(learned, reach).turns()
        self.events: list[tuple[float, stream.Event]] = []
        self.rows: list[BendRecord] = []
        self._give(None)
        self.run(1.0)
        self.say("zero")
        self.run(1.0)
        self.world.pump(on=True)
        self.run(6.0)
        self.world.pump(on=False)
        self.run(0.8)

    def say(self, word: str) -> None:
        self._give(Asked(self.clock.now(), stream.Command(word)))

    def run(self, seconds: float) -> None:
        until = self.clock.now() + seconds
        for told in self._turns:
            if told is not None:
                self._give(estimated(self._estimator, told))
            if self.clock.now() >= until:
                return

    def since(self, t: float) -> list[stream.Event]:
        return [event for at, event in self.events if at >= t]

    def release(self) -> None:
        """Open the valve and let the arm come to rest."""
        self.world.open_valve()
        self.run(2.5)

    def _give(self, given: Input | None) -> None:
        for out in self._session.open() if given is None else self._session.step(given):
            if isinstance(out, BendRecord):
                self.rows.append(out)
            if isinstance(out, BendRecord | RunRecord | RunInput):
                self._give(Durable(self.clock.now()))
            else:
                self.events.append((self.clock.now(), out))


class Said(NamedTuple):
    """What kind of fault, and what its line must hold."""

    what: stream.FaultWhat
    cause: str
    cure: str


def mend(world: SimBench) -> None:
    """End what the wire and the chip suffer."""
    world.faults.mend()


class Trouble(NamedTuple):
    """What happens to which chip, how it ends, and what is to be told of it."""

    chip: ChipKind
    begin: Callable[[SimBench], object]
    said: Said
    end: Callable[[SimBench], object] = mend
    within_s: float = TOLD_WITHIN_S


def another(chip: ChipKind) -> Callable[[SimBench], None]:
    """Put a chip with another identity at the address."""

    def put(world: SimBench) -> None:
        made = _Cousin if chip.startswith("lsm6") else KINDS["adxl345"].make
        world.faults.another_chip(made(_lying, world.clock.now(), SEED))

    return put


def jolt(world: SimBench, shift_g: float) -> None:
    """Shift the zero of each axis in the sense that gravity has on it now."""
    felt = world.felt.accel_g
    x, y, z = (math.copysign(shift_g, g) for g in felt)
    world.faults.offset_step((x, y, z))


def moved(world: SimBench) -> None:
    """Plug the chip in again with its address strap the other way."""
    world.faults.unplug()
    world.faults.plug_in(address=0x44)


class _Cousin(Lsm6dso):
    """A chip of the same maker and register map, with an identity of its own."""

    def _peek(self, t: float, register: int) -> int:
        return 0x6B if register == 0x0F else super()._peek(t, register)


def _lying(_t: float) -> Felt:
    return Felt((0.0, 0.0, 1.0), (0.0, 0.0, 0.0), 0.0, 25.0)


UNPLUGGED = Said("bus", "no answer", "check the sensor's cable, its supply and its address")
RESET = Said("sensor", "was reset", "look for a weak supply or a loose plug")
TESTING = Said("sensor", "its self-test is on", "end any other program that uses the sensor")
FROZEN = Said("sensor", "it is frozen", "unplug it and plug it in again")
WIRING = Said("sensor", "throughout", "check the wiring")
SATURATED = Said("sensor", "stands at its end stop", "replace the chip")
SLOW = Said("sensor", "samples a second where", "lower rate in bench.yaml")
NO_MAGNET = Said("sensor", "sees no magnet", "set it 0.5 to 3 mm over the chip's middle")
ANOTHER = Said("sensor", "another chip answers", "set chip and address under sensor in bench.yaml")
SHIFTED = Said("alignment", "shifted the chip's zero", "measure this bend with a protractor")
TWO_RESTS_S = 0.8
"""A small shift is told once two quarters of a second at rest have shown it."""
NOT_1_G = Said("alignment", "g at rest: the box was knocked or", "clamp it and align again")
LEANT = Said("alignment", "out of the plane", "clamp it and align again")

ACCELEROMETERS: tuple[ChipKind, ...] = ("lsm6dso", "adxl345", "adxl355")


def of_each(
    name: str,
    begin: Callable[[SimBench], object],
    said: Said,
    end: Callable[[SimBench], object] = mend,
) -> dict[str, Trouble]:
    """Give the same trouble of every accelerometer."""
    return {f"{name} {chip}": Trouble(chip, begin, said, end) for chip in ACCELEROMETERS}


HEALING = {
    "unplugged": Trouble("lsm6dso", lambda w: w.faults.unplug(), UNPLUGGED),
    "unplugged encoder": Trouble("as5600", lambda w: w.faults.unplug(), UNPLUGGED),
    "driver": Trouble(
        "lsm6dso",
        lambda w: w.faults.busy(),
        Said("bus", "a kernel driver holds the address", "remove its overlay from config.txt"),
    ),
    "brown-out": Trouble("lsm6dso", lambda w: w.faults.brown_out(), RESET),
    "brown-out 345": Trouble("adxl345", lambda w: w.faults.brown_out(), RESET),
    "brown-out 355": Trouble("adxl355", lambda w: w.faults.brown_out(), RESET),
    "self-test": Trouble("lsm6dso", lambda w: w.faults.self_test_left_on(), TESTING),
    "self-test 345": Trouble("adxl345", lambda w: w.faults.self_test_left_on(), TESTING),
    "self-test 355": Trouble("adxl355", lambda w: w.faults.self_test_left_on(), TESTING),
    **of_each("frozen", lambda w: w.faults.freeze(), FROZEN),
    **of_each("all 00", lambda w: w.faults.all_bytes(0x00), WIRING),
    **of_each("all FF", lambda w: w.faults.all_bytes(0xFF), WIRING),
    **of_each("saturated", lambda w: w.faults.saturate(), SATURATED),
    **of_each(
        "half rate", lambda w: w.faults.rate_off(0.5), SLOW, lambda w: w.faults.rate_off(1.0)
    ),
    "all 00 encoder": Trouble("as5600", lambda w: w.faults.all_bytes(0x00), RESET),
    "all FF encoder": Trouble("as5600", lambda w: w.faults.all_bytes(0xFF), WIRING),
    "magnet lost": Trouble(
        "as5600",
        lambda w: w.faults.lose_magnet(),
        NO_MAGNET,
    ),
    "knocked round": Trouble(
        "lsm6dso",
        lambda w: w.faults.knock(6.0),
        Said("alignment", "knocked round by 6 deg", "clamp it tight, and measure this bend"),
    ),
}
LASTING = {
    "magnet moved": Trouble(
        "as5600",
        lambda w: w.faults.move_magnet(100),
        Said("sensor", "sees another field than when it was calibrated", "fasten it, then run"),
    ),
    "magnet slipped": Trouble(
        "as5600",
        lambda w: w.faults.knock(-130.0),
        Said("sensor", "where it can't stand", "see whether its box or magnet has slipped"),
    ),
    **{
        f"zero shifted {chip}": Trouble(
            chip, lambda w: jolt(w, 0.03), SHIFTED, within_s=TWO_RESTS_S
        )
        for chip in ACCELEROMETERS
    },
    **{
        f"gravity not 1 g {chip}": Trouble(chip, lambda w: jolt(w, 0.25), NOT_1_G)
        for chip in ACCELEROMETERS
    },
    **{
        f"at another address {chip}": Trouble(chip, moved, UNPLUGGED)
        for chip in (*ACCELEROMETERS, "as5600")
    },
    "another chip": Trouble("lsm6dso", another("lsm6dso"), ANOTHER),
    "another chip 355": Trouble("adxl355", another("adxl355"), ANOTHER),
    "knocked askew": Trouble("lsm6dso", lambda w: w.faults.knock(0.0, 8.0), LEANT),
    "knocked askew 345": Trouble("adxl345", lambda w: w.faults.knock(0.0, 8.0), LEANT),
}


def by_name(troubles: dict[str, Trouble]) -> list[object]:
    return [pytest.param(trouble, id=name) for name, trouble in troubles.items()]


def strike(trouble: Trouble) -> tuple[Bending, float]:
    """Let it happen in mid-hit, and a second go by; give when it began."""
    bending = Bending(trouble.chip)
    began = bending.clock.now()
    trouble.begin(bending.world)
    bending.run(1.0)
    return bending, began


def check_told(trouble: Trouble, bending: Bending, began: float) -> None:
    faults = [(t, e) for t, e in bending.events if t >= began and isinstance(e, stream.Fault)]
    assert faults[0][0] - began < trouble.within_s
    assert faults[0][1].what == trouble.said.what
    ((t, told),) = [(t, e) for t, e in faults if trouble.said.cause in e.detail]
    assert t - began < trouble.within_s
    assert trouble.said.cure in told.detail
    assert len(told.detail.splitlines()) == 1
    assert len(told.detail) < 200


def check_no_cue(bending: Bending, began: float) -> None:
    """Between a fault and its end readings have no arm, and the cue is wait."""
    blind = False
    for event in bending.since(began):
        match event:
            case stream.Fault():
                blind = True
            case stream.Cleared():
                blind = False
            case stream.Reading() if blind:
                assert (event.arm, event.to_go, event.cue) == (None, None, "wait")
            case stream.Reading():
                assert event.arm is not None


@pytest.mark.parametrize("trouble", by_name(HEALING))
def test_a_fault_is_told_in_time_and_when_it_is_over_the_bend_goes_on_marked(
    trouble: Trouble,
) -> None:
    bending, began = strike(trouble)
    check_told(trouble, bending, began)
    pressed = bending.world.arm_deg
    trouble.end(bending.world)
    bending.run(2.0)
    check_no_cue(bending, began)
    said = bending.since(began)
    assert isinstance(said[-1], stream.Reading)
    assert said[-1].arm is not None
    assert [e.what for e in said if isinstance(e, stream.Cleared)] == [trouble.said.what]
    bending.release()
    row = bending.rows[-1]
    assert (row.bend, len(row.hits)) == (1, 1)
    # What a fault showed before it was seen through may stand in the peak: the row is marked.
    assert row.hits[0].peak > pressed - 0.5
    assert any(trouble.said.cause in fault for fault in row.faults)
    assert not [e for e in said if isinstance(e, stream.Target)]


@pytest.mark.parametrize("trouble", by_name(LASTING))
def test_what_only_hands_can_mend_stands_until_then(trouble: Trouble) -> None:
    bending, began = strike(trouble)
    check_told(trouble, bending, began)
    bending.run(3.0)
    check_no_cue(bending, began)
    assert not [e for e in bending.since(began) if isinstance(e, stream.Cleared)]


def test_a_stuck_bus_is_told_as_soon_as_its_transfer_comes_back() -> None:
    bending = Bending("lsm6dso")
    began = bending.clock.now()
    bending.world.faults.stuck(1.5)
    bending.run(4.0)
    told = [e for e in bending.since(began) if isinstance(e, stream.Fault | stream.Cleared)]
    assert [type(e) for e in told] == [stream.Fault, stream.Cleared]
    assert isinstance(told[0], stream.Fault)
    assert "the bus is stuck: unplug the sensor's cable" in told[0].detail
    check_no_cue(bending, began)


@pytest.mark.parametrize(
    "passing",
    [
        lambda faults: faults.nack(3),
        lambda faults: faults.rate_off(0.95),
        lambda faults: faults.rate_off(1.05),
    ],
    ids=["three refusals", "5 % slow", "5 % fast"],
)
def test_what_every_bus_and_chip_does_now_and_then_is_no_fault(
    passing: Callable[[FaultInjector], None],
) -> None:
    bending = Bending("lsm6dso")
    began = bending.clock.now()
    passing(bending.world.faults)
    bending.run(2.0)
    assert all(isinstance(e, stream.Reading) and e.arm is not None for e in bending.since(began))


@pytest.mark.parametrize("chip", ACCELEROMETERS)
def test_a_box_that_warms_by_ten_degrees_in_a_bend_is_no_fault(chip: ChipKind) -> None:
    bending = Bending(chip)
    began = bending.clock.now()
    bending.world.faults.warm(10.0, over_s=20.0)
    bending.run(25.0)
    bending.release()
    assert not [e for e in bending.since(began) if isinstance(e, stream.Fault)]


@pytest.mark.parametrize("chip", [*ACCELEROMETERS, "as5600"])
def test_a_bit_flipped_now_and_then_never_leads_the_arm_astray(chip: ChipKind) -> None:
    """Each byte's top bit is wrong once in 20,000: a flip every few seconds."""
    bending = Bending(chip)
    began = bending.clock.now()
    true = bending.world.arm_deg
    bending.world.faults.flip_top_bits(5e-5)
    bending.run(20.0)
    shown = [e.arm for e in bending.since(began) if isinstance(e, stream.Reading)]
    assert all(abs(arm - true) < 1.0 for arm in shown if arm is not None)
    check_no_cue(bending, began)


@pytest.mark.parametrize("chip", [*ACCELEROMETERS, "as5600"])
def test_bits_flipped_by_the_dozen_are_told_and_survived(chip: ChipKind) -> None:
    bending = Bending(chip)
    began = bending.clock.now()
    bending.world.faults.flip_top_bits(0.2)
    bending.run(2.0)
    faults = [t for t, e in bending.events if t >= began and isinstance(e, stream.Fault)]
    assert faults[0] - began < TOLD_WITHIN_S
    bending.world.faults.mend()
    bending.run(2.0)
    check_no_cue(bending, began)
    last = bending.since(began)[-1]
    assert isinstance(last, stream.Reading)
    assert last.arm is not None


def test_a_fault_that_goes_on_is_told_once() -> None:
    bending, began = strike(HEALING["half rate lsm6dso"])
    bending.run(3.0)
    assert len([e for e in bending.since(began) if isinstance(e, stream.Fault)]) == 1
