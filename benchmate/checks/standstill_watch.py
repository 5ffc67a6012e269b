"""The arm watched while it stands still: through the live bend's own sampler."""

import math
from collections.abc import Callable
from typing import Protocol

from benchmate.bench.inputs import Lost
from benchmate.checks.standstill_noise import StandstillRecord
from benchmate.errors import Failure
from benchmate.runtime.hardware import AlignedSensor, Hardware
from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.mount.alignment import Mount
from benchmate.sensing.sample import Sample

SETTLE_S = 1.0
"""Left out after the chip was set up, and after a move."""
WINDOW_S = 0.25
LEAST_MOVE_DEG = 0.1
SURELY_SD = 8.0
LOOKED_BACK = 4
GONE_S = 10.0
"""A fault that stands for so long won't go by itself."""
PATIENCE = 3.0
"""So many times as long as was asked for may go by until the arm has stood still for it."""
SPARE_S = 10.0


class Watcher(Protocol):
    """Who is told how it goes."""

    def show(self, gone_s: float) -> None:
        """Take how long the arm has stood still."""
        ...

    def tell(self, what: str) -> None:
        """Take what went wrong."""
        ...


class Stillness:
    """Tells a moved arm by its angle's averages over a quarter of a second."""

    def __init__(self, facts: ChipFacts, mount: Mount) -> None:
        noise = max(facts.accel_noise_g) * math.degrees(1.0) / mount.leverage
        if facts.is_encoder:
            noise = math.hypot(facts.angle_noise_deg, facts.angle_step_deg)
        count = WINDOW_S * facts.rate_hz
        self._limit_deg = max(LEAST_MOVE_DEG, SURELY_SD * noise / math.sqrt(count))
        self._begin: float | None = None
        self._first = 0.0
        self._off: list[float] = []
        self._means: list[float] = []

    def moved(self, t: float, angle_deg: float) -> bool:
        """Take one angle; True when the arm has left where it stood."""
        if self._begin is None:
            self._begin, self._first = t, angle_deg
        self._off.append(math.remainder(angle_deg - self._first, 360.0))
        if t - self._begin < WINDOW_S:
            return False
        mean = math.fsum(self._off) / len(self._off)
        self._begin, self._off = t, []
        before = self._means[-LOOKED_BACK:]
        self._means = [*before, mean]
        return bool(before) and abs(mean - math.fsum(before) / len(before)) > self._limit_deg


def watch_standing(
    rig: Hardware,
    learned: AlignedSensor,
    angle_of: Callable[[Sample], float],
    seconds: float,
    watcher: Watcher,
) -> StandstillRecord:
    """Read samples until the arm has stood still for so long.

    A move or a fault is told and begins the record anew; Failure when it never ends.
    """
    clock, bus = rig.clock, rig.bus
    before = (bus.transfers, bus.retries, bus.failures)
    times: list[float] = []
    angles: list[float] = []
    faults: list[str] = []
    moves = 0
    gone_since = math.inf
    stillness = Stillness(rig.chip.facts, learned.mounts.arm)
    settled = clock.now() + SETTLE_S
    until = clock.now() + PATIENCE * seconds + SPARE_S
    for told in rig.sampler(learned).turns():
        now = clock.now()
        if isinstance(told, Lost):
            faults.append(told.detail)
            watcher.tell(told.detail)
            times, angles, settled = [], [], math.inf
            gone_since = min(gone_since, now)
        elif told is not None and not isinstance(told, Sample):
            stillness, settled = Stillness(rig.chip.facts, learned.mounts.arm), now + SETTLE_S
            gone_since = math.inf
        elif told is not None and told.t >= settled:
            angle = angle_of(told)
            if stillness.moved(told.t, angle):
                moves += 1
                watcher.tell("the arm moved; leave it still: the time begins anew")
                times, angles = [], []
                stillness, settled = Stillness(rig.chip.facts, learned.mounts.arm), now + SETTLE_S
            else:
                times.append(told.t)
                angles.append(angle)
                watcher.show(told.t - times[0])
        if times and times[-1] - times[0] >= seconds:
            break
        if now - gone_since > GONE_S:
            raise Failure(faults[-1])
        if now > until:
            raise Failure(f"the arm never stood still for {seconds:g} s: leave it, and begin anew")
    transfers, retries, failures = (
        after - first
        for after, first in zip((bus.transfers, bus.retries, bus.failures), before, strict=True)
    )
    return StandstillRecord(
        times_s=tuple(times),
        angles_deg=tuple(angles),
        transfers=transfers,
        retries=retries,
        failures=failures,
        moves=moves,
        faults=tuple(faults),
    )
