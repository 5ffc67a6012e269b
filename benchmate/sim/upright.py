"""A bender stood on its edge to try its encoder against an accelerometer clamped to its arm."""

from msgspec.structs import replace

from benchmate.clock import Clock
from benchmate.shop.parts import Bench, Sensor
from benchmate.sim.bench import SimBench
from benchmate.sim.chips.chip import Felt
from benchmate.sim.draws import stable_seed
from benchmate.sim.faults import FaultInjector
from benchmate.sim.mounting import draw_mounting, felt
from benchmate.sim.wire import Wires


class UprightBench(SimBench):
    """A simulated bench with a second chip on its arm, the arm's plane all but upright.

    The chip errs as the same chip of the same seed does on the arm of a SimBench, so it can be
    calibrated there.
    """

    def __init__(self, bench: Bench, clock: Clock, seed: int, beside: Sensor) -> None:
        super().__init__(bench, clock, seed)
        upright = replace(bench.arm, plane="vertical")
        # Clamped on as it lies on the arm of a SimBench, where it was turned.
        self._beside_mounting = draw_mounting(upright, self._seed, clock.now() - 60.0)
        errs_as = stable_seed(self._seed, beside.chip)
        wire = self._wired(beside, self._feel_beside, errs_as, self._wire.lock)
        self.beside_faults = FaultInjector(wire, clock, [], [])
        """Troubles of the second chip."""
        self._wires = Wires(self._wire, wire)

    def _feel_beside(self, t: float) -> Felt:
        return felt(self._beside_mounting, self._motion.at(t), (), t)
