"""Whether samples can be believed: saturated, knocked, magnet gone, wrong rate.

Pure: what is told depends on the samples seen alone.
"""

import math

from benchmate.sensing.calibration.error_model import Calibration, from_factory
from benchmate.sensing.calibration.static_intervals import static_gyro_mean, static_mean
from benchmate.sensing.chips.driver import ChipFacts
from benchmate.sensing.health.gravity_norm import SURELY, WARMED_C, GravityNormMonitor
from benchmate.sensing.health.mount_shift import MountShiftDetector
from benchmate.sensing.health.sample_rate import RateDeviation, SampleRateMonitor
from benchmate.sensing.mount.alignment import Mount
from benchmate.sensing.reach import ANY_REACH, Reach, shown_arm_deg
from benchmate.sensing.sample import Sample, SensorFault, Vector

SATURATED_S = 0.1
BEYOND_S = 0.1
"""A lone broken transfer, or a jolt, shows any direction for less."""
MOST_DPS = 200.0
"""No hand swings an arm as fast: one such sample is a broken transfer, and moves the angle."""
CLEAR_S = 0.5
WINDOW_S = 0.25
AGC_MOVED = 10


class HealthMonitor:
    """Watches one chip's samples; a fault stands until 0.5 s of good data have passed.

    With the mount the direction of gravity out of the swing plane is watched as well: it moves
    when the box is knocked and not when the arm swings. With the calibration gravity's length is
    held to what it has left, without it to what chips come with. A direction that lies outside of
    what the arm can ``reach`` is a fault.
    """

    def __init__(
        self,
        facts: ChipFacts,
        mount: Mount | None = None,
        calibration: Calibration | None = None,
        reach: Reach = ANY_REACH,
    ) -> None:
        self._facts = facts
        self._reach = reach
        self._known = from_factory(facts) if calibration is None else calibration
        self._mount = mount
        self._length = GravityNormMonitor(facts, calibration)
        self._astray = False
        """The last standstill found gravity wrong: while the arm moves nothing can right that."""
        self._fault: SensorFault | None = None
        self._slow: SensorFault | None = None
        self._bad_at = -math.inf
        self._agc = None if calibration is None else calibration.agc
        self._agc_is_kept = self._agc is not None
        self._last: Sample | None = None
        self._begin()

    @property
    def clears(self) -> bool:
        """Tell whether no fault stands: the last bad sample is 0.5 s of good ones ago."""
        return self._fault is None

    def see(self, sample: Sample) -> SensorFault | None:
        """Judge one sample; give the fault that stands now, None when the sample is good.

        Samples count as good only while this gives None: within 0.5 s of a fault they don't.
        """
        if self._last is not None and sample.t - self._last.t > CLEAR_S:
            self._begin()
        found = self._judge(sample)
        self._last = sample
        if found is not None:
            self.fail(found, sample.t)
        elif self._astray:
            self._bad_at = sample.t
        elif sample.t - self._bad_at >= CLEAR_S:
            self._fault = None
        return self._fault

    def finds_good(self, sample: Sample) -> bool:
        """Tell whether this very sample is good, whatever still stands of before."""
        return sample.t > self._bad_at

    def fail(self, fault: SensorFault, t: float) -> None:
        """Take in a fault found elsewhere (the bus, the settings); it stands as its own do."""
        self._bad_at = t
        self._fault = fault

    def started(self, t: float) -> None:
        """Take in that the chip was set up again: good data count from here."""
        self._pace.pause()
        if self._fault is not None:
            self._bad_at = t

    def late(self) -> None:
        """Take in that the reader was late: the time since the last sample is not the chip's."""
        self._pace.late()

    def _begin(self) -> None:
        self._last = None
        self._saturated_since: float | None = None
        self._beyond_since: float | None = None
        self._window: list[Sample] = []
        self._pace = SampleRateMonitor(self._facts.rate_hz)
        self._knock = MountShiftDetector()

    def _judge(self, sample: Sample) -> SensorFault | None:
        self._knock.see(sample)
        return (
            self._not_finite(sample)
            or self._too_fast(sample)
            or self._saturated(sample)
            or self._magnet(sample)
            or self._beyond_reach(sample)
            or self._off_gravity(sample)
            or self._off_rate(sample)
        )

    def _not_finite(self, sample: Sample) -> SensorFault | None:
        values = [sample.angle_deg or 0.0, *(sample.accel_g or ()), *(sample.gyro_dps or ())]
        if all(math.isfinite(value) for value in values):
            return None
        return self._told("gives values that are no numbers: check cable and supply")

    def _too_fast(self, sample: Sample) -> SensorFault | None:
        if self._mount is None or sample.gyro_dps is None:
            return None
        fastest = max(map(abs, sample.gyro_dps))
        if fastest <= MOST_DPS:
            return None
        return self._told(
            f"shows the arm turning by {fastest:.0f} degrees a second, which no hand does: check "
            "cable and supply"
        )

    def _saturated(self, sample: Sample) -> SensorFault | None:
        if not sample.saturated:
            self._saturated_since = None
            return None
        if self._saturated_since is None:
            self._saturated_since = sample.t
        if sample.t - self._saturated_since < SATURATED_S:
            return None
        return self._told(
            "stands at its end stop: strike the bender less hard, or replace the chip"
        )

    def _beyond_reach(self, sample: Sample) -> SensorFault | None:
        if self._mount is None or self._reach.is_whole_turn:
            return None
        shown_deg = shown_arm_deg(sample, self._mount, self._known)
        if shown_deg is None:
            return None
        arm_deg = self._reach.unwrap(shown_deg, 0.0)
        if self._reach.holds(arm_deg):
            self._beyond_since = None
            return None
        if self._beyond_since is None:
            self._beyond_since = sample.t
        if sample.t - self._beyond_since < BEYOND_S:
            return None
        least, most = self._reach
        return self._told(
            f"shows the arm at {arm_deg:.0f} deg, where it can't stand ({least:.0f} to {most:.0f} "
            "deg): see whether its box or magnet has slipped, then align again"
        )

    def _magnet(self, sample: Sample) -> SensorFault | None:
        if sample.magnet == "lost":
            return self._told("sees no magnet: set it 0.5 to 3 mm over the chip's middle")
        if sample.agc is None:
            return None
        if self._agc is None:
            self._agc = (sample.agc, sample.agc)
        least, most = self._agc
        if least - AGC_MOVED <= sample.agc <= most + AGC_MOVED:
            return None
        since = "when it was calibrated" if self._agc_is_kept else "at the start"
        return self._told(
            f"sees another field than {since}: its magnet has moved; fasten it, then run benchmate "
            "align --turn, then align"
        )

    def _off_gravity(self, sample: Sample) -> SensorFault | None:
        if sample.accel_g is None or sample.saturated:
            return None
        self._window.append(sample)
        if sample.t - self._window[0].t < WINDOW_S:
            return None
        window, self._window = self._window, []
        mean = static_mean(window, self._facts)
        if mean is None:
            self._length.moved()
            return None
        found = (
            self._off_length(window, mean)
            or self._out_of_plane(mean)
            or self._knocked_round(window, mean)
        )
        self._astray = found is not None
        return found

    def _off_length(self, window: list[Sample], mean: Vector) -> SensorFault | None:
        last = window[-1]
        off = self._length.off(mean, len(window), last.t, last.temperature_c)
        return None if off is None else SensorFault("alignment", f"{self._facts.kind}: {off}")

    def _knocked_round(self, window: list[Sample], mean: Vector) -> SensorFault | None:
        gyro = static_gyro_mean(window, self._facts)
        turned = None if gyro is None else self._knock.stands(mean, gyro, window[-1].t)
        if turned is None:
            return None
        return SensorFault(
            "alignment",
            f"{self._facts.kind}: the box was knocked round by {turned:.0f} deg: clamp it tight, "
            "and measure this bend with a protractor",
        )

    def _out_of_plane(self, mean: Vector) -> SensorFault | None:
        if self._mount is None or not any(self._mount.shown_normal):
            return None
        off = self._mount.off_plane_deg(mean)
        drift = self._length.drift_g(self._mount.shown_normal, WARMED_C)
        drift_deg = math.degrees(SURELY * drift / max(self._mount.leverage, 0.1))
        if abs(off) <= math.hypot(self._mount.plane_limit_deg, drift_deg):
            return None
        return SensorFault(
            "alignment",
            f"{self._facts.kind}: the box has turned {abs(off):.1f} deg out of the plane it was "
            "aligned in: clamp it and align again",
        )

    def _off_rate(self, sample: Sample) -> SensorFault | None:
        if self._fault is not None and self._fault is not self._slow:
            # A chip that is set up again leaves a gap: that is no slow bus.
            self._pace.pause()
        off = self._pace.see(sample.t)
        if off is None:
            return None
        self._slow = self._told(
            f"gives {off.rate_hz:.0f} samples a second where {self._facts.rate_hz:.0f} were set: "
            + _rate_cure(off, self._facts.rate_hz)
        )
        return self._slow

    def _told(self, how: str) -> SensorFault:
        return SensorFault("sensor", f"{self._facts.kind} at 0x{self._facts.address:02x} {how}")


def _rate_cure(off: RateDeviation, rate_hz: float) -> str:
    if off.busy:
        return "the computer is too busy to read it; end other programs"
    if off.rate_hz > rate_hz:
        return "its clock is off; replace the chip"
    return (
        "the bus is too slow or busy, or the chip's clock is off; raise the bus's speed, lower "
        "rate in bench.yaml, or replace the chip"
    )
