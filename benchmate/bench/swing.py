"""Learning how the sensor sits: one swing of the arm between "begin" and "end"."""

import math
from collections.abc import Callable

from benchmate import stream
from benchmate.bench.inputs import Asked, Back, Lost, Notice, Wrong
from benchmate.sensing.mount import Mount, Swing
from benchmate.sensing.sample import FaultKind, Sample, SensorFault, Vector

READING_EVERY_S = 1.0 / 30.0
SMOOTH_S = 0.15


class SwingSession:
    """The state of one run of ``align``: nothing begun, a swing gathering, a mount or a failure."""

    def __init__(self, new_swing: Callable[[], Swing]) -> None:
        self.finished = False
        self.mount: Mount | None = None
        self._new_swing = new_swing
        self._swing: Swing | None = None
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
                self._swing = self._new_swing()
                self._from = self._seen
            case Asked(_, stream.Command("end")):
                said = self._end()
            case Wrong(_, detail):
                said = [stream.Fault(what="command", detail=detail)]
            case _:
                self.finished = True
        return said

    def _sample(self, sample: Sample) -> list[stream.Event]:
        self._smooth(sample)
        events: list[stream.Event] = []
        if self._swing is not None:
            try:
                self._swing.see(sample)
            except SensorFault as fault:
                self._swing = None
                events.append(stream.Fault(what=fault.what, detail=fault.detail))
        if sample.t - self._told >= READING_EVERY_S:
            self._told = sample.t
            events.append(
                stream.Reading(
                    t=sample.t,
                    arm=self._swept(),
                    rate=None,
                    sd=None,
                    to_go=None,
                    phase="zeroing",
                    cue="wait",
                )
            )
        return events

    def _end(self) -> list[stream.Event]:
        if self._swing is None:
            return [stream.Fault(what="command", detail="'end' is for a swing; 'begin' one first")]
        self.finished = True
        try:
            self.mount = self._swing.end()
        except SensorFault as fault:
            return [stream.Fault(what=fault.what, detail=fault.detail)]
        return [stream.Aligned(residual_deg=self.mount.residual_deg, leverage=self.mount.leverage)]

    def _dropped(self) -> list[stream.Event]:
        """Give up a swing with a gap in it: what lies in the gap may be the turning point."""
        if self._swing is None:
            return []
        self._swing = None
        detail = "samples were missing in the swing: say 'begin' and swing again"
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
        """Give how far the box has turned since the swing began, without sense, to 180 degrees."""
        if self._seen is None or self._from is None:
            return 0.0
        dot = sum(a * b for a, b in zip(self._seen, self._from, strict=True))
        sizes = math.hypot(*self._seen) * math.hypot(*self._from)
        return math.degrees(math.acos(min(max(dot / sizes, -1.0), 1.0))) if sizes else 0.0
