"""Learning the sensor between "begin" and "end": one swing of the arm, or one turn of the box."""

import math
from collections.abc import Callable
from typing import Generic, Protocol, TypeVar

from benchmate import stream
from benchmate.bench.inputs import Asked, Back, Lost, Notice, Tick, Wrong
from benchmate.sensing.calibration.error_model import Calibration
from benchmate.sensing.calibration.multi_position import MultiPositionCalibration
from benchmate.sensing.frame import Mounts
from benchmate.sensing.mount.accuracy import WORKING_ARC_DEG, AlignmentAccuracy
from benchmate.sensing.sample import FaultKind, Sample, SensorFault, Vector

READING_EVERY_S = 1.0 / 30.0
SMOOTH_S = 0.15

Learned = TypeVar("Learned", bound=Mounts | Calibration)
Learned_co = TypeVar("Learned_co", bound=Mounts | Calibration, covariant=True)


class Gathering(Protocol[Learned_co]):
    """What takes the samples, as ``benchmate.sensing`` has it for each alignment."""

    def see(self, sample: Sample) -> object:
        """Take one good sample; SensorFault when this can't end well."""
        ...

    def end(self) -> Learned_co:
        """Fit; SensorFault("alignment") says what was wrong and what would be right."""
        ...


class AlignSession(Generic[Learned]):
    """The state of one run of ``align``: nothing begun, gathering, learned, or a failure."""

    def __init__(
        self,
        gather: Callable[[], Gathering[Learned]],
        judge: Callable[[Mounts], AlignmentAccuracy] | None = None,
    ) -> None:
        """Gather anew at each "begin"; ``judge`` says what a swing is worth."""
        self.finished = False
        self.learned: Learned | None = None
        self._gather = gather
        self._judge = judge
        self._gathering: Gathering[Learned] | None = None
        self._told = -math.inf
        self._seen: Vector | None = None
        self._seen_t = 0.0
        self._from: Vector | None = None
        self._faults: list[FaultKind] = []

    def open(self) -> list[stream.Event]:
        """Nothing is said before the first sample."""
        return []

    def step(self, given: Sample | Notice) -> list[stream.Event]:
        """Take one input; give what it brings about."""
        said: list[stream.Event] = []
        match given:
            case Sample():
                said = self._sample(given)
            case Lost(_, what, detail):
                self._faults.append(what)
                said = [stream.Fault(what=what, detail=detail), *self._dropped()]
            case Back():
                said = [stream.Cleared(what=what) for what in dict.fromkeys(self._faults)]
                self._faults.clear()
            case Asked(_, stream.Command("begin")):
                self._gathering = self._gather()
                self._from = self._seen
            case Asked(_, stream.Command("end")):
                said = self._end()
            case Asked(_, stream.Command("measured", (number,))):
                said = self._measured(number)
            case Wrong(_, detail):
                said = [stream.Fault(what="command", detail=detail)]
            case Tick():
                pass
            case _:
                self.finished = True
                said = [stream.Fault(what="alignment", detail=_LEFT)]
        return said

    def _sample(self, sample: Sample) -> list[stream.Event]:
        self._smooth(sample)
        events: list[stream.Event] = []
        if self._gathering is not None:
            try:
                self._gathering.see(sample)
            except SensorFault as fault:
                self._gathering = None
                events.append(stream.Fault(what=fault.what, detail=fault.detail))
        if sample.t - self._told >= READING_EVERY_S - 0.0005:
            self._told = sample.t
            events.append(self._reading(sample.t))
        return events

    def _reading(self, t: float) -> stream.Reading:
        turn = self._gathering if isinstance(self._gathering, MultiPositionCalibration) else None
        return stream.Reading(
            t=t,
            arm=self._swept(),
            rate=None,
            sd=None,
            to_go=None,
            phase="zeroing",
            cue="wait",
            stops=None if turn is None else turn.stops,
            coverage=None if turn is None else turn.coverage_deg,
        )

    def _measured(self, angle: float) -> list[stream.Event]:
        if not isinstance(self._gathering, MultiPositionCalibration):
            detail = "'measured' is for the stops of a turn; 'begin' one first"
            return [stream.Fault(what="command", detail=detail)]
        try:
            self._gathering.measured(angle)
        except SensorFault as fault:
            return [stream.Fault(what="command", detail=fault.detail)]
        return []

    def _end(self) -> list[stream.Event]:
        if self._gathering is None:
            return [stream.Fault(what="command", detail="'end' ends what 'begin' began; begin")]
        self.finished = True
        try:
            self.learned = learned = self._gathering.end()
        except SensorFault as fault:
            return [stream.Fault(what=fault.what, detail=fault.detail)]
        return [self._aligned(learned)]

    def _aligned(self, learned: Mounts | Calibration) -> stream.Aligned:
        if isinstance(learned, Mounts):
            worth = None if self._judge is None else self._judge(learned)
            residual_deg, leverage = learned.arm.residual_deg, min(learned.arm.leverage, 1.0)
            sd = None if worth is None else worth.sd_deg
            warnings = () if worth is None else worth.warnings
        else:
            turn = (
                self._gathering if isinstance(self._gathering, MultiPositionCalibration) else None
            )
            residual_deg = learned.residual_deg
            leverage = 1.0 if turn is None else turn.leverage
            sd = None if turn is None else turn.sd_deg(learned)
            cure = "" if turn is None or sd is None else turn.cure(sd)
            warnings = (cure,) if cure else ()
        return stream.Aligned(
            residual_deg=residual_deg,
            leverage=leverage,
            sd=sd,
            arc_deg=None if sd is None else WORKING_ARC_DEG,
            warnings=warnings,
        )

    def _dropped(self) -> list[stream.Event]:
        """Give up what has a gap in it: what lies in the gap may be what mattered."""
        if self._gathering is None:
            return []
        self._gathering = None
        self._faults.append("alignment")
        detail = "samples were missing on the way: say 'begin' and do it once more"
        return [stream.Fault(what="alignment", detail=detail)]

    def _smooth(self, sample: Sample) -> None:
        felt = sample.accel_g
        if sample.angle_deg is not None:
            turn = math.radians(sample.angle_deg)
            felt = Vector(math.cos(turn), math.sin(turn), 0.0)
        if felt is None:
            return
        if self._seen is None:
            self._seen = felt
        else:
            share = min((sample.t - self._seen_t) / SMOOTH_S, 1.0)
            self._seen = Vector(
                *(old + share * (new - old) for old, new in zip(self._seen, felt, strict=True))
            )
        self._seen_t = sample.t
        if self._from is None:
            self._from = self._seen

    def _swept(self) -> float:
        """Give how far the box has turned since the beginning, without sense, to 180 degrees."""
        if self._seen is None or self._from is None:
            return 0.0
        dot = sum(a * b for a, b in zip(self._seen, self._from, strict=True))
        sizes = math.hypot(*self._seen) * math.hypot(*self._from)
        return math.degrees(math.acos(min(max(dot / sizes, -1.0), 1.0))) if sizes else 0.0


_LEFT = "nothing was learned: it was left before 'end'"
