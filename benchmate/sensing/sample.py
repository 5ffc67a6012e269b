"""What comes from a chip and what the estimator makes of it, as plain values."""

from typing import Literal, NamedTuple

FaultKind = Literal["sensor", "bus", "alignment"]
Magnet = Literal["good", "lost", "weak", "strong"]
MAGNET_CURES: dict[Magnet | None, str] = {
    "weak": "bring it nearer to the chip, 0.5 to 3 mm, or take a stronger one",
    "strong": "take it further from the chip, up to 3 mm",
}
"""What to do where the chip's gain is at an end of its range."""


class Vector(NamedTuple):
    """Three axes in the chip's own frame."""

    x: float
    y: float
    z: float


class Sample(NamedTuple):
    """One reading of a chip, stamped when it was taken."""

    t: float
    """Clock time [s] at which the bytes were read."""
    raw: tuple[int, ...]
    """The counts as they came; the same ones over and over mean a frozen chip."""
    accel_g: Vector | None = None
    gyro_dps: Vector | None = None
    angle_deg: float | None = None
    """An encoder's angle, 0 to 360; accelerometers give None."""
    temperature_c: float | None = None
    saturated: bool = False
    """An axis at its end stop: the value says little."""
    magnet: Magnet | None = None
    """What an encoder says of its magnet; chips without one give None."""
    agc: int | None = None
    """An encoder's field gain; it moves when the magnet does."""
    frame: "Sample | None" = None
    """What a second chip, on the frame, read last; None where there is none."""


class ArmEstimate(NamedTuple):
    """The arm as the estimator believes it to be at one instant."""

    t: float
    arm_deg: float
    """Unwrapped and > 0 while bending, from an origin of its own until zero is taken."""
    rate_dps: float
    sd_deg: float
    """One standard deviation of ``arm_deg``."""
    noise_deg: float = 0.0
    """The part of it that comes and goes within a hit: what hides a small move of the arm."""


class SensorFault(Exception):  # noqa: N818 - a fault is a trade word and an event of the stream
    """The sensor cannot be trusted now: what kind, and one line with the cause and the cure."""

    def __init__(self, what: FaultKind, detail: str) -> None:
        super().__init__(detail)
        self.what: FaultKind = what
        self.detail = detail
